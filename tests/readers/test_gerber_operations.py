"""Coordinates, operation codes, modes, set-up and the deprecated forms of them.

Sections of The Gerber Layer Format Specification, Ucamco, 2024.05, are from memory: 4.1 and 4.2 set-up, 4.8 operations,
8.2 deprecated commands. The formats with trailing zeros left out and in increments are those of its earlier revisions.
"""

from __future__ import annotations

import pytest

from fencepost.readers.artwork import Kind
from fencepost.readers.gerber import read_gerber
from fencepost.source import SourceFile
from readers.gerber_image import MM, read

SQUARES = """G04 Two square boxes*
%FSLAX26Y26*%
%MOMM*%
%TF.Part,Other,example*%
%LPD*%
%ADD10C,0.010*%
D10*
X0Y0D02*
G01*
X5000000Y0D01*
Y5000000D01*
X0D01*
Y0D01*
X6000000D02*
X11000000D01*
Y5000000D01*
X6000000D01*
Y0D01*
M02*
"""
"""The first example of the specification (2.11)."""

BOX = [(5, 0), (5, 5), (0, 5), (0, 0)]


def paths(body: str, header: str = "%FSLAX33Y33*%%MOMM*%") -> list[list[list[float]]]:
    """The points of every stroke, drawn with a disc."""
    artwork = read(f"%ADD10C,0.1*%D10*{body}", header)
    assert set(artwork.kind.tolist()) <= {Kind.STROKE}
    return [artwork.points(row).tolist() for row in range(len(artwork))]


def test_two_square_boxes() -> None:
    """Eight strokes, with coordinates that hold over from the operation before, each at its own place in the file."""
    artwork = read_gerber(SourceFile("squares.gbr", SQUARES.encode()))
    assert artwork.kind.tolist() == [Kind.STROKE] * 8
    ends = [tuple(artwork.points(row)[1]) for row in range(8)]
    assert ends == [*BOX, *[(x + 6, y) for x, y in BOX]]
    assert [artwork.points(row)[0].tolist() for row in (0, 4)] == [[0, 0], [6, 0]]
    assert [str(artwork.location(row)) for row in (0, 4)] == ["squares.gbr:10:1", "squares.gbr:15:1"]
    assert artwork.attributes == {".Part": ("Other", "example")}


@pytest.mark.parametrize(
    "body",
    [
        "X1000Y2000D02*X3000D01*Y4000D01*",
        "G01*X1000Y2000D02*G01X3000D01*G01Y4000D01*",
        "G1X1000Y2000D2*X3000D1*Y4000D1*",
        "X001000Y+2000D02*X3000Y2000D01*X3000Y4000D001*",
        # The deprecated operation without a code, after D01.
        "X1000Y2000D02*X3000D01*Y4000*",
        "X1000Y2000D02*X3000D01*G01*G04 still*Y4000*",
        # Line ends between commands and words.
        "X1000Y2000D02*\r\n\r\nX3000\nD01*\n\nY4000D01\n*\n",
        # An operation of a code alone.
        "X1000Y2000D02*X3000D02*X1000D02*X3000D01*Y4000D02*Y2000D02*Y4000D01*",
        # The deprecated G54 before an aperture; I and J of nothing.
        "G54D10*X1000Y2000D02*X3000D01*Y4000I0J0D01*",
        "G54*D10*X1000Y2000D02*X3000D01*M01*Y4000D01*",
        "G90*G71*X1000Y2000D02*X3000D01*Y4000D01*",
        "G71G01X1000Y2000D02*X3000D01*Y4000D01*",
    ],
)
def test_forms_of_one_path(body: str) -> None:
    """However it is written, the same two strokes."""
    assert paths(body) == [[[1, 2], [3, 2]], [[3, 2], [3, 4]]]


@pytest.mark.parametrize(
    ("body", "point"),
    [
        ("X1000Y2000D03*", [1, 2]),
        ("X1000Y2000D02*D03*", [1, 2]),
        ("X1000Y2000D02*D03*D02*", [1, 2]),
        ("Y2000D02*X1000D03*", [1, 2]),
        ("G55X1000Y2000D03*", [1, 2]),
        ("X-1000Y+2000D3*", [-1, 2]),
        # Before the first operation the current point is the origin, as earlier revisions say.
        ("D03*", [0, 0]),
    ],
)
def test_forms_of_one_flash(body: str, point: list[float]) -> None:
    """Flashes, with modal coordinates and without any."""
    artwork = read(f"%ADD10C,0.1*%D10*{body}", "%FSLAX33Y33*%%MOMM*%")
    assert artwork.kind.tolist() == [Kind.FLASH]
    assert artwork.points(0).tolist() == [point]


def test_a_stroke_of_no_length_is_kept() -> None:
    """A draw from a point to itself covers a disc (4.8.2)."""
    assert paths("X1000Y2000D02*D01*X1000Y2000D01*") == [[[1, 2], [1, 2]]] * 2


