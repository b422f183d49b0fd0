"""Fills drawn out at once, against the union of the fill with all of its strokes."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fencepost.grounds.outlined import outlined

CUT_IN = [(0, 0), (9, 0), (9, 9), (0, 9), (0, 0)]
HOLE = [(3, 3), (3, 6), (6, 6), (6, 3), (3, 3)]
FILL = shapely.Polygon(CUT_IN, [HOLE])


def lines(*paths) -> np.ndarray:
    return np.array([shapely.LineString(path) for path in paths], dtype=object)


@pytest.mark.parametrize(
    ("paths", "reach", "grown", "told"),
    [
        ([CUT_IN, HOLE], [0.2, 0.2], 0.2, [True, True]),
        ([CUT_IN + HOLE], [0.2], 0.2, [True]),  # one path, over a cut-in from (0, 0) to (3, 3)
        ([CUT_IN, HOLE], [0.3, 0.2], 0.2, [False, True]),  # drawn out as far as the thinner stroke goes
        ([CUT_IN[::-1], HOLE], [0.2, 0.2], 0.2, [True, True]),
        ([CUT_IN[:4], CUT_IN[3:], HOLE], [0.2] * 3, 0.2, [True] * 3),
        ([CUT_IN, HOLE, [(1, 1), (20, 1)]], [0.2] * 3, 0.2, [True, True, False]),  # a trace that leaves the fill
        ([CUT_IN], [0.2], 0.0, [False]),  # nothing along the hole
    ],
)
def test_what_a_fill_and_its_strokes_are(paths, reach, grown: float, told: list[bool]) -> None:
    """What is told by the fill drawn out is no more and no less than the union (a quarter circle of 64 chords)."""
    strokes, reach = lines(*paths), np.array(reach)
    by, whole = outlined(np.array([FILL], dtype=object), strokes, reach)
    assert by.tolist() == [grown]
    assert whole.tolist() == told
    drawn = shapely.buffer(strokes, reach, quad_segs=64)
    united = shapely.union_all([FILL, *drawn])
    quick = shapely.union_all([shapely.buffer(FILL, grown, quad_segs=64), *drawn[~whole]])
    assert shapely.symmetric_difference(united, quick).area < 1e-3
