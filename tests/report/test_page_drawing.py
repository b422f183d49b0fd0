"""The drawing of a board: read back from its path data, its copper is the board's, to the stated tolerance.

Path data is read by a reader of the test's own, after SVG 1.1, section 8.3.
"""

from __future__ import annotations

import pickle
import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from boards import board_from
from fencepost.board.model import Board, NetKind
from fencepost.report.page.drawing import TOLERANCE_MM, Drawing, Ink, drawing_of
from fencepost.report.page.palette import DARK, LIGHT, ramp
from fencepost.report.page.paths import STEP_MM, areas_of, path_of, strokes_of

TIDE = Path(__file__).parents[2] / "fixtures" / "tide-gauge" / "fab"


def chains(path: str) -> list[np.ndarray]:
    """The subpaths of path data with the commands M, l, h and z, as corners in mm."""
    found = []
    for part in path.split("M")[1:]:
        start, _, rest = re.sub(r"[zh].*", "", part).partition("l")
        steps = [[int(number) for number in re.findall(r"-?\d+", text)] for text in (start, rest)]
        points = np.array([steps[0], *np.array(steps[1]).reshape(-1, 2)])
        found.append(np.cumsum(points, axis=0) * STEP_MM)
    return found


@pytest.fixture(scope="module")
def tide() -> Board:
    return board_from({file.name: file.read_bytes() for file in TIDE.iterdir()}, '[nets]\nground = ["GND"]')


@pytest.fixture(scope="module")
def drawn(tide: Board) -> Drawing:
    return drawing_of(tide)


def test_the_drawn_copper_is_the_boards_copper(tide: Board, drawn: Drawing) -> None:
    """Point for point, from the path data alone, but for points closer to an edge than outlines may be off.

    A point is filled where the rings around it do not cancel out (nonzero rule, SVG 1.1, section 11.3), and where it
    is within half a width of a line.
    """
    slack = 2 * (TOLERANCE_MM + STEP_MM)
    spots = np.random.default_rng(7).uniform((0, 0), (60, 40), (20_000, 2))
    points = shapely.points(spots)
    tree = shapely.STRtree(points)
    for sheet in drawn.sheets:
        copper = tide.copper[sheet.layer - 1]
        kinds = np.array([net.kind is sheet.kind for net in tide.nets])
        exact = shapely.union_all(copper.outlines(np.flatnonzero(kinds[tide.pieces.net[copper.piece]])))
        shapely.prepare(exact)
        winding = np.zeros(len(spots), dtype=int)
        rings = np.array([shapely.Polygon(chain) for chain in chains(areas_of(sheet.ink, (0.0, 0.0)))], dtype=object)
        if len(rings):
            turn = np.where(shapely.is_ccw(shapely.get_exterior_ring(rings)), 1, -1)
            ring, inside = tree.query(rings, "contains")
            np.add.at(winding, inside, turn[ring])
        filled = winding != 0
        for width, path in strokes_of(sheet.ink, (0.0, 0.0)):
            lines = [shapely.LineString(chain) if len(chain) > 1 else shapely.Point(chain[0]) for chain in chains(path)]
            filled[tree.query(lines, "dwithin", distance=width / 2000)[1]] = True
        clear = ~shapely.dwithin(points, shapely.boundary(exact), slack)
        assert clear.mean() > 0.5
        assert (filled == shapely.contains_xy(exact, spots))[clear].all()


def test_every_layer_kind_and_hole_is_there(tide: Board, drawn: Drawing) -> None:
    assert {(sheet.layer, sheet.kind) for sheet in drawn.sheets} >= {
        (layer, kind) for layer in (1, 4) for kind in NetKind
    }
    assert len(drawn.holes.width) == len(tide.holes)
    assert drawn.layers == 4


def test_a_drawing_travels_between_processes(drawn: Drawing) -> None:
    other = pickle.loads(pickle.dumps(drawn))
    assert [areas_of(sheet.ink, drawn.box[:2]) for sheet in other.sheets] == [
        areas_of(sheet.ink, drawn.box[:2]) for sheet in drawn.sheets
    ]


@given(st.lists(st.tuples(st.integers(-500, 500), st.integers(-500, 500)), min_size=2, max_size=8, unique=True))
def test_lines_on_the_grid_come_back_as_they_were(points: list[tuple[int, int]]) -> None:
    line = np.array(points) * STEP_MM
    path = path_of(np.array([shapely.LineString(line)], dtype=object), (0.0, 0.0))
    assert chains(path)[0] == pytest.approx(line)


def test_a_point_becomes_the_shortest_line_there_is() -> None:
    """SVG draws a cap for a line of no length, a canvas does not."""
    assert path_of(np.array([shapely.Point(1, 2)], dtype=object), (0.0, 0.0)) == "M100 200h1"


def test_a_ring_too_small_for_the_grid_is_left_out() -> None:
    tiny = shapely.box(1, 1, 1.001, 1.001)
    assert path_of(np.array([tiny], dtype=object), (0.0, 0.0)) == ""


def test_copper_along_a_line_is_what_a_hand_would_measure() -> None:
    """A bar from 2 to 3 mm, a track of 0.4 mm across at 5 mm, another that overlaps it by half."""
    tracks = [shapely.LineString([(x, -1), (x, 1)]) for x in (5, 5.2)]
    shapes = [shapely.box(2, -1, 3, 1), *tracks]
    ink = Ink(np.array(shapes, dtype=object), np.array([0.0, 0.4, 0.4]))
    found = ink.along(shapely.LineString([(0, 0), (10, 0)]))
    assert np.array(found) == pytest.approx(np.array([[2, 3], [4.8, 5.4]]), abs=1e-6)
    assert ink.along(shapely.LineString([(0, 3), (10, 3)])) == []


def _luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.1)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("stops", [LIGHT, DARK])
def test_layers_are_told_apart_by_lightness_alone(stops: tuple[tuple[int, int, int], ...]) -> None:
    """As by a reader who sees no hues: each layer is darker than the one above it."""
    for count in (2, 4, 6, 10):
        light = [_luminance(colour) for colour in ramp(stops, count)]
        assert all(above > below for above, below in pairwise(light))
