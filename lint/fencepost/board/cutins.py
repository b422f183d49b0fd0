"""Contours with cut-ins as the areas with holes that they stand for.

A cut-in leads from the outline of an area to a hole in it, around that, and back over the same line, so that one
contour draws both (Gerber Layer Format Specification, Ucamco, on contours; from memory). Without both ways over each
such line the contour comes apart into rings.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.distinct import point_keys
from fencepost.ranges import ranges

Rows = NDArray[np.int64]

FEWEST = 3
"""Corners of a ring."""


def uncut(points: NDArray[np.float64], contour: Rows) -> tuple[Rows, NDArray[np.object_]]:
    """Contours (k) that have cut-ins, and as a Polygon each (k) the areas with holes that they are without these.

    `points` (n, 2) belong to the contours (n), by ascending numbers; the first one of each is not repeated at its end.
    What touches or crosses itself in any other way becomes a Polygon that is not valid, or is left out.
    """
    if not len(points):
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=object)
    begins = np.flatnonzero(np.diff(contour, prepend=-1))
    ahead = np.arange(1, len(points) + 1)
    ahead[np.append(begins[1:], len(points)) - 1] = begins
    back = _ways_back(points, ahead, contour)
    has_cut = np.bincount(contour, back >= 0) > 0
    if not has_cut.any():
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=object)
    row, ring = _rings(np.flatnonzero((back < 0) & has_cut[contour]), ahead, back)
    return _with_holes(points[row], ring, contour[row])


def _ways_back(points: NDArray[np.float64], ahead: Rows, contour: Rows) -> Rows:
    """(n): for the side that begins at each point, that of the same contour which leads back over it; -1 for none.

    One over which the contour leads more than twice has none.
    """
    ends = point_keys(points)
    keys = ends + ends[ahead]
    order = np.argsort(keys)
    same = np.concatenate([[False], keys[order[1:]] == keys[order[:-1]], [False]])
    twice = np.flatnonzero(same[1:-1] & ~same[:-2] & ~same[2:])
    one, other = order[twice], order[twice + 1]
    opposite = (points[one] == points[ahead[other]]).all(axis=1) & (points[other] == points[ahead[one]]).all(axis=1)
    opposite &= (points[one] != points[other]).any(axis=1) & (contour[one] == contour[other])
    one, other = one[opposite], other[opposite]
    back = np.full(len(points), -1)
    back[one], back[other] = other, one
    return back


def _rings(kept: Rows, ahead: Rows, back: Rows) -> tuple[Rows, Rows]:
    """What is left of contours, points (k), in closed ways, one after the other, without the sides that have a way
    back; and the number of its ring for each (k)."""
    follow = ahead[kept]
    stuck = np.flatnonzero(back[follow] >= 0)
    while len(stuck):
        follow[stuck] = ahead[back[follow[stuck]]]
        stuck = stuck[back[follow[stuck]] >= 0]
    place = np.searchsorted(kept, follow)
    begins = np.flatnonzero(np.concatenate([[-1], place[:-1]]) != np.arange(len(kept)))
    lengths = np.diff(np.append(begins, len(kept)))
    onward = np.searchsorted(begins, place[begins + lengths - 1]).tolist()

    runs: list[int] = []
    ring: list[int] = []
    seen = [False] * len(onward)
    for start in range(len(onward)):
        run = start
        while not seen[run]:
            seen[run] = True
            runs.append(run)
            ring.append(start)
            run = onward[run]
    chosen = np.array(runs, dtype=np.int64)
    return kept[ranges(begins[chosen], lengths[chosen])], np.repeat(np.array(ring, dtype=np.int64), lengths[chosen])


def _with_holes(points: NDArray[np.float64], ring: Rows, contour: Rows) -> tuple[Rows, NDArray[np.object_]]:
    """Contours (k), and the Polygon of the rings of each (k): the largest one is the outline, the others are holes.

    Points (n, 2) by the rings (n) and contours (n) that they belong to. Left out is a contour of which another ring
    turns the same way as the outline, or one encloses nothing.
    """
    first = np.flatnonzero(np.diff(ring, prepend=-1))
    owner, corners = contour[first], np.diff(np.append(first, len(points)))
    area = _enclosed(points, first)
    order = np.lexsort((-np.abs(area), owner))
    outline = np.diff(owner[order], prepend=-1) != 0
    turn = np.sign(area[order])
    around = turn[outline][np.cumsum(outline) - 1]
    fits = (turn != 0) & (outline | (turn == -around)) & (corners[order] >= FEWEST)
    whole = np.bincount(owner[order], ~fits) == 0
    order = order[whole[owner[order]]]

    chosen = ranges(first[order], corners[order])
    rings = shapely.linearrings(points[chosen], indices=np.repeat(np.arange(len(order)), corners[order]))
    found, number = np.unique(owner[order], return_inverse=True)
    return found, shapely.polygons(rings, indices=number)


def _enclosed(points: NDArray[np.float64], first: Rows) -> NDArray[np.float64]:
    """What rings enclose, in mm², negative where they turn right; each begins at a row `first`."""
    count = np.diff(np.append(first, len(points)))
    x, y = (points - np.repeat(points[first], count, axis=0)).T  # from a corner of each: no digits are lost
    after = np.arange(1, len(points) + 1)
    after[first + count - 1] = first
    return np.asarray(np.add.reduceat(x * y[after] - x[after] * y, first) / 2)
