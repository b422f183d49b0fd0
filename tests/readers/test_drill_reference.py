"""Our drill reader against gerbonara, which reads and writes Excellon independently of it."""

from __future__ import annotations

import math
import warnings
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from gerbonara.apertures import ExcellonTool
from gerbonara.cam import FileSettings
from gerbonara.excellon import ExcellonFile
from gerbonara.graphic_objects import Arc, Flash, Line
from gerbonara.utils import MM, Inch
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fencepost.readers.drill.excellon import read_drill
from fencepost.source import SourceFile
from readers.test_drill_dialects import DIALECTS

BOARD = Path(__file__).parents[3] / "shared" / "boards" / "six-layer-computer"

# What gerbonara does not take, or takes for something else than its publisher's format says.
NOT_READ_BY_GERBONARA = {
    "the digits before the zeros",
    "format in a comment, leading zeros left out",
    "format in a comment, trailing zeros left out",
    "format in a comment, all zeros kept",
    "incremental by G91",
    "incremental, said in a comment",
    "a byte order mark",
    "blanks, empty lines and comments",
    "tools with two digits and machine parameters",
    "tools defined where they are used",
    "tool sizes in comments of another form",
    "a zero without a point among numbers with one",
}


def ours(data: bytes) -> np.ndarray:
    """Start, end and diameter of every hit in the order of the file, (n, 5)."""
    hits = read_drill(SourceFile("a.drl", data))
    return np.column_stack([hits.start, hits.end, hits.diameter])


def theirs(text: str) -> np.ndarray:
    """The same from gerbonara."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        file = ExcellonFile.from_string(text)
    rows = []
    for thing in file.objects:
        ends = (thing.x, thing.y) * 2 if isinstance(thing, Flash) else (thing.x1, thing.y1, thing.x2, thing.y2)
        rows.append([MM(value, thing.unit) for value in ends] + [thing.tool.equivalent_width(MM)])
    return np.array(rows, dtype=float).reshape(-1, 5)


@pytest.mark.parametrize("name", [name for name in DIALECTS if name not in NOT_READ_BY_GERBONARA])
def test_dialects_that_gerbonara_reads(name: str) -> None:
    np.testing.assert_allclose(ours(DIALECTS[name].encode()), theirs(DIALECTS[name]), atol=1e-9)


@pytest.mark.skipif(not BOARD.is_dir(), reason="the reference board is not beside the repository")
def test_the_drill_files_of_a_real_board() -> None:
    """1,248 round plated holes, as the board's own note counts them, and every hit where gerbonara sees it."""
    round_and_plated = 0
    files = sorted(BOARD.glob("*.drl"))
    assert len(files) == 2
    for path in files:
        rows = ours(path.read_bytes())
        expected = theirs(path.read_text())
        np.testing.assert_allclose(rows, expected, atol=1e-9)
        hits = read_drill(SourceFile(path.name, path.read_bytes()))
        if hits.attributes[".FileFunction"] == ("Plated", "1", "6", "PTH"):
            round_and_plated += int((hits.start == hits.end).all(axis=1).sum())
    assert round_and_plated == 1248


coordinate = st.integers(-300_000, 300_000).map(lambda step: step / 1000)
size = st.integers(10, 400).map(lambda step: step / 100)
point = st.tuples(coordinate, coordinate)
hole = st.tuples(st.just("hole"), point, point, size)
slot = st.tuples(st.just("slot"), point, point, size).filter(lambda thing: thing[1] != thing[2])


@settings(deadline=None)
@given(st.lists(hole | slot, min_size=1, max_size=12), st.sampled_from([MM, Inch]))
def test_what_gerbonara_writes_is_read_back(things: list[tuple], unit: object) -> None:
    """Its numbers have five decimals, in mm or in inches.

    Where a slot begins at the end of one cut with another tool it forgets M15; that is left out here.
    """
    assume(all(before[2] != after[1] for before, after in pairwise(things)))
    file = ExcellonFile()
    for kind, (x1, y1), (x2, y2), diameter in things:
        tool = ExcellonTool(diameter, plated=True, unit=unit)
        file.append(Flash(x1, y1, tool, unit=unit) if kind == "hole" else Line(x1, y1, x2, y2, tool, unit=unit))
    rows = ours(file.write_to_bytes(FileSettings(unit=unit, number_format=(4, 5))))
    scale = 1.0 if unit is MM else 25.4
    expected = [[x1, y1, *((x1, y1) if kind == "hole" else (x2, y2)), d] for kind, (x1, y1), (x2, y2), d in things]
    np.testing.assert_allclose(rows, np.array(expected) * scale, atol=1e-5 * scale)


@pytest.mark.parametrize("clockwise", [False, True])
@pytest.mark.parametrize(
    ("start", "end", "to_centre"),
    [((3, 4), (-4, 3), (-3, -4)), ((10, 0), (10, 0), (-2.5, 0)), ((1.25, -7.5), (1.25, 2.5), (0, 5))],
)
def test_arcs_that_gerbonara_writes_have_its_length(
    start: tuple[float, float], end: tuple[float, float], to_centre: tuple[float, float], clockwise: bool
) -> None:
    """Gerbonara's sweep angle times the radius, against the sum of our chords, which are a little shorter."""
    arc = Arc(*start, *end, *to_centre, clockwise, ExcellonTool(1.0, plated=True, unit=MM), unit=MM)
    rows = ours(ExcellonFile([arc]).write_to_bytes())
    length = np.hypot(*(rows[:, 2:4] - rows[:, 0:2]).T).sum()
    sweep = arc.sweep_angle() or 2 * math.pi
    assert length == pytest.approx(abs(sweep) * math.hypot(*to_centre), rel=2e-3)
