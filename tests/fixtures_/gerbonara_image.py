"""The copper of a Gerber file as the reference library gerbonara reads it."""

from __future__ import annotations

import math
import warnings

import numpy as np
import shapely
from gerbonara import GerberFile
from gerbonara import graphic_primitives as gp
from gerbonara.utils import MM
from shapely import affinity
from shapely.geometry.base import BaseGeometry

SEGMENTS = 64


def read(data: bytes, name: str = "layer.gbr") -> GerberFile:
    """Parse a file; whatever the library does not understand is an error."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return GerberFile.from_string(data.decode(), filename=name)


def image(file: GerberFile) -> BaseGeometry:
    """Copper after polarity, in mm."""
    copper: BaseGeometry = shapely.Polygon()
    run: list[BaseGeometry] = []
    dark = True
    for item in [*file.objects, None]:
        if item is None or bool(item.polarity_dark) != dark:
            area = shapely.union_all(run)
            copper = copper.union(area) if dark else copper.difference(area)
            run, dark = [], not dark
        if item is not None:
            run.append(shapely.union_all([_polygon(part) for part in item.to_primitives(unit=MM)]))
    return copper


def _polygon(part: gp.GraphicPrimitive) -> BaseGeometry:
    if isinstance(part, gp.Circle):
        return shapely.Point(part.x, part.y).buffer(part.r, quad_segs=SEGMENTS)
    if isinstance(part, gp.Line):
        ends = [(part.x1, part.y1), (part.x2, part.y2)]
        return shapely.LineString(ends).buffer(part.width / 2, quad_segs=SEGMENTS)
    if isinstance(part, gp.Arc):
        return shapely.LineString(_chords(part)).buffer(part.width / 2, quad_segs=SEGMENTS)
    if isinstance(part, gp.Rectangle):
        box = shapely.box(-part.w / 2, -part.h / 2, part.w / 2, part.h / 2)
        return affinity.translate(affinity.rotate(box, part.rotation, (0, 0), use_radians=True), part.x, part.y)
    assert isinstance(part, gp.ArcPoly)
    assert not any(part.arc_centers or [])
    return shapely.make_valid(shapely.Polygon(part.outline))


def _chords(arc: gp.Arc) -> list[tuple[float, float]]:
    radius = math.dist((arc.x1, arc.y1), (arc.cx, arc.cy))
    first, last = math.atan2(arc.y1 - arc.cy, arc.x1 - arc.cx), math.atan2(arc.y2 - arc.cy, arc.x2 - arc.cx)
    sweep = (first - last if arc.clockwise else last - first) % math.tau or math.tau
    turns = first + (-1 if arc.clockwise else 1) * np.linspace(0, sweep, 257)
    return [(arc.cx + radius * math.cos(turn), arc.cy + radius * math.sin(turn)) for turn in turns]
