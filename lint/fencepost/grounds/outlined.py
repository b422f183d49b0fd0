"""Fills whose edge is drawn over with strokes, as many exports draw a pour: drawn out at once.

A fill and the strokes along all of its edge are what lies within half the width of the stroke of the fill. To grow the
fill by that is far quicker than to unite it with each of its strokes.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray


def outlined(
    fills: NDArray[np.object_], lines: NDArray[np.object_], reach: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """By how much (f), in mm, strokes along the whole edge draw each fill out; and which strokes (n) are told by that.

    A stroke is everything within `reach` (n) of its line. 0 for a fill whose edge has no stroke somewhere.
    """
    rings, fill = shapely.get_rings(fills, return_index=True)
    edges, ring = _edges(rings)
    steps, line = _edges(lines)
    _, number = np.unique(np.concatenate([edges, steps]).ravel(), return_inverse=True)
    ends = np.sort(number.reshape(-1, 2), axis=1)
    key = ends[:, 0] * (int(number.max(initial=0)) + 1) + ends[:, 1]
    edge, step = key[: len(edges)], key[len(edges) :]

    grown = np.full(len(fills), np.inf)
    np.minimum.at(grown, fill[ring], _highest(step, reach[line], edge))
    grown[~np.isfinite(grown)] = 0.0
    told = _highest(edge, grown[fill[ring]], step) >= reach[line]
    crossing = ~told & (np.bincount(line, told, minlength=len(lines)) > 0)[line]
    told[crossing] = _within(steps[crossing], reach[line[crossing]], fills, grown)
    return grown, np.bincount(line, ~told, minlength=len(lines)) == 0


def _edges(lines: NDArray[np.object_]) -> tuple[NDArray[np.complex128], NDArray[np.int64]]:
    """The two ends (e, 2), as complex numbers, of each straight part of some lines, and which line that is of."""
    xy, owner = shapely.get_coordinates(lines, return_index=True)
    points = np.ascontiguousarray(xy).view(np.complex128).ravel()
    same = owner[1:] == owner[:-1]
    return np.column_stack([points[:-1][same], points[1:][same]]), owner[1:][same]


def _highest(keys: NDArray[np.int64], values: NDArray[np.float64], wanted: NDArray[np.int64]) -> NDArray[np.float64]:
    """For each wanted key the highest value that it has, 0 where it has none."""
    if not len(keys):
        return np.zeros(len(wanted))
    order = np.lexsort((values, keys))
    keys, values = keys[order], values[order]
    last = np.maximum(np.searchsorted(keys, wanted, side="right") - 1, 0)
    return np.where(keys[last] == wanted, values[last], 0.0)


def _within(
    steps: NDArray[np.complex128], reach: NDArray[np.float64], fills: NDArray[np.object_], grown: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Which straight strokes lie in a fill that is drawn out no less far than they are, as along a cut-in."""
    inside = np.zeros(len(steps), dtype=bool)
    lines = shapely.linestrings(np.ascontiguousarray(steps).view(np.float64).reshape(-1, 2, 2))
    drawn = np.flatnonzero(grown)
    line, fill = covered_by(lines, fills[drawn])
    inside[line[grown[drawn[fill]] >= reach[line]]] = True
    return inside


def covered_by(small: NDArray[np.object_], large: NDArray[np.object_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of a small shape, a line or a polygon, and a large area that it lies in.

    A small polygon does where its edge does, and no hole of the large one is within it. To ask this at once costs as
    much as the large one has holes, for every pair.
    """
    one, other = shapely.STRtree(large).query(small)
    shapely.prepare(large)
    area = shapely.get_type_id(small) == shapely.GeometryType.POLYGON
    edges = small.copy()
    edges[area] = shapely.get_exterior_ring(small[area])
    covered = shapely.covers(large[other], edges[one])
    one, other = one[covered], other[covered]

    polygons, owner = shapely.get_parts(large, return_index=True)
    rings, polygon = shapely.get_rings(polygons, return_index=True)
    holes = np.flatnonzero(np.diff(polygon, prepend=-1) == 0)
    around, hole = shapely.STRtree(shapely.get_point(rings[holes], 0)).query(small[one], predicate="intersects")
    open_ = around[(owner[polygon[holes[hole]]] == other[around]) & area[one[around]]]
    return np.delete(one, open_), np.delete(other, open_)
