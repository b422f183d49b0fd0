"""What a via keeps off, as shapes and the distances of its centre from them, and what they leave of an area."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.frozen import dataclass
from fencepost.placement.cells import Strokes, left_by

CHORDS, ROUGH_CHORDS = 24, 4
"""Of a quarter circle."""

SLACK = 1 / np.cos(0.75 * np.pi / (2 * CHORDS))
"""Chords of a buffer lie within the circle, by an angle of no more than 1.5 steps: so much wider, they lie outside."""

REACH = 1.05
"""Few chords lie within a circle by less than this."""

MARGIN_MM = 0.0008
"""Kept in hand, so that a place that is legal stays so when it is rounded to 1 µm."""

FEW = 4
"""Shapes that are cut out of a region one by one."""

HOLES, EDGE, PLACED = 0, -1, -2
"""Instead of a layer."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Obstacles:
    """k shapes, and how far (mm) the centre of a via must stay away from each.

    layer  int32 (k)  1-based, or HOLES, EDGE, PLACED
    row    int64 (k)  the part of the layer's copper, or the hole; of what was placed its number
    pour   bool (k)   copper that a layout program would fill anew around a via
    unit   int64 (k)  what they belong to, which moves as one
    moves  bool (k)   whether it can be moved; a pour cannot
    """

    geometry: NDArray[np.object_]
    keep: NDArray[np.float64]
    layer: NDArray[np.int32]
    row: NDArray[np.int64]
    pour: NDArray[np.bool_]
    unit: NDArray[np.int64]
    moves: NDArray[np.bool_]

    def grown(self, rows: NDArray[np.int64], chords: int = CHORDS) -> NDArray[np.object_]:
        """Where the centre of a via cannot be for each of some: never too small for the chords of `CHORDS`."""
        return grown(self.geometry[rows], self.away[rows], chords)

    def roughly_legal(self, region: BaseGeometry) -> BaseGeometry:
        """What of a region is left where little is known of arcs: all that is legal, and slivers that are not.

        Quick, and mostly the answer: a pour of another net, or a few vias and traces, leave nothing. So what takes much
        and costs little comes first, and what follows has only the rest to look at.
        """
        if region.is_empty:
            return region
        dimension = shapely.get_dimensions(self.geometry)
        solid = self.geometry[dimension == 2]
        shapely.prepare(region)
        left = without(region, solid[shapely.intersects(region, solid)]) if len(solid) else region
        if not left.is_empty:
            drawn = np.flatnonzero(dimension < 2)
            left = polygonal(left_by(Strokes.of(self.geometry[drawn], self.keep[drawn]), left))
        for kind in range(3):
            if not left.is_empty:
                near = self._near(left, np.flatnonzero(dimension == kind))
                left = without(left, grown(self.geometry[near], self.keep[near], ROUGH_CHORDS))
        return left

    def legal(self, region: BaseGeometry) -> BaseGeometry:
        """Where in a region the centre of a via can be."""
        return without(region, self.grown(self._near(region, np.arange(len(self.keep)))))

    def _near(self, region: BaseGeometry, rows: NDArray[np.int64]) -> NDArray[np.int64]:
        """Those of some that are in the way somewhere in a region."""
        shapely.prepare(region)
        near: NDArray[np.int64] = rows[shapely.dwithin(region, self.geometry[rows], self.away[rows])]
        return near

    @cached_property
    def away(self) -> NDArray[np.float64]:
        """How far the centre of a via must stay away, and all that is kept in hand."""
        return np.asarray(self.keep * SLACK + MARGIN_MM)

    def trimmed(self, box: Box) -> Obstacles:
        """The same for the inside of a box: lines cut near it, so that a long one costs no more than a short.

        Of points of one unit at one place, as a via's pads and its hole, only the one that is kept off most.
        """
        geometry = clipped(self.geometry, box, float(self.away.max(initial=0.0)))
        points = shapely.get_type_id(geometry) == shapely.GeometryType.POINT
        rows = np.flatnonzero(points)
        place = np.column_stack([self.unit[rows], np.round(shapely.get_coordinates(geometry[rows]), 6)])
        order = np.lexsort((-self.keep[rows], *place.T))
        first = np.diff(place[order], axis=0, prepend=np.nan).any(axis=1)
        kept = np.sort(np.concatenate([np.flatnonzero(~points), rows[order[first]]]))
        return replace(self, geometry=geometry).take(kept)

    @property
    def columns(self) -> tuple[NDArray[Any], ...]:
        return (self.geometry, self.keep, self.layer, self.row, self.pour, self.unit, self.moves)

    def take(self, rows: NDArray[np.int64]) -> Obstacles:
        """Only these."""
        return Obstacles(*(column[rows] for column in self.columns))


def without(region: BaseGeometry, shapes: NDArray[np.object_]) -> BaseGeometry:
    """What shapes leave of a region."""
    # A few are cut out sooner than united; and once nothing is left, the rest of them matter no more.
    for shape in shapes if len(shapes) <= FEW else [shapely.union_all(shapes)]:
        if not region.is_empty:
            region = polygonal(shapely.difference(region, shape))
    return region


def grown(geometry: NDArray[np.object_], by: NDArray[np.float64], chords: int) -> NDArray[np.object_]:
    """Shapes drawn out, each by its own distance, with so many chords to a quarter circle."""
    drawn: NDArray[np.object_] = shapely.buffer(geometry, by, quad_segs=chords)
    return drawn


def clipped(geometry: NDArray[np.object_], box: Box, by: float) -> NDArray[np.object_]:
    """Lines cut at the sides of a box that is wider by so much; points and areas as they are."""
    lines = shapely.get_type_id(geometry) == shapely.GeometryType.LINESTRING
    cut: NDArray[np.object_] = geometry.copy()
    if len(geometry):
        cut[lines] = shapely.clip_by_rect(geometry[lines], *_wider(box, by))
    return cut


def polygonal(shape: BaseGeometry) -> BaseGeometry:
    """A shape without the points and lines that are left where areas only touch."""
    if shape.geom_type in ("Polygon", "MultiPolygon"):
        return shape
    return shapely.union_all([polygonal(part) for part in shapely.get_parts(shape) if part.area > 0])


def grown_box(box: Box, by: float) -> BaseGeometry:
    """A box that is wider on every side."""
    return shapely.box(*_wider(box, by))


def _wider(box: Box, by: float) -> Box:
    x0, y0, x1, y1 = box
    return x0 - by, y0 - by, x1 + by, y1 + by
