"""Nearest points, and shortest ways over a network, on arrays.

scipy has both; to import it takes longer than either on a whole board.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.ranges import ranges

ALIKE_MM = 1e-6
"""Points are equally near where their distances differ by no more."""


def nearest_points(points: NDArray[np.float64], places: NDArray[np.float64]) -> NDArray[np.int64]:
    """(n): the row of `points` (m, 2) that is nearest to each of the places (n, 2); one of them where several are."""
    asked, nearest = shapely.STRtree(shapely.points(points)).query_nearest(shapely.points(places), all_matches=False)
    found = np.empty(len(places), dtype=np.int64)
    found[asked] = nearest
    return found


def first_nearest_points(points: NDArray[np.float64], places: NDArray[np.float64]) -> NDArray[np.int64]:
    """The same; where several are as near, to 1e-6 mm, the first of them."""
    spots = shapely.points(places)
    away = np.hypot(*(places - points[nearest_points(points, places)]).T)
    place, point = shapely.STRtree(shapely.points(points)).query(spots, "dwithin", away + ALIKE_MM)
    alike = np.hypot(*(places[place] - points[point]).T) <= away[place] + ALIKE_MM
    found = np.full(len(places), len(points), dtype=np.int64)
    np.minimum.at(found, place[alike], point[alike])
    return found


def ways_from(
    start: int, count: int, links: NDArray[np.int64], length: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The shortest ways from one of `count` nodes, over links (2, k) of lengths (k) that may be gone both ways.

    For each node how long the way is, infinite where there is none, and the node before it, -1 for none.

    All nodes to which the last round found a shorter way are looked at together: as many rounds as a way has nodes.
    """
    begin, end = np.concatenate([links, links[::-1]], axis=1)
    order = np.argsort(begin, kind="stable")
    begin, end, weight = begin[order], end[order], np.concatenate([length, length])[order]
    first = np.searchsorted(begin, np.arange(count + 1))
    distance, before = np.full(count, np.inf), np.full(count, -1, dtype=np.int64)
    distance[start] = 0.0
    front = np.array([start])
    while len(front):
        links_of = first[front + 1] - first[front]
        link = ranges(first[front], links_of)
        node, to = begin[link], end[link]
        far = distance[node] + weight[link]
        shorter = far < distance[to]
        node, to, far = node[shorter], to[shorter], far[shorter]
        order = np.lexsort((far, to))
        order = order[np.diff(to[order], prepend=-1) != 0]
        front = to[order]
        distance[front], before[front] = far[order], node[order]
    return distance, before
