"""Copper after polarity: areas by hand, and the feature that each part belongs to."""

import math

import numpy as np
import pytest
import shapely

from drawing import Drawing, box_tool, round_tool
from fencepost.board.parts import LONGEST_CHAIN, parts_of

SQUARE = [(0, 0), (10, 0), (10, 10), (0, 10)]


def area(drawing: Drawing) -> float:
    return shapely.union_all(parts_of(drawing.artwork()).outlines).area


@pytest.mark.parametrize(
    ("drawing", "expected"),
    [
        pytest.param(Drawing().fill(SQUARE), 100, id="fill"),
        pytest.param(Drawing().fill([*SQUARE, (0, 0)]), 100, id="fill whose last point repeats the first"),
        pytest.param(Drawing().stroke([(0, 0), (10, 0)], 2), 20 + math.pi, id="stroke with round ends"),
        pytest.param(Drawing().stroke([(0, 0), (0, 0)], 2), math.pi, id="stroke of no length is a disc"),
        pytest.param(Drawing().flash(3, 4, box_tool(2, 1)), 2, id="flash of a rectangle"),
        pytest.param(Drawing().stroke([(0, 0), (10, 0)], tool=box_tool(2, 1)), 12, id="rectangle swept along"),
        pytest.param(
            Drawing().stroke([(0, 0), (10, 10)], tool=box_tool(2, 2)), 4 + 10 * 2 * 2, id="square swept at 45 degrees"
        ),
        pytest.param(
            Drawing().fill(SQUARE).fill([(2, 2), (8, 2), (8, 8), (2, 8)], dark=False), 64, id="hole by a clear fill"
        ),
        pytest.param(
            Drawing().fill([(2, 2), (8, 2), (8, 8), (2, 8)], dark=False).fill(SQUARE), 100, id="clear comes too early"
        ),
        pytest.param(
            Drawing()
            .fill(SQUARE)
            .fill([(2, 2), (8, 2), (8, 8), (2, 8)], dark=False)
            .fill([(4, 4), (6, 4), (6, 6), (4, 6)]),
            68,
            id="dark again within the clear",
        ),
        pytest.param(
            Drawing().fill(
                [(0, 0), (10, 0), (10, 10), (0, 10), (0, 5), (3, 5), (3, 7), (6, 7), (6, 3), (3, 3), (3, 5), (0, 5)]
            ),
            100 - 12,
            id="cut-in: a contour with a hole reached over a double edge",
        ),
        pytest.param(Drawing().fill([(0, 0), (10, 10), (10, 0), (0, 10)]), 50, id="a contour that crosses itself"),
        pytest.param(
            Drawing().fill([(0, 0), (10, 10), (10, 0), (0, 6)]), 0.5 * 10 * 6.25 + 0.5 * 6 * 3.75, id="uneven lobes"
        ),
        pytest.param(Drawing().fill([(0, 0), (10, 0)]), 0, id="fill of two points has no area"),
        pytest.param(Drawing().fill([(0, 0), (5, 0), (10, 0)]), 0, id="fill on a line has no area"),
    ],
)
def test_area(drawing: Drawing, expected: float) -> None:
    assert area(drawing) == pytest.approx(expected, rel=1e-3, abs=1e-9)


def test_strokes_that_go_on_become_one_part_and_others_do_not() -> None:
    drawing = (
        Drawing()
        .stroke([(0, 0), (1, 0), (2, 0)], net="A")
        .stroke([(2, 0), (3, 0)], net="B")
        .stroke([(9, 0), (10, 0)], net="B")
        .stroke([(10, 0), (11, 0)], width=0.5, net="B")
    )
    parts = parts_of(drawing.artwork())
    assert list(zip(parts.feature.tolist(), parts.last.tolist(), strict=True)) == [(0, 1), (2, 2), (3, 3), (4, 4)]


def test_long_chains_are_divided_and_lose_nothing() -> None:
    points = [(0.1 * i, 0) for i in range(3 * LONGEST_CHAIN + 5)]
    tool = round_tool(0.2)
    drawing = Drawing().stroke(points, tool=tool)
    parts = parts_of(drawing.artwork())
    covered = np.concatenate([np.arange(a, b + 1) for a, b in zip(parts.feature, parts.last, strict=True)])
    assert (parts.last - parts.feature).max() < LONGEST_CHAIN
    assert covered.tolist() == list(range(len(points) - 1))
    assert shapely.length(parts.geometry).sum() == pytest.approx(0.1 * (len(points) - 1))


def test_a_clear_cuts_a_stroke_in_two_parts_of_the_same_feature() -> None:
    drawing = Drawing().stroke([(0, 0), (10, 0)], 1).fill([(4, -2), (6, -2), (6, 2), (4, 2)], dark=False)
    parts = parts_of(drawing.artwork())
    assert parts.feature.tolist() == [0, 0]
    assert parts.outlines[0].distance(parts.outlines[1]) == pytest.approx(2)


def test_clears_leave_what_they_do_not_meet_as_it_was() -> None:
    drawing = Drawing().stroke([(0, 0), (10, 0)], 1).flash(50, 50, round_tool(2), dark=False)
    parts = parts_of(drawing.artwork())
    assert parts.reach.tolist() == [0.5]
    assert isinstance(parts.geometry[0], shapely.LineString)
