"""How far one must go along narrow copper to reach the nearest of some points.

The copper is cut into triangles. Those with an edge as long as the copper may be wide belong to areas, over which one
goes straight; elsewhere one goes from the middle of an edge to that of another. The shortest such way is then pulled
taut within the triangles that it leads through (the funnel of D. T. Lee and F. P. Preparata, Euclidean shortest paths
in the presence of rectilinear barriers, Networks 14, 1984; from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.connect import components
from fencepost.board.model import TOUCH_MM
from fencepost.frozen import dataclass
from fencepost.grounds.mesh import Mesh, mesh_of
from fencepost.grounds.sheets import side_by_side
from fencepost.grounds.ways import nearest_points, ways_from

TRIES = 3
"""Ways that are pulled taut for one end."""

NOWHERE = (np.zeros(2), 0.0, -1)
"""No end: a place, the way to it, the point where that begins."""


Worth = Callable[[NDArray[np.int64], NDArray[np.float64]], NDArray[np.bool_]]
"""From sheets (k) and places (k, 2) on them: which of these places are worth a closer look."""


@dataclass(frozen=True, eq=False)
class FarEnd:
    """Connected narrow copper that is farther along than the limit. Lengths in mm, area in mm², of whole triangles.

    `sheet` is the row of the copper that it is part of, `end` its farthest place, `distance` the way from there to the
    nearest point, which is row `nearest`.
    """

    sheet: int
    end: tuple[float, float]
    distance: float
    nearest: int
    area: float


@dataclass(frozen=True, eq=False)
class _Ways:
    """For each of e edges the shortest way to its middle, which begins at a point and goes straight to some first edge.

    distance float64 (e)  inf where there is none, and within areas
    before   int64 (e)    the edge before it, -1 for the first one
    point    int64 (e)    of first edges the nearest point in a straight line, -1 of others
    """

    distance: NDArray[np.float64]
    before: NDArray[np.int64]
    point: NDArray[np.int64]

    def to(self, edge: int) -> tuple[list[int], int]:
        """The edges on the way to one, itself the last, and the point where it begins."""
        way = [edge]
        while self.before[way[-1]] >= 0:
            way.append(int(self.before[way[-1]]))
        return way[::-1], int(self.point[way[-1]])


def far_ends(
    sheets: NDArray[np.object_],
    points: NDArray[np.float64],
    sheet: NDArray[np.integer],
    limit: float,
    wide: float,
    worth: Worth = lambda sheet, _: np.ones(len(sheet), dtype=bool),
) -> list[FarEnd]:
    """The parts of some copper, less than `wide` across, that are farther than `limit` along it from all points.

    `sheets` (n) are polygons or several each, `points` (p, 2) are on the sheets `sheet` (p), and every sheet has some;
    one that is not on its copper stands for where this is nearest. All in mm. Ends nearer to one another than twice
    `wide` are one, told by the farthest of them, with the area of all. Holes less than HOLE of `wide` across are taken
    for copper. What no way leads to is left out, and so are ends at a place that is not `worth` the trouble.
    """
    if not len(sheets):
        return []
    corners = np.concatenate([points, shapely.total_bounds(sheets).reshape(2, 2)])
    apart = side_by_side(len(sheets), np.concatenate([corners.min(axis=0), corners.max(axis=0)]))
    mesh = mesh_of(sheets, apart, wide)
    spots = points + apart[sheet]
    ways = _ways_over(mesh, spots, wide)
    far = np.isfinite(ways.distance) & (ways.distance > limit + TOUCH_MM) & (ways.before >= 0)
    groups = _groups(mesh, far)
    farthest = mesh.middle[[edges[np.argmax(ways.distance[edges])] for edges, _ in groups]].reshape(-1, 2)
    owner = np.asarray(sheet[nearest_points(spots, farthest)], dtype=np.int64)
    found = []
    for i in np.flatnonzero(worth(owner, farthest - apart[owner])).tolist():
        edges, triangles = groups[i]
        end, distance, nearest = _farthest(mesh, ways, edges, spots, wide)
        if distance > limit + TOUCH_MM:
            area = float(shapely.area(mesh.triangles[triangles]).sum())
            found.append(FarEnd(int(owner[i]), (float(end[0]), float(end[1])), distance, nearest, area))
    ends = [replace(one, end=tuple((one.end - apart[one.sheet]).tolist())) for one in _together(found, 2 * wide)]
    asked = np.array([one.sheet for one in ends], dtype=np.int64), np.array([one.end for one in ends]).reshape(-1, 2)
    return [one for one, kept in zip(ends, worth(*asked), strict=True) if kept]


def _ways_over(mesh: Mesh, points: NDArray[np.float64], wide: float) -> _Ways:
    count = len(mesh.middle)
    length = np.hypot(*(mesh.ends[:, 1] - mesh.ends[:, 0]).T)
    first = np.zeros(count, dtype=bool)
    area = (length[mesh.edges] >= wide).any(axis=1)
    first[mesh.edges[area]] = True
    first[mesh.edges[_standing(mesh, points, ~area)]] = True

    # To the edges of areas no way is shorter than the straight one: only ways over narrow triangles are looked at.
    narrow = mesh.edges[~area]
    between = np.zeros(count, dtype=bool)
    between[narrow] = True
    edge = np.flatnonzero(first & between)
    nearest = nearest_points(points, mesh.middle[edge])
    away = np.hypot(*(mesh.middle[edge] - points[nearest]).T)
    point = np.full(count, -1, dtype=np.int64)
    point[edge] = nearest
    one, other = narrow.ravel(), np.roll(narrow, -1, axis=1).ravel()
    step = np.hypot(*(mesh.middle[one] - mesh.middle[other]).T)
    links = np.stack([np.concatenate([one, np.full(len(edge), count)]), np.concatenate([other, edge])])
    length = np.maximum(np.concatenate([step, away]), 1e-9)
    distance, before = ways_from(count, count + 1, links, length)
    inside = (before[:count] >= 0) & (before[:count] < count)
    return _Ways(distance[:count], np.where(inside, before[:count], -1), point)


def _standing(mesh: Mesh, points: NDArray[np.float64], narrow: NDArray[np.bool_]) -> NDArray[np.int64]:
    """The narrow triangles that points stand on, and those that are nearest to points beside all copper."""
    spots = shapely.points(points)
    triangle, spot = shapely.STRtree(spots).query(mesh.triangles, predicate="intersects")
    beside = np.delete(spots, spot)
    nearest = shapely.STRtree(mesh.triangles).query_nearest(beside)[1] if len(beside) else triangle[:0]
    return np.concatenate([triangle[narrow[triangle]], nearest])


def _groups(mesh: Mesh, far: NDArray[np.bool_]) -> list[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """The far edges that hang together, and the triangles most of whose edges are among them."""
    inside = far[mesh.edges]
    pairs = [mesh.edges[inside[:, i] & inside[:, j]][:, [i, j]] for i, j in ((0, 1), (1, 2), (2, 0))]
    group = components(len(mesh.middle), np.concatenate(pairs).T)
    triangles = np.flatnonzero(inside.sum(axis=1) > 1)
    owner = group[np.where(inside[triangles], mesh.edges[triangles], -1).max(axis=1)]
    edges = np.flatnonzero(far)
    order = np.argsort(group[edges], kind="stable")
    split = np.split(edges[order], np.flatnonzero(np.diff(group[edges[order]])) + 1) if len(edges) else []
    return [(own, triangles[owner == group[own[0]]]) for own in split]


def _farthest(
    mesh: Mesh, ways: _Ways, edges: NDArray[np.int64], points: NDArray[np.float64], shortest: float
) -> tuple[NDArray[np.float64], float, int]:
    """Of some edges the middle that is farthest along, how far that is, and from which point.

    A way whose narrow part is no longer than `shortest` leads to the corner of an area and not to the end of a finger.
    """
    best = NOWHERE
    for edge in edges[np.argsort(-ways.distance[edges], kind="stable")][:TRIES]:
        if ways.distance[edge] <= best[1]:
            break
        way, point = ways.to(int(edge))
        if ways.distance[edge] - ways.distance[way[0]] <= shortest:
            continue
        taut = taut_way(points[point], mesh.ends[way[:-1]], mesh.middle[edge])
        if taut > best[1]:
            best = (mesh.middle[edge], taut, point)
    return best


def _together(ends: list[FarEnd], near: float) -> list[FarEnd]:
    if not ends:
        return []
    spots = shapely.points([one.end for one in ends])
    group = components(len(ends), shapely.STRtree(spots).query(spots, "dwithin", near))
    groups = [[ends[i] for i in np.flatnonzero(group == one)] for one in np.unique(group)]
    return [
        replace(max(own, key=lambda one: round(one.distance, 6)), area=sum(one.area for one in own)) for own in groups
    ]


def taut_way(start: NDArray[np.float64], gates: NDArray[np.float64], end: NDArray[np.float64]) -> float:
    """The length of the shortest way from start to end, (2) each, through gates (g, 2, 2), one after another."""
    ahead = np.concatenate([gates.mean(axis=1)[1:], [end]])
    along, onward = gates[:, 1] - gates[:, 0], ahead - gates[:, 0]
    turned = (along[:, 0] * onward[:, 1] - along[:, 1] * onward[:, 0] > 0)[:, None]
    goal = complex(*end)
    # Plain complex numbers: a way has some hundred gates, too few for arrays.
    left = [*_plain(np.where(turned, gates[:, 0], gates[:, 1])), goal]
    right = [*_plain(np.where(turned, gates[:, 1], gates[:, 0])), goal]
    length, apex, first = 0.0, complex(*start), 0
    while True:
        corner, first = _next_corner(apex, left, right, first)
        length += abs(corner - apex)
        apex = corner
        if first == len(left):
            return length + abs(goal - apex)


def _plain(xy: NDArray[np.float64]) -> list[complex]:
    numbers: list[complex] = (xy[:, 0] + 1j * xy[:, 1]).tolist()
    return numbers


def _next_corner(apex: complex, left: list[complex], right: list[complex], first: int) -> tuple[complex, int]:
    """Where a taut way from the apex through the gates from `first` on turns next, and the first gate behind that."""
    (far_left, at_left), (far_right, at_right) = (left[first], first), (right[first], first)
    for gate in range(first + 1, len(left)):
        to_left, to_right = left[gate] - apex, right[gate] - apex
        if _cross(far_left - apex, to_left) <= 0:
            if _cross(far_right - apex, to_left) < 0:
                return far_right, at_right + 1
            far_left, at_left = left[gate], gate
        if _cross(far_right - apex, to_right) >= 0:
            if _cross(far_left - apex, to_right) > 0:
                return far_left, at_left + 1
            far_right, at_right = right[gate], gate
    return left[-1], len(left)


def _cross(one: complex, other: complex) -> float:
    return one.real * other.imag - one.imag * other.real
