"""The copper of a plane in the strip that a trace's return current takes."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import QUAD_SEGS, TOUCH_MM, Board
from fencepost.signals.cover import planes_of
from fencepost.signals.runs import Run


def line_along(run: Run, begin: float, end: float) -> shapely.LineString:
    """A run from one station to another, both cut off at its ends."""
    begin, end = max(begin, 0.0), min(end, run.length)
    inner = (run.station > begin) & (run.station < end)
    first, last = run.at(np.array([begin, end]))
    return shapely.LineString(np.concatenate([[first], run.xy[inner], [last]]))


def strip_about(run: Run, begin: float, end: float, half: float) -> shapely.Polygon:
    """Everything no farther than `half` (mm) beside a run, from so far before one station to so far behind another."""
    strip: shapely.Polygon = line_along(run, begin - half, end + half).buffer(half, cap_style="flat", quad_segs=4)
    return strip


def copper_within(board: Board, piece: int, area: shapely.Polygon) -> NDArray[np.object_]:
    """The connected parts that an area leaves of a piece of ground or power copper, as polygons."""
    planes = planes_of(board, int(board.pieces.layer[piece]))
    near = planes.tree.query(area)
    near = near[planes.piece[near] == piece]
    near = near[shapely.dwithin(planes.geometry[near], area, planes.reach[near])]
    reach = planes.reach[near]
    x0, y0, x1, y1 = np.array(area.bounds) + (reach.max(initial=0.0) + TOUCH_MM) * np.array([-1, -1, 1, 1])
    shapes = shapely.clip_by_rect(planes.geometry[near], x0, y0, x1, y1)
    drawn = reach > 0
    shapes[drawn] = shapely.buffer(shapes[drawn], reach[drawn], quad_segs=QUAD_SEGS)
    together = shapely.union_all(shapes).intersection(area)
    # What is not farther apart than the tolerance is one piece.
    parts: NDArray[np.object_] = shapely.get_parts(shapely.buffer(together, TOUCH_MM / 2, quad_segs=1))
    return parts


def part_at(parts: NDArray[np.object_], xy: NDArray[np.float64]) -> int | None:
    """Which of these parts reaches a point; None where none does."""
    away = shapely.distance(parts, shapely.Point(xy))
    return int(np.argmin(away)) if len(parts) and away.min() <= 2 * TOUCH_MM else None
