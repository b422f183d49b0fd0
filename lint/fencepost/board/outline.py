"""The board's profile as polygons."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from fencepost.errors import InputError
from fencepost.limits import DEFAULT_LIMITS
from fencepost.meeting import TooManyMeet, check_crossings, sides
from fencepost.readers.artwork import Artwork, Kind

CLOSE_MM = 0.05
"""Ends of profile strokes nearer than this are one corner: rounding, and drawing by hand."""


def outline_of(profile: Artwork, most: int = DEFAULT_LIMITS.crossings) -> Polygon | MultiPolygon:
    """The area inside a profile drawn as strokes along the edge, or as fills. Outlines inside others are cut-outs.

    Raises InputError where the strokes do not close, or there are none, or more than `most` pairs of them meet.
    """
    _check_crossings(profile, most)
    rings = [shapely.linearrings(profile.points(int(i))) for i in np.flatnonzero(profile.kind == Kind.FILL)]
    strokes = np.flatnonzero(profile.kind == Kind.STROKE)
    lines = [shapely.linestrings(profile.points(int(i))) for i in strokes]
    areas: list[Polygon] = [shapely.polygons(ring) for ring in rings]
    if lines:
        noded = shapely.union_all(_snapped(lines))
        faces, cuts, dangles, _ = shapely.polygonize_full([noded])
        areas += list(shapely.get_parts(faces))
        loose = shapely.get_parts(shapely.union(dangles, cuts))
        if len(loose):
            x, y = _open_end(loose)
            near = int(np.argmin(shapely.distance(lines, shapely.Point(x, y))))
            place = profile.location(int(strokes[near]))
            said = f"the profile does not close at ({x:.3f}, {y:.3f})"
            raise InputError(place.file, place.line, place.column, said)
    if not areas:
        raise InputError(profile.source.name, 0, 0, "the profile has no outline")
    # An edge that lies in an even number of outer rings is outside: cut-outs, and parts left standing within them.
    result = shapely.make_valid(_odd(np.array([Polygon(area.exterior) for area in areas], dtype=object)))
    if not isinstance(result, Polygon | MultiPolygon):
        raise InputError(profile.source.name, 0, 0, "the profile encloses no area")
    return result


def _check_crossings(profile: Artwork, most: int) -> None:
    count = np.diff(profile.first)
    within = np.ones(len(profile.xy), dtype=bool)
    within[profile.first[:-1]] = False  # a side ends at each point but the first of its feature
    last = np.flatnonzero(within)
    try:
        check_crossings(sides(profile.xy, CLOSE_MM)[last - 1], most)
    except TooManyMeet as error:
        feature = int(np.repeat(np.arange(len(count)), count)[last[error.row]])
        place = profile.location(feature)
        raise InputError(place.file, place.line, place.column, str(error)) from None


def _odd(areas: NDArray[np.object_]) -> BaseGeometry:
    """What lies in an odd number of areas: by halves, since one after the other takes long for many."""
    while len(areas) > 1:
        rest = areas[len(areas) // 2 * 2 :]
        areas = np.concatenate([shapely.symmetric_difference(areas[0 : len(areas) - 1 : 2], areas[1::2]), rest])
    return areas[0]


def _open_end(loose: NDArray[np.object_]) -> tuple[float, float]:
    """Of lines that enclose nothing, an end at which no other one begins."""
    ends = np.array([[line.coords[0], line.coords[-1]] for line in loose]).reshape(-1, 2)
    points, count = np.unique(ends, axis=0, return_counts=True)
    x, y = points[np.argmin(count)]
    return float(x), float(y)


def _snapped(lines: list[shapely.LineString]) -> list[shapely.LineString]:
    """The same lines with ends that lie within CLOSE_MM of one another moved to one point."""
    ends = np.array([[line.coords[0], line.coords[-1]] for line in lines]).reshape(-1, 2)
    left, right = shapely.STRtree(shapely.points(ends)).query(shapely.points(ends), "dwithin", CLOSE_MM)
    target = np.arange(len(ends))
    np.minimum.at(target, left, right)
    snapped = []
    for i, line in enumerate(lines):
        points = np.array(line.coords)
        points[0], points[-1] = ends[target[2 * i]], ends[target[2 * i + 1]]
        snapped.append(shapely.LineString(points))
    return snapped
