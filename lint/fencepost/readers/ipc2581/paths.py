"""Polygons and polylines: corners and curves, and the chords that stand for the curves."""

from __future__ import annotations

import math
from typing import Self

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from fencepost.frozen import dataclass
from fencepost.limits import DEFAULT_LIMITS
from fencepost.meeting import TooManyMeet, check_crossings, sides
from fencepost.ranges import ranges
from fencepost.readers.artwork import SAGITTA_MM
from fencepost.readers.gerber.arcs import arcs_of
from fencepost.readers.ipc2581.document import Node

ROUNDING_MM = 0.02
"""How coarse coordinates may be: files in inches with three decimals are in use, and their radii agree no better."""


@dataclass(frozen=True, eq=False)
class Path:
    """m corners in mm, k of them reached by an arc.

    xy         float64 (m, 2)
    at         int64 (k)       which corners; never the first
    centre     float64 (k, 2)  of those arcs
    clockwise  bool (k)
    """

    xy: NDArray[np.float64]
    at: NDArray[np.int64]
    centre: NDArray[np.float64]
    clockwise: NDArray[np.bool_]

    @classmethod
    def of(cls, node: Node, scale: float) -> Self:
        """The PolyBegin and PolySteps of an element; `scale` is the file's unit in mm."""
        xy = np.frombuffer(node.points).reshape(-1, 2) * scale if node.points else np.empty((0, 2))
        if not node.curves:
            return cls(xy, *_NO_CURVES)
        return cls(
            xy,
            np.array([curve.point for curve in node.curves], dtype=np.int64),
            np.array([(curve.x, curve.y) for curve in node.curves]) * scale,
            np.array([curve.clockwise for curve in node.curves]),
        )

    @classmethod
    def straight(cls, corners: NDArray[np.float64]) -> Self:
        """A path without curves."""
        return cls(corners, *_NO_CURVES)

    def moved(self, matrix: NDArray[np.float64], shift: NDArray[np.float64]) -> Self:
        """Under a similarity: every point p becomes matrix @ p + shift."""
        turned_over = bool(np.linalg.det(matrix) < 0)
        with np.errstate(all="ignore"):  # what is out of reach is refused where the curves become chords
            xy, centre = self.xy @ matrix.T + shift, self.centre @ matrix.T + shift
        return type(self)(xy, self.at, centre, self.clockwise ^ turned_over)

    def chords(self) -> NDArray[np.float64]:
        """Its points with the arcs as chords, (p, 2). Raises ValueError for what is out of reach or fits no centre."""
        if not all((np.abs(points) <= DEFAULT_LIMITS.reach).all() for points in (self.xy, self.centre)):
            raise ValueError(f"coordinates within {DEFAULT_LIMITS.reach:g} mm (limit reach)")
        if not len(self.at):
            return self.xy
        xy, _, sound = with_chords(self.xy, self.at, self.centre, self.clockwise, DEFAULT_LIMITS.points)
        if not sound.all():
            raise ValueError("a curve whose ends are equally far from its centre")
        return xy


_NO_CURVES = (np.empty(0, dtype=np.int64), np.empty((0, 2)), np.empty(0, dtype=bool))


def with_chords(
    xy: NDArray[np.float64],
    at: NDArray[np.int64],
    centre: NDArray[np.float64],
    clockwise: NDArray[np.bool_],
    most: int,
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.bool_]]:
    """Any number of paths at once, columns as in `Path`: each arc's end becomes the ends of its chords.

    The points (p, 2); for every row of `xy`, and one past the last, the row of its first point there (m + 1); and
    whether each arc has a centre that fits both its ends (k). Raises ValueError for more points than `most`.
    """
    arcs = arcs_of(xy[at - 1], xy[at], centre - xy[at - 1], clockwise, np.zeros(len(at), dtype=bool), ROUNDING_MM)
    chords = arcs.chords()
    rows = np.ones(len(xy), dtype=np.int64)
    rows[at] = chords
    begins = np.concatenate([[0], np.cumsum(rows)])
    if begins[-1] > most:
        raise ValueError(f"at most {most:,} points in all curves (limit points)")
    points = np.empty((int(begins[-1]), 2))
    points[begins[1:] - 1] = xy
    points[ranges(begins[at], chords - 1)] = np.delete(arcs.points(chords), np.cumsum(chords) - 1, axis=0)
    return points, begins, arcs.sound


def polygon_of(outer: Path, holes: list[Path]) -> BaseGeometry:
    """The area of a contour without its cut-outs. Raises ValueError for curves that cannot be, and many crossings."""
    rings = [ring for ring in (path.chords() for path in (outer, *holes)) if len(ring) >= 3]
    if not rings or len(outer.xy) < 2:
        return Polygon()
    area = Polygon(rings[0], rings[1:])
    if area.is_valid:
        return area
    try:
        check_crossings(np.concatenate([sides(ring) for ring in rings]), DEFAULT_LIMITS.crossings)
    except TooManyMeet as error:
        raise ValueError(f"a contour that does not cross itself; it has {error}") from None
    return areas_of(shapely.make_valid(area))


def areas_of(shape: BaseGeometry) -> BaseGeometry:
    """What of a shape has area, without the lines and points that mending may leave."""
    if shape.geom_type in ("Polygon", "MultiPolygon"):
        return shape
    parts = shapely.get_parts(shape)
    return shapely.union_all(parts[shapely.area(parts) > 0])


def chords_a_quarter(radius: float) -> int:
    """How many chords keep a quarter of a circle within SAGITTA_MM, for buffers."""
    step = 4 * math.asin(math.sqrt(min(SAGITTA_MM / (2 * radius), 0.5))) if radius > 0 else math.pi
    return max(4, math.ceil(math.pi / 2 / step))


def drawn_out(shape: BaseGeometry, width: float) -> BaseGeometry:
    """Everything within half a width of a shape."""
    return shapely.buffer(shape, width / 2, quad_segs=chords_a_quarter(width / 2))
