"""Largest empty circles: where in an area one is farthest from all of a set of points.

The distance to the nearest of the points has its maxima at Voronoi vertices within the area, where Voronoi edges cross
its boundary, and at corners of the boundary: G. T. Toussaint, Computing largest empty circles with location
constraints, International Journal of Computer and Information Sciences 12, 1983 (from memory).
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import TOUCH_MM
from fencepost.distinct import distinct_points
from fencepost.frozen import dataclass
from fencepost.grounds.sheets import Points, moved, side_by_side
from fencepost.grounds.uniting import union_by
from fencepost.grounds.ways import first_nearest_points, nearest_points

DISC_CHORDS = 16
"""Of a quarter circle: a disc of 5 mm is 6 µm small at most."""


@dataclass(frozen=True, eq=False)
class Bare:
    """A connected area all of whose points are farther than the limit from every point; lengths in mm.

    `sheet` is what it is part of, `centre` its farthest place, `radius` the distance from there to the nearest point,
    which is row `nearest`.
    """

    sheet: int
    area: shapely.Polygon
    centre: tuple[float, float]
    radius: float
    nearest: int


def beyond(
    areas: NDArray[np.object_], sheet: NDArray[np.int64], points: Points, limits: NDArray[np.float64]
) -> NDArray[np.object_]:
    """What of each area (a) is farther from all points of its sheet than the limit of that (mm), and a little more, by
    chords. `sheet` (a) says which it is on, `limits` are those of all sheets."""
    if not len(areas):
        return areas
    apart = _apart(areas, points, len(limits))
    tree = shapely.STRtree(shapely.points(points.xy + apart[points.sheet]))
    area, disc = tree.query(moved(areas, apart[sheet]), predicate="dwithin", distance=limits[sheet])
    needed, disc = np.unique(disc, return_inverse=True)
    discs = shapely.buffer(shapely.points(points.xy[needed]), limits[points.sheet[needed]], quad_segs=DISC_CHORDS)
    order = np.argsort(area, kind="stable")
    area, disc = area[order], disc[order]
    left: NDArray[np.object_] = areas.copy()
    near, place = np.unique(area, return_inverse=True)
    left[near] = shapely.difference(areas[near], union_by(discs[disc], place))
    return left


def bare_areas(
    areas: NDArray[np.object_], sheet: NDArray[np.int64], points: Points, limits: NDArray[np.float64]
) -> list[Bare]:
    """What of polygons (a) is farther than the limit from all points, as in `beyond`, with the farthest places."""
    left, area = shapely.get_parts(beyond(areas, sheet, points, limits), return_index=True)
    solid = shapely.area(left) > 0
    polygons, sheet = left[solid], sheet[area[solid]]
    if not len(polygons):
        return []
    apart = _apart(polygons, points, len(limits))
    laid_out, spots = moved(polygons, apart[sheet]), points.xy + apart[points.sheet]
    own = _nearest_to_some(laid_out, spots)
    points, spots = Points(points.xy[own], points.sheet[own]), spots[own]
    x0, y0, x1, y1 = shapely.total_bounds(laid_out).tolist()
    edges = _voronoi_edges(spots, (x0, y0, x1, y1))
    edge, polygon = shapely.STRtree(laid_out).query(edges, predicate="intersects")
    crossed = shapely.intersection(edges[edge], laid_out[polygon])
    corner, owner = shapely.get_coordinates(laid_out, return_index=True)
    inner, row = shapely.get_coordinates(crossed, return_index=True)
    candidate, owner = np.concatenate([corner, inner]), np.concatenate([owner, polygon[row]])
    # A farthest place has several nearest points: the first one stands for them, wherever the sheets are laid out.
    nearest = first_nearest_points(spots, candidate)
    candidate = candidate - apart[sheet[owner]]
    distance = np.hypot(*(points.xy[nearest] - candidate).T)
    order = np.lexsort((*np.round(candidate, 6).T[::-1], -np.round(distance, 6), owner))
    owners, first = np.unique(owner[order], return_index=True)
    best = order[first]
    return [
        Bare(int(sheet[row]), polygons[row], (float(x), float(y)), float(radius), int(own[near]))
        for row, (x, y), radius, near in zip(owners, candidate[best], distance[best], nearest[best], strict=True)
        if radius > limits[sheet[row]] + TOUCH_MM
    ]


def _nearest_to_some(areas: NDArray[np.object_], points: NDArray[np.float64]) -> NDArray[np.int64]:
    """The rows, ascending, of all points that are nearest to some place in one of the areas, and of some more."""
    x0, y0, x1, y1 = shapely.bounds(areas).T
    middle, half = np.column_stack([x0 + x1, y0 + y1]) / 2, np.hypot(x1 - x0, y1 - y0) / 2
    away = np.hypot(*(points[nearest_points(points, middle)] - middle).T)
    # No place is farther from a point than `away + half`, and none is farther from the middle than `half`.
    reach = (away + 2 * half) * (1 + 1e-9) + TOUCH_MM
    tree = shapely.STRtree(shapely.points(points))
    return np.unique(tree.query(shapely.points(middle), predicate="dwithin", distance=reach)[1])


def _apart(areas: NDArray[np.object_], points: Points, sheets: int) -> NDArray[np.float64]:
    """How the sheets are laid out, all that is on each included."""
    corners = np.concatenate([points.xy, shapely.total_bounds(areas).reshape(2, 2)])
    return side_by_side(sheets, np.concatenate([corners.min(axis=0), corners.max(axis=0)]))


def _voronoi_edges(points: NDArray[np.float64], bounds: tuple[float, float, float, float]) -> NDArray[np.object_]:
    """The edges of the Voronoi diagram of points as lines that reach beyond a box."""
    unique = distinct_points(points)
    everything = np.concatenate([unique, np.reshape(bounds, (2, 2))])
    low, high = everything.min(axis=0), everything.max(axis=0)
    size = 4 * float(np.hypot(*(high - low))) + 1.0
    # Far enough that no point of the box is nearest to them, they close every cell, even of points in a line.
    around = (low + high) / 2 + size * np.array([[-1, -1], [-1, 1], [1, -1], [1, 1]])
    points_of = shapely.multipoints(np.concatenate([unique, around]))
    lines: NDArray[np.object_] = shapely.get_parts(shapely.voronoi_polygons(points_of, only_edges=True))
    return lines
