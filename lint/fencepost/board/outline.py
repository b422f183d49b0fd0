"""The board's profile as polygons."""

from __future__ import annotations

from functools import reduce

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from fencepost.errors import InputError
from fencepost.readers.artwork import Artwork, Kind

CLOSE_MM = 0.05
"""Ends of profile strokes nearer than this are one corner: rounding, and drawing by hand."""


def outline_of(profile: Artwork) -> Polygon | MultiPolygon:
    """The area inside a profile drawn as strokes along the edge, or as fills. Outlines inside others are cut-outs.

    Raises InputError where the strokes do not close, or there are none.
    """
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
    result = shapely.make_valid(reduce(shapely.symmetric_difference, [Polygon(area.exterior) for area in areas]))
    if not isinstance(result, Polygon | MultiPolygon):
        raise InputError(profile.source.name, 0, 0, "the profile encloses no area")
    return result


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