@pytest.mark.parametrize(
    ("header", "x", "y", "millimetres"),
    [
        ("%FSLAX26Y26*%%MOMM*%", "1500000", "-250000", (1.5, -0.25)),
        ("%FSLAX46Y46*%%MOMM*%", "1234567891", "1", (1234.567891, 1e-6)),
        ("%FSLAX25Y25*%%MOIN*%", "100000", "50000", (25.4, 12.7)),
        ("%FSLAX24Y24*%\n%MOIN*%", "10000", "-5000", (25.4, -12.7)),
        # x and y that differ, deprecated.
        ("%FSLAX24Y33*%%MOMM*%", "15000", "1500", (1.5, 1.5)),
        # Trailing zeros left out, deprecated.
        ("%FSTAX24Y24*%%MOMM*%", "015", "-0025", (1.5, -0.25)),
        ("%FSTAX24Y24*%%MOMM*%", "015000", "1", (1.5, 10)),
        # In increments, deprecated.
        ("%FSLIX33Y33*%%MOMM*%", "1500", "-250", (1.5, -0.25)),
        # Lengths of codes, and several commands between two %, deprecated.
        ("%FSLAN2X24Y24*%%MOMM*%", "15000", "0", (1.5, 0)),
        ("%FSLAX24Y24*MOIN*%", "10000", "0", (25.4, 0)),
        ("%FSLAX24Y24D2M2*MOIN*%", "10000", "0", (25.4, 0)),
        # G70 and G71 in the place of MO, deprecated.
        ("%FSLAX24Y24*%G70*", "10000", "0", (25.4, 0)),
        ("%FSLAX24Y24*%G71*", "10000", "0", (1, 0)),
        ("%FSLAX24Y24*%%MOMM*%G71*G90*", "10000", "0", (1, 0)),
        ("%MOMM*%%FSLAX24Y24*%%FSLAX24Y24*%%MOMM*%", "10000", "0", (1, 0)),
    ],
)
def test_coordinate_formats(header: str, x: str, y: str, millimetres: tuple[float, float]) -> None:
    """Digits, unit and zeros left out, as FS and MO say (4.1, 4.2)."""
    artwork = read(f"%ADD10C,0.1*%D10*X{x}Y{y}D03*", header)
    assert artwork.points(0)[0] == pytest.approx(millimetres, abs=1e-12)


def test_increments_add_up() -> None:
    """In the deprecated incremental notation an omitted coordinate is a step of 0."""
    moves = "X1000Y2000D02*X500D01*Y-500D01*X-500Y500D01*"
    assert paths(moves, "%FSLIX33Y33*%%MOMM*%G91*") == [
        [[1, 2], [1.5, 2]],
        [[1.5, 2], [1.5, 1.5]],
        [[1.5, 1.5], [1, 2]],
    ]


@pytest.mark.parametrize(
    "neutral",
    [
        "%IPPOS*%", "%ASAXBY*%", "%MIA0B0*%", "%MIA0*%", "%OFA0B0*%", "%OFA0.0B-0.00*%", "%SFA1B1*%", "%SFA1.000*%",
        "%SF*%", "%IR0*%", "%INsome name*%", "%LNa layer, 50+*%", "%SRX1Y1I0J0*%", "%SR*%", "%LMN*%%LR0*%%LS1*%",
        "G04 100% of *", "G04*", "G4 a*", "M01*", "G54*", "*\n**",
    ],
)  # fmt: skip
def test_commands_without_effect(neutral: str) -> None:
    """Names, comments and deprecated commands whose values change nothing are passed over (8.2)."""
    assert read(f"{neutral}%ADD10C,1*%D10*X1000000Y2000000D03*", MM).points(0).tolist() == [[1, 2]]


@pytest.mark.parametrize("end", ["M02*", "M2*", "M00*", "M0*\r\n", "M02*\nG04 a comment is no data*\n"])
def test_ends_of_a_file(end: str) -> None:
    """M02, and M00, which is deprecated and means the same (8.2)."""
    assert len(read_gerber(SourceFile("end.gbr", f"{MM}%ADD10C,1*%D10*D03*{end}".encode()))) == 1


def test_a_file_without_objects() -> None:
    """A layer with nothing on it is a whole file."""
    artwork = read("%TF.FileFunction,Copper,L2,Inr*%")
    assert len(artwork) == 0
    assert artwork.xy.shape == (0, 2)
    assert artwork.first.tolist() == [0]
    assert artwork.attributes == {".FileFunction": ("Copper", "L2", "Inr")}


def test_columns_fit_together() -> None:
    """Every column has its type and length as `Artwork` states them."""
    body = "D10*X0Y0D02*X1Y1D01*X2Y2D03*G36*X0Y0D02*X5D01*Y5D01*X0Y0D01*G37*"
    artwork = read(f"%ADD10C,1*%{body}")
    types = {
        "kind": "uint8", "dark": "bool", "first": "int64", "xy": "float64", "tool": "int32", "net": "int32",
        "pin": "int32", "component": "int32", "function": "int32", "offset": "int64",
    }  # fmt: skip
    assert {name: str(getattr(artwork, name).dtype) for name in types} == types
    assert {name: len(getattr(artwork, name)) for name in types if name not in ("xy", "first")} == dict.fromkeys(
        [name for name in types if name not in ("xy", "first")], 3
    )
    assert artwork.first.tolist() == [0, 2, 3, 6]
    assert artwork.xy.shape == (6, 2)
