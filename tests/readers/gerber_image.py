"""Gerber text for tests, read, and the copper that an artwork comes to."""

from __future__ import annotations

import itertools

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from fencepost.limits import DEFAULT_LIMITS, Limits
from fencepost.readers.artwork import SAGITTA_MM, Artwork, Kind
from fencepost.readers.gerber import read_gerber
from fencepost.source import SourceFile

MM = "%FSLAX26Y26*%\n%MOMM*%\n"
"""Set-up of a file in mm, coordinates in nanometres."""


def read(body: str | bytes, header: str = MM, limits: Limits = DEFAULT_LIMITS) -> Artwork:
    """Read a file of a header, a body and M02."""
    text = body.encode() if isinstance(body, str) else body
    return read_gerber(SourceFile("layer.gbr", header.encode() + text + b"M02*\n"), limits)


def image(artwork: Artwork) -> BaseGeometry:
    """The copper after polarity, in mm: runs of one polarity joined, then added or taken away in drawing order."""
    copper: BaseGeometry = shapely.Polygon()
    for dark, rows in itertools.groupby(range(len(artwork)), key=lambda row: bool(artwork.dark[row])):
        area = shapely.union_all([outline(artwork, row) for row in rows])
        copper = shapely.union(copper, area) if dark else shapely.difference(copper, area)
    return copper


def outline(artwork: Artwork, row: int) -> BaseGeometry:
    """What one feature covers."""
    points = artwork.points(row)
    if artwork.kind[row] == Kind.FILL:
        return shapely.make_valid(shapely.Polygon(points))
    tool = artwork.tools[artwork.tool[row]]
    if tool.width:
        path = shapely.Point(points[0]) if len(points) == 1 or np.ptp(points, axis=0).max() == 0 else points
        line = path if isinstance(path, shapely.Point) else shapely.LineString(path)
        return shapely.buffer(line, tool.width / 2, quad_segs=len(tool.shape.exterior.coords) // 4)
    placed = [affinity.translate(tool.shape, x, y) for x, y in points]
    if len(placed) == 1 or tool.shape.is_empty:
        return placed[0]
    assert tool.shape.equals(tool.shape.convex_hull), "only convex tools can be swept here"
    return shapely.union_all([shapely.union(one, other).convex_hull for one, other in itertools.pairwise(placed)])


def near(shape: BaseGeometry, area: float, bounds: tuple[float, float, float, float] | None = None) -> None:
    """Assert an area in mm² and an extent in mm, to the sagitta that arcs are read with."""
    assert abs(shape.area - area) <= shape.length * SAGITTA_MM + 1e-9, f"area {shape.area}, expected {area}"
    if bounds is not None:
        np.testing.assert_allclose(shape.bounds, bounds, atol=2 * SAGITTA_MM)
