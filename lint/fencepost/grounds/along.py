"""How far one must go along copper to reach the nearest of some points.

The copper is cut into triangles. One goes from the middle of an edge of a triangle to the middle of another; the
shortest such way leads through the triangles that the shortest way of all leads through, and is then pulled taut within
them: D. T. Lee and F. P. Preparata, Euclidean shortest paths in the presence of rectilinear barriers, Networks 14, 1984.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components, dijkstra
from scipy.spatial import KDTree
from shapely.geometry.base import BaseGeometry

COARSE_MM = 0.01
"""How far the edge of the copper is moved at most, to have fewer triangles."""

EDGE_MM = 2.0
"""Longest edge of the copper's outline: longer ones would make triangles whose middles say little."""

NEAREST = 4
"""Points that are tried in a straight line."""


@dataclass(frozen=True, eq=False)
class FarEnd:
    """Connected copper that is farther along than the limit; lengths in mm, area in mm².

    `end` is its farthest place, `distance` the way from there to the point, which is row `nearest`.
    """

    end: tuple[float, float]
    distance: float
    nearest: int
    area: float


@dataclass(frozen=True, eq=False)
class _Mesh:
    """t triangles with e edges between them.

    edges   int64 (t, 3)     the edges of each triangle
    ends    float64 (e, 2, 2)
    middle  float64 (e, 2)
    size    float64 (t)      mm²
    """

    triangles: NDArray[np.object_]
    edges: NDArray[np.int64]
    ends: NDArray[np.float64]
    middle: NDArray[np.float64]
    size: NDArray[np.float64]


def far_ends(copper: BaseGeometry, points: NDArray[np.float64], limit: float) -> list[FarEnd]:
    """The parts of some copper that are farther than `limit` (mm) along it from all points (n, 2), n > 0.

    Points that are not on the copper count as where it is nearest to them. Copper that no point is on is left out.
    """
    mesh = _mesh_of(shapely.segmentize(shapely.simplify(copper, COARSE_MM), EDGE_MM))
    distance, before, source = _distances(mesh, points)
    far = np.flatnonzero((distance > limit) & np.isfinite(distance))
    far = far[~_in_sight(copper, mesh.middle[far], points, limit)]
    found = []
    for edges, triangles in _groups(mesh, far):
        end = _farthest(mesh, edges, distance, before, source, points)
        if end is not None and end[1] > limit:
            place, length, nearest = end
            found.append(FarEnd(place, length, nearest, float(mesh.size[triangles].sum())))
    return found


def _mesh_of(copper: BaseGeometry) -> _Mesh:
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(copper))
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3]
    _, corner = np.unique(corners.reshape(-1, 2).view(np.complex128), return_inverse=True)
    corner = corner.reshape(-1, 3)
    sides = np.sort(np.stack([corner, np.roll(corner, -1, axis=1)], axis=-1).reshape(-1, 2), axis=1)
    key = sides[:, 0] * (int(corner.max(initial=0)) + 1) + sides[:, 1]
    _, first, edges = np.unique(key, return_index=True, return_inverse=True)
    both = np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2, 2)
    ends = both[first]
    return _Mesh(triangles, edges.reshape(-1, 3), ends, ends.mean(axis=1), shapely.area(triangles))


def _distances(
    mesh: _Mesh, points: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.int32], dict[int, int]]:
    """For each edge how far its middle is from the nearest point, the edge before it on the way, -1 or less for none,
    and, for edges where a way begins, the point there."""
    count = len(mesh.middle)
    point, triangle = shapely.STRtree(mesh.triangles).query_nearest(shapely.points(points), all_matches=False)
    point, edge = np.repeat(point, 3), mesh.edges[triangle].ravel()
    away = np.hypot(*(mesh.middle[edge] - points[point]).T)
    order = np.argsort(away, kind="stable")
    edge, first = np.unique(edge[order], return_index=True)
    point, away = point[order][first], away[order][first]

    one, other = mesh.edges.ravel(), np.roll(mesh.edges, -1, axis=1).ravel()
    length = np.hypot(*(mesh.middle[one] - mesh.middle[other]).T)
    start = np.full(len(edge), count)
    ways = coo_array(
        (np.maximum(np.concatenate([length, away]), 1e-9), (np.concatenate([one, start]), np.concatenate([other, edge]))),
        shape=(count + 1, count + 1),
    ).tocsr()
    distance, before = dijkstra(_undirected(ways), directed=True, indices=count, return_predecessors=True)
    before[before == count] = -1
    return distance[:count], before[:count], dict(zip(edge.tolist(), point.tolist(), strict=True))
