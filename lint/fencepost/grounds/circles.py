"""Largest empty circles: where in an area one is farthest from all of a set of points.

The distance to the nearest of the points has its maxima at Voronoi vertices within the area, where Voronoi edges cross
its boundary, and at corners of the boundary: G. T. Toussaint, Computing largest empty circles with location
constraints, International Journal of Computer and Information Sciences 12, 1983 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree, Voronoi
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import TOUCH_MM

DISC_CHORDS = 16
"""Of a quarter circle: a disc of 5 mm is 6 µm small at most."""


@dataclass(frozen=True, eq=False)
class Bare:
    """A connected area all of whose points are farther than the limit from every point; lengths in mm.

    `centre` is the farthest, `radius` its distance from the nearest point, which is row `nearest`.
    """

    area: shapely.Polygon
    centre: tuple[float, float]
    radius: float
    nearest: int


def beyond(points: NDArray[np.float64], limit: float, box: tuple[float, float, float, float]) -> BaseGeometry:
    """What of a box (x0, y0, x1, y1) is farther than `limit` from all points (n, 2), and a little more, by chords."""
    discs = shapely.union_all(shapely.buffer(shapely.points(points), limit, quad_segs=DISC_CHORDS))
    return shapely.difference(shapely.box(*box), discs)


def bare_areas(areas: NDArray[np.object_], points: NDArray[np.float64], limit: float) -> list[Bare]:
    """What of some polygons is farther than `limit` (mm) from all `points` (n, 2), n > 0, with the farthest place."""
    if not len(areas):
        return []
    x0, y0, x1, y1 = shapely.total_bounds(areas).tolist()
    left = shapely.get_parts(shapely.intersection(areas, beyond(points, limit, (x0, y0, x1, y1))))
    polygons = left[shapely.area(left) > 0]
    edges = _voronoi_edges(points, (x0, y0, x1, y1))
    edge, polygon = shapely.STRtree(polygons).query(edges, predicate="intersects")
    crossed = shapely.intersection(edges[edge], polygons[polygon])
    corner, owner = shapely.get_coordinates(polygons, return_index=True)
    inner, row = shapely.get_coordinates(crossed, return_index=True)
    candidate, owner = np.concatenate([corner, inner]), np.concatenate([owner, polygon[row]])
    nearest = np.asarray(KDTree(points).query(candidate)[1])
    distance = np.hypot(*(points[nearest] - candidate).T)
    order = np.lexsort((candidate[:, 1], candidate[:, 0], -np.round(distance, 6), owner))
    owners, first = np.unique(owner[order], return_index=True)
    best = order[first]
    return [
        Bare(polygons[own], (float(x), float(y)), float(radius), int(near))
        for own, (x, y), radius, near in zip(owners, candidate[best], distance[best], nearest[best], strict=True)
        if radius > limit + TOUCH_MM
    ]


def _voronoi_edges(points: NDArray[np.float64], bounds: tuple[float, float, float, float]) -> NDArray[np.object_]:
    """The edges of the Voronoi diagram of points as lines that reach beyond a box."""
    unique = np.unique(points, axis=0)
    everything = np.concatenate([unique, np.reshape(bounds, (2, 2))])
    low, high = everything.min(axis=0), everything.max(axis=0)
    size = 4 * float(np.hypot(*(high - low))) + 1.0
    # Far enough that no point of the box is nearest to them, they close every cell, even of points in a line.
    around = (low + high) / 2 + size * np.array([[-1, -1], [-1, 1], [1, -1], [1, 1]])
    diagram = Voronoi(np.concatenate([unique, around]))
    ridges = np.array(diagram.ridge_vertices)
    ridges = ridges[(ridges >= 0).all(axis=1)]
    lines: NDArray[np.object_] = shapely.linestrings(diagram.vertices[ridges])
    return lines
