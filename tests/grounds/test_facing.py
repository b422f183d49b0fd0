"""The squares in which pieces may face one another, against the overlap of their outlines."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fencepost.grounds.facing import Grid, facing, farthest
from fencepost.grounds.sheets import Points


def random_area(rng: np.random.Generator) -> shapely.Geometry:
    area = shapely.union_all(shapely.buffer(shapely.points(rng.uniform(0, 12, (6, 2))), rng.uniform(0.3, 2.5, 6)))
    cuts = shapely.buffer(shapely.points(rng.uniform(0, 12, (4, 2))), rng.uniform(0.1, 0.8, 4))
    return shapely.difference(area, shapely.union_all(cuts))


@pytest.mark.parametrize("seed", range(20))
def test_no_overlap_is_missed(seed: int) -> None:
    """On three layers: all of what faces lies in the squares of its pair, and these hold nothing that is hidden."""
    rng = np.random.default_rng(seed)
    areas = np.array([random_area(rng) for _ in range(3)], dtype=object)
    found = {(one.upper, one.lower): one for one in facing(areas, np.array([1, 2, 4]), float(rng.uniform(0.4, 1.5)))}
    for upper, lower, between in ((0, 1, None), (1, 2, None), (0, 2, 1)):
        common = shapely.intersection(areas[upper], areas[lower])
        if between is not None:
            common = shapely.difference(common, areas[between])
        squares = found[upper, lower].region if (upper, lower) in found else shapely.Point()
        assert shapely.difference(common, squares).area < 1e-9


def test_a_whole_square_between_hides() -> None:
    """A plane between two others: the outer ones face nowhere but beside it."""
    plane, half = shapely.box(0, 0, 10, 10), shapely.box(-1, -1, 5, 11)
    areas = np.array([plane, half, plane], dtype=object)
    (pair,) = (one for one in facing(areas, np.array([1, 2, 3]), 1.0) if (one.upper, one.lower) == (0, 2))
    assert pair.grid.middle(pair.square)[:, 0].min() >= 4.0


@pytest.mark.parametrize("seed", range(5))
def test_no_place_of_a_square_is_farther_than_it_says(seed: int) -> None:
    """From the points of its own sheet, of two."""
    rng = np.random.default_rng(seed)
    grid = Grid(np.array([1.0, -2.0]), 0.7, 12, 9)
    square, sheet = rng.integers(0, grid.count, 40), rng.integers(0, 2, 40)
    points = Points(rng.uniform(0, 8, (10, 2)), np.repeat([0, 1], 5))
    corners = grid.middle(square)[:, None] + 0.35 * np.array([[-1, -1], [-1, 1], [1, -1], [1, 1]])
    away = np.hypot(*(corners[:, :, None] - points.xy).transpose(3, 0, 1, 2))
    own = (points.sheet == sheet[:, None])[:, None]
    true = np.where(own, away, np.inf).min(axis=2).max(axis=1)
    exact = farthest(grid, square, sheet, points)
    assert (true <= exact + 1e-9).all()
    enough = np.quantile(exact, [0.3, 0.6])
    rough, limit = farthest(grid, square, sheet, points, enough), enough[sheet]
    assert (true <= rough + 1e-9).all()
    assert ((rough > limit) == (exact > limit)).all()
    assert (rough[exact > limit] == exact[exact > limit]).all()


@pytest.mark.parametrize("seed", range(10))
def test_patches_are_what_squares_make_together(seed: int) -> None:
    """Against the union of the squares of each sheet, first to last row and column."""
    rng = np.random.default_rng(seed)
    grid = Grid(np.array([3.0, 4.0]), 0.5, 7, 6)
    chosen = np.flatnonzero(rng.random(3 * grid.count) < 0.6)
    square, sheet = chosen % grid.count, chosen // grid.count
    patch = grid.patches(square, sheet)
    outlines = grid.outlines(square, patch)
    owner = sheet[np.unique(patch, return_index=True)[1]]
    for one in range(3):
        low = grid.middle(square[sheet == one]) - 0.25
        expected = shapely.union_all(shapely.box(*low.T, *(low + 0.5).T))
        own = outlines[owner == one]
        assert shapely.symmetric_difference(shapely.union_all(own), expected).area < 1e-9
        assert len(own) == len(shapely.get_parts(expected))


def test_nothing_faces_nothing() -> None:
    assert list(facing(np.empty(0, dtype=object), np.empty(0, dtype=np.int32), 1.0)) == []
