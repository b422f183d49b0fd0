"""Parts found by their boxes, whichever way the tree is built, against all pairs of boxes."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from fencepost.board import boxes
from fencepost.board.boxes import Boxes, around, grown, spans
from fencepost.meeting import TooManyMeet


def parts(seed: int, count: int = 120) -> Boxes:
    """Strokes, flashes and areas, some with a reach of nothing and some that reach far."""
    rng = np.random.default_rng(seed)
    spots, ends = rng.uniform(0, 20, (count, 2)), rng.uniform(-2, 2, (count, 2))
    shapes = [
        (shapely.Point(xy), shapely.LineString([xy, xy + to]), shapely.Point(xy).buffer(0.4))[i % 3]
        for i, (xy, to) in enumerate(zip(spots, ends, strict=True))
    ]
    reach = np.where(np.arange(count) % 3 == 2, 0.0, rng.choice([0.05, 0.3, 1.7], count))
    return Boxes(np.array(shapes, dtype=object), reach)


def overlapping(left: NDArray[np.float64], right: NDArray[np.float64]) -> set[tuple[int, int]]:
    low = (left[:, None, :2] <= right[None, :, 2:]).all(axis=2)
    high = (left[:, None, 2:] >= right[None, :, :2]).all(axis=2)
    return set(zip(*(rows.tolist() for rows in np.nonzero(low & high)), strict=True))


@pytest.fixture(params=["a box each", "geometry alone"], autouse=True)
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(boxes, "MANY", 0 if request.param == "geometry alone" else 10_000)


@pytest.mark.parametrize("seed", range(4))
def test_what_is_found_is_what_boxes_meet(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(boxes, "ASKED", 17)
    own, asked = parts(seed), parts(seed + 100, 50)
    expected = overlapping(asked.bounds, own.bounds)
    assert expected
    windows = shapely.box(*asked.bounds.T)
    assert set(zip(*own.query(windows).tolist(), strict=True)) == expected
    assert set(own.query(windows[3]).tolist()) == {part for window, part in expected if window == 3}
    window, part = own.meeting(asked.bounds, len(expected))
    assert set(zip(window.tolist(), part.tolist(), strict=True)) == expected
    assert (np.diff(window) >= 0).all()


@pytest.mark.parametrize("seed", range(4))
def test_each_pair_comes_once_the_lesser_part_first(seed: int) -> None:
    own = parts(seed)
    near = grown(own.bounds, 0.25)
    expected = {(i, j) for i, j in overlapping(near, own.bounds) if i < j}
    pairs = list(zip(*(rows.tolist() for rows in own.meeting_one_another(0.25, len(expected))), strict=True))
    assert len(pairs) == len(set(pairs))
    assert set(pairs) == expected


def test_more_pairs_than_are_allowed_are_refused_before_they_are_made() -> None:
    own = parts(1)
    pairs = len(own.meeting_one_another(0.0, 10**6)[0])
    with pytest.raises(TooManyMeet, match="more than 5 pairs"):
        own.meeting_one_another(0.0, 5)
    with pytest.raises(TooManyMeet):
        own.meeting_one_another(0.0, pairs - 1)


@pytest.mark.parametrize("seed", range(4))
def test_a_tree_of_diagonals_is_one_of_boxes(seed: int) -> None:
    """And what is empty is near nothing in either."""
    bounds, asked = parts(seed).bounds, parts(seed + 100, 50).bounds
    bounds[::7] = asked[::7] = np.nan
    bounds[1, 2:] = bounds[1, :2]
    by_boxes = shapely.STRtree(around(bounds, 0.1)).query(around(asked, 0.2))
    by_spans = shapely.STRtree(spans(bounds, 0.1)).query(spans(asked, 0.2))
    assert by_spans.tolist() == by_boxes.tolist() and len(by_boxes[0])
