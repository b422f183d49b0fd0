"""Copper cut into triangles."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.frozen import dataclass

COARSE_MM = 0.01
"""How far the edge of the copper is moved at most, to have fewer triangles."""

HOLE = 1.0
"""Of the width of a finger: a hole less than this across lengthens no way worth telling, and costs many triangles."""

MOST_HOLES = 64
"""Of one polygon: the time that its triangles take grows faster than their number, so that others are cut in two."""

ALIKE_MM = 1e-7
"""Corners nearer than this are the same."""


@dataclass(frozen=True, eq=False)
class Mesh:
    """Copper as t triangles with e edges.

    triangles  object (t)         Polygons
    edges      int64 (t, 3)       the edges of each
    ends       float64 (e, 2, 2)  mm
    middle     float64 (e, 2)     mm
    """

    triangles: NDArray[np.object_]
    edges: NDArray[np.int64]
    ends: NDArray[np.float64]
    middle: NDArray[np.float64]


def mesh_of(sheets: NDArray[np.object_], apart: NDArray[np.float64], wide: float) -> Mesh:
    """The constrained Delaunay triangles of sheets (n), polygons or several each, with no edge of the copper longer
    than half of `wide` mm. Each sheet is moved by its row of `apart` (n, 2)."""
    polygons = _divided(shapely.segmentize(_laid_out(sheets, apart, wide), wide / 2))
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(polygons))
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3]
    place = np.ascontiguousarray(np.rint(corners / ALIKE_MM)).view(np.complex128).ravel()
    number = np.unique(place, return_inverse=True)[1].reshape(-1, 3)
    sides = np.sort(np.stack([number, np.roll(number, -1, axis=1)], axis=-1).reshape(-1, 2), axis=1)
    key = sides[:, 0] * (int(number.max(initial=0)) + 1) + sides[:, 1]
    _, first, edges = np.unique(key, return_index=True, return_inverse=True)
    ends = np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2, 2)[first]
    return Mesh(triangles, edges.reshape(-1, 3), ends, ends.mean(axis=1))


def _laid_out(sheets: NDArray[np.object_], apart: NDArray[np.float64], wide: float) -> NDArray[np.object_]:
    """The polygons of all sheets, moved, with fewer corners and small holes filled."""
    polygons, sheet = _large_holes(sheets, wide)
    coarse = shapely.simplify(polygons, COARSE_MM, preserve_topology=False)
    wrong = ~shapely.is_valid(coarse) | shapely.is_empty(coarse)
    coarse[wrong] = shapely.simplify(polygons[wrong], COARSE_MM)
    polygons, of = _large_holes(coarse, wide)
    xy, polygon = shapely.get_coordinates(polygons, return_index=True)
    laid_out: NDArray[np.object_] = shapely.set_coordinates(polygons, xy + apart[sheet[of[polygon]]])
    return laid_out


def _large_holes(areas: NDArray[np.object_], wide: float) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """The polygons of areas with their large holes alone, and the row of the area that each is of."""
    polygons, area = shapely.get_parts(areas, return_index=True)
    rings, polygon = shapely.get_rings(polygons, return_index=True)
    x0, y0, x1, y1 = shapely.bounds(rings).T
    kept = (np.diff(polygon, prepend=-1) != 0) | (np.maximum(x1 - x0, y1 - y0) > HOLE * wide)
    return shapely.polygons(rings[kept], indices=polygon[kept]), area


def _divided(polygons: NDArray[np.object_]) -> NDArray[np.object_]:
    """Polygons in parts of no more than MOST_HOLES holes.

    They are cut across their longer side. An edge along the cut is not cut up any further: it is an edge of a triangle
    on either side, as long as the copper is wide there.
    """
    many = shapely.get_num_interior_rings(polygons) > MOST_HOLES
    if not many.any():
        return polygons
    halves = []
    for polygon in polygons[many]:
        x0, y0, x1, y1 = polygon.bounds
        holes = shapely.bounds(shapely.get_rings(polygon)[1:])
        middle = np.median((holes[:, :2] + holes[:, 2:]) / 2, axis=0)
        if x1 - x0 > y1 - y0:
            boxes = shapely.box(x0 - 1, y0 - 1, middle[0], y1 + 1), shapely.box(middle[0], y0 - 1, x1 + 1, y1 + 1)
        else:
            boxes = shapely.box(x0 - 1, y0 - 1, x1 + 1, middle[1]), shapely.box(x0 - 1, middle[1], x1 + 1, y1 + 1)
        parts = shapely.get_parts(shapely.intersection(polygon, boxes))
        halves.append(parts[shapely.area(parts) > 0])
    return np.concatenate([polygons[~many], _divided(np.concatenate(halves))])
