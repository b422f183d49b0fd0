"""Nearest points and shortest ways, against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
import scipy

from fencepost.grounds.ways import first_nearest_points, nearest_points, ways_from

SEEDS = range(6)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_nearest_point_is_as_near_as_in_a_tree_of_scipy(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points, places = rng.uniform(0, 10, (40, 2)), rng.uniform(-2, 12, (200, 2))
    away, expected = scipy.spatial.KDTree(points).query(places)
    assert nearest_points(points, places).tolist() == expected.tolist()
    assert np.hypot(*(places - points[nearest_points(points, places)]).T) == pytest.approx(away)


def test_of_points_that_are_as_near_the_first_is_taken() -> None:
    corners = np.array([(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0 - 5e-7), (9.0, 9.0)])
    for order in ([0, 1, 2, 3, 4], [4, 3, 2, 1, 0], [2, 4, 0, 3, 1]):
        first = min(row for row, corner in enumerate(order) if corner != 4)
        assert first_nearest_points(corners[order], np.zeros((1, 2))).tolist() == [first]


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("links", (20, 120, 600))
def test_ways_are_as_short_as_those_of_dijkstra(seed: int, links: int) -> None:
    rng = np.random.default_rng(seed)
    count = 100
    pairs, length = rng.integers(0, count, (2, links)), rng.uniform(0.1, 5.0, links)
    distance, before = ways_from(7, count, pairs, length)
    shortest: dict[tuple[int, int], float] = {}
    for one, other, far in zip(*pairs.tolist(), length.tolist(), strict=True):
        for pair in ((one, other), (other, one)):
            shortest[pair] = min(far, shortest.get(pair, np.inf))
    rows, columns = zip(*shortest, strict=True)
    graph = scipy.sparse.coo_array((list(shortest.values()), (rows, columns)), shape=(count, count)).tocsr()
    expected = scipy.sparse.csgraph.dijkstra(graph, indices=7)
    assert distance == pytest.approx(expected)
    for node in np.flatnonzero(before >= 0).tolist():
        assert distance[node] == pytest.approx(distance[before[node]] + shortest[int(before[node]), node])
    assert (before >= 0).tolist() == [bool(np.isfinite(far)) and node != 7 for node, far in enumerate(expected)]
