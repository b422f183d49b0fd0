"""The squares in which pieces may face one another, against the overlap of their outlines."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fencepost.grounds.facing import facing


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
        squares = shapely.union_all(found[upper, lower].squares) if (upper, lower) in found else shapely.Point()
        assert shapely.difference(common, squares).area < 1e-9


def test_a_whole_square_between_hides() -> None:
    """A plane between two others: the outer ones face nowhere but beside it."""
    plane, half = shapely.box(0, 0, 10, 10), shapely.box(-1, -1, 5, 11)
    areas = np.array([plane, half, plane], dtype=object)
    (pair,) = (one for one in facing(areas, np.array([1, 2, 3]), 1.0) if (one.upper, one.lower) == (0, 2))
    assert pair.middle[:, 0].min() >= 4.0


@pytest.mark.parametrize("seed", range(5))
def test_no_place_of_a_square_is_farther_than_it_says(seed: int) -> None:
    rng = np.random.default_rng(seed)
    area, points = shapely.box(0, 0, 8, 6), rng.uniform(0, 8, (5, 2))
    (pair,) = facing(np.array([area, area], dtype=object), np.array([1, 2]), 0.7)
    corners = shapely.get_coordinates(pair.squares).reshape(len(pair.square), 5, 2)
    away = np.hypot(*(corners[:, :, None] - points).transpose(3, 0, 1, 2)).min(axis=2).max(axis=1)
    assert (away <= pair.farthest(points) + 1e-9).all()


def test_nothing_faces_nothing() -> None:
    assert list(facing(np.empty(0, dtype=object), np.empty(0, dtype=np.int32), 1.0)) == []
