"""One drawing written in different ways is one artwork; what is damaged is refused or read, and nothing else."""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fencepost.errors import InputError
from fencepost.readers.artwork import Artwork
from fencepost.readers.gerber import read_gerber
from fencepost.source import SourceFile

TENTH_MIL_MM = 0.00254
"""The step of the drawings: both 2.54 µm and 0.0001 inch are whole in every format used here."""

Points = list[tuple[int, int]]


@dataclasses.dataclass(frozen=True)
class Writing:
    """How a drawing is put down; coordinates in steps."""

    unit: str = "MM"
    integers: int = 4
    decimals: int = 6
    zeros: str = "L"
    shift: tuple[int, int] = (0, 0)
    between: str = "\n"
    modal: bool = False

    def number(self, steps: int) -> str:
        """A coordinate."""
        scale = 10**self.decimals * (TENTH_MIL_MM if self.unit == "MM" else 1e-4)
        text = str(round(abs(steps) * scale))
        if self.zeros == "T":
            text = text.zfill(self.integers + self.decimals).rstrip("0") or "0"
        return ("-" if steps < 0 else "") + text

    def size(self, steps: int) -> str:
        """A decimal."""
        return f"{steps * (TENTH_MIL_MM if self.unit == 'MM' else 1e-4):.6f}"

    def text(self, lines: list[Points], flashes: Points, contours: list[Points], radius: int) -> bytes:
        """A file of strokes, flashes, contours and a circle."""
        out = [f"%FS{self.zeros}AX{self.integers}{self.decimals}Y{self.integers}{self.decimals}*%", f"%MO{self.unit}*%"]
        out += [f"%ADD10C,{self.size(100)}*%", f"%ADD11R,{self.size(200)}X{self.size(300)}*%", "G75*", "D10*"]
        last: tuple[int, int] | None = None
        code = ""

        def operation(point: tuple[int, int], operation_code: str, extra: str = "") -> None:
            """One operation, with what modal writing leaves out."""
            nonlocal last, code
            x, y = point[0] + self.shift[0], point[1] + self.shift[1]
            word = "" if self.modal and last and last[0] == x else f"X{self.number(x)}"
            word += "" if self.modal and last and last[1] == y else f"Y{self.number(y)}"
            modal_code = self.modal and operation_code == code == "D01" and (word or extra)
            out.append(f"{word}{extra}{'' if modal_code else operation_code}*")
            last, code = (x, y), operation_code

        for line in lines:
            operation(line[0], "D02")
            for point in line[1:]:
                operation(point, "D01")
        out.append("D11*")
        for point in flashes:
            operation(point, "D03")
        for contour in contours:
            out.append("G36*")
            operation(contour[0], "D02")
            for point in [*contour[1:], contour[0]]:
                operation(point, "D01")
            out.append("G37*")
        out.append("D10*")
        operation((radius, 0), "D02")
        out.append("G02*")
        operation((radius, 0), "D01", f"I{self.number(-radius)}J0")
        return (self.between.join(out) + "M02*").encode()

    def read(self, drawing: tuple[list[Points], Points, list[Points], int]) -> Artwork:
        """The artwork of a drawing written this way."""
        return read_gerber(SourceFile("drawing.gbr", self.text(*drawing)))


