"""Gerber files as the reference library gerbonara reads them."""

from __future__ import annotations

import itertools
import math
import warnings

import numpy as np
import shapely
from gerbonara import GerberFile
from gerbonara import graphic_objects as go
from gerbonara import graphic_primitives as gp
from gerbonara.utils import MM
from shapely import affinity
from shapely.geometry.base import BaseGeometry

_SAGITTA_MM = 0.001


def read_reference(data: bytes) -> GerberFile:
    """Parse a file, warnings left out: they are about deprecated commands."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return GerberFile.from_string(data.decode())


def reference_counts(file: GerberFile) -> tuple[int, int, int]:
    """Strokes, flashes and regions."""
    kinds = [type(item) for item in file.objects]
    return kinds.count(go.Line) + kinds.count(go.Arc), kinds.count(go.Flash), kinds.count(go.Region)


def reference_image(file: GerberFile) -> BaseGeometry:
    """The copper after polarity, in mm."""
    copper: BaseGeometry = shapely.Polygon()
    for dark, items in itertools.groupby(file.objects, key=lambda item: bool(item.polarity_dark)):
        area = shapely.union_all([_outline(item) for item in items])
        copper = shapely.union(copper, area) if dark else shapely.difference(copper, area)
    return copper


def _outline(item: go.GraphicObject) -> BaseGeometry:
    parts = list(item.to_primitives(unit=MM))
    shape = _polygon(parts[0]) if parts else shapely.Polygon()
    for part in parts[1:]:
        same = bool(part.polarity_dark) == bool(item.polarity_dark)
        shape = shapely.union(shape, _polygon(part)) if same else shapely.difference(shape, _polygon(part))
    return shape


def _polygon(part: gp.GraphicPrimitive) -> BaseGeometry:
    if isinstance(part, gp.Circle):
        return _buffered(shapely.Point(part.x, part.y), part.r)
    if isinstance(part, gp.Line):
        return _buffered(shapely.LineString([(part.x1, part.y1), (part.x2, part.y2)]), part.width / 2)
    if isinstance(part, gp.Arc):
        path = _chords((part.x1, part.y1), (part.x2, part.y2), (part.cx, part.cy), part.clockwise)
        return _buffered(shapely.LineString(path), part.width / 2)
    if isinstance(part, gp.Rectangle):
        box = shapely.box(-part.w / 2, -part.h / 2, part.w / 2, part.h / 2)
        return affinity.translate(affinity.rotate(box, part.rotation, (0, 0), use_radians=True), part.x, part.y)
    assert isinstance(part, gp.ArcPoly)
    ring: list[tuple[float, float]] = []
    for start, end, (clockwise, centre) in part.segments:
        ring += [start] if clockwise is None else _chords(start, end, centre, clockwise)
    return shapely.make_valid(shapely.Polygon(ring))


def _buffered(path: BaseGeometry, radius: float) -> BaseGeometry:
    segments = math.ceil(math.pi / 4 / math.acos(max(1 - _SAGITTA_MM / radius, 0.0))) if radius else 1
    return path.buffer(radius, quad_segs=max(segments, 4))


def _chords(
    start: tuple[float, float], end: tuple[float, float], centre: tuple[float, float], clockwise: bool
) -> list[tuple[float, float]]:
    (cx, cy), radius = centre, math.dist(start, centre)
    first, last = (math.atan2(y - cy, x - cx) for x, y in (start, end))
    sweep = (first - last if clockwise else last - first) % math.tau or math.tau
    turns = first + (-1 if clockwise else 1) * np.linspace(0, sweep, 257)
    return [(cx + radius * math.cos(turn), cy + radius * math.sin(turn)) for turn in turns]