POINT = st.tuples(st.integers(-9000, 9000), st.integers(-9000, 9000))
PATH = st.lists(POINT, min_size=2, max_size=6)
TRIANGLE = st.lists(POINT, min_size=3, max_size=6, unique=True)
DRAWING = st.tuples(
    st.lists(PATH, max_size=4), st.lists(POINT, max_size=4), st.lists(TRIANGLE, max_size=3), st.integers(10, 9000)
)
WAYS = {
    "inches": Writing(unit="IN"),
    "inches, four decimals": Writing(unit="IN", integers=2, decimals=4),
    "fewer digits": Writing(integers=3, decimals=5),
    "trailing zeros left out": Writing(zeros="T"),
    "inches, trailing zeros left out": Writing(unit="IN", zeros="T", integers=2, decimals=4),
    "moved": Writing(shift=(12345, -6789)),
    "modal": Writing(modal=True),
    "on one line": Writing(between=""),
    "lines of CR LF": Writing(between="\r\n"),
    "with a comment after each command": Writing(between="\nG04 X1Y1D01*\n"),
    "with an attribute after each command": Writing(modal=True, between="G04 nothing*"),
}


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS.keys())
@settings(max_examples=25, deadline=None)
@given(drawing=DRAWING)
def test_every_way_of_writing_is_the_same_artwork(way: Writing, drawing: tuple) -> None:
    """Unit, digits, zeros, place, modal coordinates and what stands between commands change nothing but the place."""
    plain, other = Writing().read(drawing), way.read(drawing)
    moved = np.array(way.shift) * TENTH_MIL_MM
    np.testing.assert_allclose(other.xy - moved if way.shift != (0, 0) else other.xy, plain.xy, atol=1e-9)
    for name in ("kind", "dark", "first", "tool"):
        assert getattr(other, name).tolist() == getattr(plain, name).tolist()
    assert [tool.width for tool in other.tools] == pytest.approx([tool.width for tool in plain.tools])


@settings(max_examples=50, deadline=None)
@given(drawing=DRAWING)
def test_features_are_those_drawn(drawing: tuple) -> None:
    """A stroke for each pair of points, a flash for each point, a fill for each contour, as exact as the file."""
    lines, flashes, contours, _ = drawing
    artwork = Writing().read(drawing)
    strokes = [pair for line in lines for pair in itertools.pairwise(line)]
    expected = [*strokes, *([point] for point in flashes), *contours]
    for row, points in enumerate(expected):
        np.testing.assert_allclose(artwork.points(row), np.array(points) * TENTH_MIL_MM, atol=1e-9)
    assert len(artwork) == len(expected) + 1


SAMPLE = b"""G04 #@! TF.FileFunction,Copper,L1,Top*
%FSLAX26Y26*%
%MOMM*%
%AMDONUT*1,1,$1,0,0*$2=$1x0.75*1,0,$2,0,0*%
%TA.AperFunction,ViaPad*%
%ADD10C,0.2*%
%ADD11DONUT,1.5*%
%TD*%
%ABD12*%
D11*
X0Y0D03*
%LPC*%
D10*
X0Y0D02*
X1000000Y0D01*
%LPD*%
%AB*%
%TO.N,GND\\002C1*%
G75*
D10*
X0Y0D02*
G03X1000000Y1000000I0J1000000D01*
G01*
G36*
X0Y0D02*
X5000000D01*
Y5000000D01*
X0Y0D01*
G37*
%SRX2Y3I1.5J2*%
%LR30*%
D12*
X0Y0D03*
%SR*%
M02*
"""


def test_the_sample_is_read() -> None:
    """Two features drawn, and two of the block in each of six copies."""
    assert len(read_gerber(SourceFile("sample.gbr", SAMPLE))) == 2 + 6 * 2


@settings(max_examples=150, deadline=None)
@given(length=st.integers(0, len(SAMPLE) - 3))
def test_a_file_cut_short_is_refused(length: int) -> None:
    """Wherever it is cut, the reader says so."""
    with pytest.raises(InputError):
        read_gerber(SourceFile("cut.gbr", SAMPLE[:length]))


@settings(max_examples=300, deadline=None)
@given(at=st.integers(0, len(SAMPLE) - 1), byte=st.integers(0, 255), gone=st.integers(0, 3))
def test_a_damaged_file_is_refused_or_read(at: int, byte: int, gone: int) -> None:
    """A byte in the place of a few others never ends in anything but artwork or an error with a place in the file."""
    data = SAMPLE[:at] + bytes([byte]) + SAMPLE[at + gone :]
    try:
        artwork = read_gerber(SourceFile("damaged.gbr", data))
    except InputError as error:
        assert 1 <= error.line <= data.count(b"\n") + data.count(b"\r") + 1
    else:
        assert artwork.first[-1] == len(artwork.xy)
