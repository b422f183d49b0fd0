"""What lies over and under a point of a trace: on each side the nearest ground or power copper that covers it."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import spans
from fencepost.board.model import Board, NetKind
from fencepost.board.segments import segments_of
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.ranges import from_zero, ranges

ABOVE, BELOW = 0, 1
SIDES = (ABOVE, BELOW)
OTHER = {ABOVE: BELOW, BELOW: ABOVE}

STRAIGHT_MM2 = 1e-10
"""Of a parallelogram between two steps of a line: with less it is straight."""

TOGETHER = 8
"""Strokes that share a box: fewer boxes, and still none much larger than its strokes."""


@dataclass(frozen=True, eq=False)
class Areas:
    """Polygons, prepared, with the piece of each and a tree over them."""

    geometry: NDArray[np.object_]
    piece: NDArray[np.int32]
    tree: shapely.STRtree


@dataclass(frozen=True, eq=False)
class Strokes:
    """Straight strokes with round ends, n of them: from start to end (n, 2), everything within `reach` (n), in mm.

    The tree is over boxes of up to TOGETHER strokes that follow one another in one part: group i has strokes first[i]
    to first[i + 1] - 1.
    """

    start: NDArray[np.float64]
    end: NDArray[np.float64]
    reach: NDArray[np.float64]
    piece: NDArray[np.int32]
    first: NDArray[np.int64]
    tree: shapely.STRtree

    def near(self, shapes: NDArray[np.object_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Pairs of shape and stroke, all those whose boxes meet."""
        low, high = np.split(shapely.bounds(shapes), 2, axis=1)
        box, group = self.tree.query(shapes)
        stroke, box = _each(group, box, self.first, np.diff(self.first))
        for axis in (0, 1):
            least, most = self._extent[axis]
            meet = (least[stroke] <= high[box, axis]) & (most[stroke] >= low[box, axis])
            box, stroke = box[meet], stroke[meet]
        return box, stroke

    @cached_property
    def _extent(self) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
        """Where each stroke begins and ends in x, and in y."""
        both = (self.start.T, self.end.T)
        return [(np.minimum(a, b) - self.reach, np.maximum(a, b) + self.reach) for a, b in zip(*both, strict=True)]

    def covers(self, strokes: NDArray[np.int64], xy: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether each of these strokes covers each of as many points (n, 2)."""
        covered = np.ones(len(strokes), dtype=bool)
        for axis in (0, 1):
            low, high = self._extent[axis]
            # Most points lie outside of the box of the stroke.
            left = np.flatnonzero(covered)
            at, stroke = xy[left, axis], strokes[left]
            covered[left] = (low[stroke] <= at) & (at <= high[stroke])
        left = np.flatnonzero(covered)
        stroke = strokes[left]
        (along, rise), (to, up) = (self.end[stroke] - self.start[stroke]).T, (xy[left] - self.start[stroke]).T
        square = along**2 + rise**2
        part = np.clip((to * along + up * rise) / np.where(square > 0, square, 1.0), 0.0, 1.0)
        covered[left] = np.hypot(to - part * along, up - part * rise) <= self.reach[stroke]
        return covered


@dataclass(frozen=True, eq=False)
class Planes:
    """The ground and power copper of one layer and a tree over it; `part` are indices into the layer's Copper."""

    part: NDArray[np.int64]
    geometry: NDArray[np.object_]
    reach: NDArray[np.float64]
    piece: NDArray[np.int32]
    tree: shapely.STRtree

    @cached_property
    def areas(self) -> Areas:
        """The parts that are outlines."""
        solid = self.reach == 0
        return Areas(self.geometry[solid], self.piece[solid], shapely.STRtree(self.geometry[solid]))

    @cached_property
    def strokes(self) -> Strokes:
        """The parts that are drawn, stroke by stroke: the box of a whole chain says little about where it is."""
        drawn = np.flatnonzero(self.reach > 0)
        start, end, part = segments_of(self.geometry[drawn])
        reach, piece = self.reach[drawn[part]], self.piece[drawn[part]]
        begin = np.flatnonzero(np.diff(part, prepend=-1))
        group = np.flatnonzero(from_zero(np.diff(begin, append=len(part))) % TOGETHER == 0)
        low = np.minimum.reduceat(np.minimum(start, end) - reach[:, None], group) if len(group) else start
        high = np.maximum.reduceat(np.maximum(start, end) + reach[:, None], group) if len(group) else start
        tree = shapely.STRtree(spans(np.hstack([low, high])))
        return Strokes(start, end, reach, piece, np.append(group, len(part)), tree)

    def piece_at(self, points: NDArray[np.object_], margin: float = 0.0) -> NDArray[np.int32]:
        """The piece that covers each point, int32 (n), or the nearest within `margin` mm of it; -1 where none does."""
        covering = np.full(len(points), -1, dtype=np.int32)
        if margin > 0:
            (point, part), away = self._apart(points, margin)
            order = np.lexsort((self.piece[part], away, point))
            point, first = np.unique(point[order], return_index=True)
            covering[point] = self.piece[part[order][first]]
            return covering
        areas, strokes = self.areas, self.strokes
        point, area = areas.tree.query(points)
        inside = shapely.intersects(areas.geometry[area], points[point])
        covering[point[inside]] = areas.piece[area[inside]]
        open_ = np.flatnonzero(covering < 0)
        xy = shapely.get_coordinates(points[open_])
        point, stroke = strokes.near(points[open_])
        inside = strokes.covers(stroke, xy[point])
        covering[open_[point[inside]]] = strokes.piece[stroke[inside]]
        return covering

    def pieces_along(
        self, xy: NDArray[np.float64], lines: NDArray[np.object_], of: NDArray[np.integer[Any]]
    ) -> NDArray[np.int32]:
        """The piece that covers each of some points, as `piece_at` gives it, int32 (n); -1 where none does.

        `of` (n) is the line on which each lies, those of one line together. Where one piece covers all of a line, that
        is said of all its points at once, and where no copper is near it: most traces run over a plane, or over none.
        """
        first = np.flatnonzero(np.diff(of, prepend=-1))
        count = np.diff(first, append=len(xy))
        shapes = lines[of[first]]
        areas, strokes = self.areas, self.strokes
        line, area = areas.tree.query(shapes)
        whole = shapely.contains_properly(areas.geometry[area], shapes[line])
        covered = np.full(len(first), -1, dtype=np.int32)
        covered[line[whole]] = areas.piece[area[whole]]
        found: NDArray[np.int32] = np.repeat(covered, count)

        partly = np.flatnonzero(covered[line] == -1)
        partly = partly[shapely.intersects(areas.geometry[area[partly]], shapes[line[partly]])]
        point, area = _each(line[partly], area[partly], first, count)
        inside = shapely.intersects_xy(areas.geometry[area], *xy[point].T)
        found[point[inside]] = areas.piece[area[inside]]

        open_ = np.flatnonzero(found == -1)
        if not len(open_):
            return found
        first, xy = np.flatnonzero(np.diff(of[open_], prepend=-1)), xy[open_]
        low, high = np.minimum.reduceat(xy, first), np.maximum.reduceat(xy, first)
        line, stroke = strokes.near(spans(np.hstack([low, high])))
        point, stroke = _each(line, stroke, first, np.diff(first, append=len(open_)))
        inside = strokes.covers(stroke, xy[point])
        found[open_[point[inside]]] = strokes.piece[stroke[inside]]
        return found

    def _apart(
        self, points: NDArray[np.object_], margin: float
    ) -> tuple[tuple[NDArray[np.int64], NDArray[np.int64]], NDArray[np.float64]]:
        """Pairs of point and part within `margin` of one another, and their distance."""
        point, part = self.tree.query(shapely.buffer(points, margin, quad_segs=1, cap_style="square"))
        away = np.maximum(shapely.distance(self.geometry[part], points[point]) - self.reach[part], 0.0)
        near = away <= margin
        return (point[near], part[near]), away[near]


def _each(
    line: NDArray[np.int64], other: NDArray[np.int64], first: NDArray[np.int64], count: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of line and something else as pairs of point and that; line i has `count[i]` points from `first[i]` on."""
    times = count[line]
    return ranges(first[line], times), np.repeat(other, times)


@dataclass(frozen=True, eq=False)
class Lines:
    """Short lines on which points lie, those of one line together. `of` int64 (n): the line of each point."""

    shape: NDArray[np.object_]
    of: NDArray[np.int64]

    @classmethod
    def through(cls, xy: NDArray[np.float64], stretch: NDArray[np.integer[Any]]) -> Lines:
        """A line for each stretch, through the points (n, 2) that have its number; a point where there is only one."""
        begins = np.diff(stretch, prepend=-1) != 0
        of, first = np.cumsum(begins) - 1, np.flatnonzero(begins)
        # Points between two others on one straight line say nothing of it.
        ends = begins | np.append(begins[1:], True)
        (x, y), inner = np.diff(xy, axis=0).T, ~ends[1:-1]
        bend = np.abs(x[:-1] * y[1:] - y[:-1] * x[1:]) > STRAIGHT_MM2
        ends[1:-1] |= inner & (bend | (x[:-1] * x[1:] + y[:-1] * y[1:] <= 0))
        alone = np.bincount(of) == 1
        shape = np.empty(len(first), dtype=object)
        shape[alone] = shapely.points(xy[first[alone]])
        ends &= ~alone[of]
        shape[~alone] = shapely.linestrings(xy[ends], indices=(np.cumsum(~alone) - 1)[of[ends]])
        return cls(shape, of)


@shared
def planes_of(board: Board, layer: int) -> Planes:
    """The ground and power copper of a layer (1-based)."""
    copper = board.copper[layer - 1]
    solid = np.array([*(net.kind is not NetKind.SIGNAL for net in board.nets), False])
    parts = np.flatnonzero(solid[board.pieces.net[copper.piece]])
    geometry = copper.geometry[parts]
    shapely.prepare(geometry[copper.reach[parts] == 0])
    tree = shapely.STRtree(spans(copper.bounds[parts]))
    return Planes(parts, geometry, copper.reach[parts], copper.piece[parts], tree)


def cover(
    board: Board,
    layer: NDArray[np.int32],
    xy: NDArray[np.float64],
    margin: float = 0.0,
    stretch: NDArray[np.integer[Any]] | None = None,
) -> NDArray[np.int32]:
    """The pieces above and below n points on traces, int32 (n, 2); -1 where no ground or power copper is on that side.

    `layer` (n) is the trace's own layer, 1-based; `xy` is (n, 2) in mm. A layer without copper at the point is looked
    through to the next one. Copper that ends no farther than `margin` mm from the point counts as covering it.
    Without a margin, `stretch` (n) may number short lines on which the points lie, from 0 on and in their order: it
    saves looking for each.
    """
    found = np.full((len(xy), 2), -1, dtype=np.int32)
    for own in np.unique(layer).tolist():
        rows = np.flatnonzero(layer == own)
        lines = None if stretch is None or margin > 0 else Lines.through(xy[rows], stretch[rows])
        for side in SIDES:
            found[rows, side] = cover_towards(board, own, side, xy[rows], lines, margin)
    return found


def cover_towards(
    board: Board,
    layer: int,
    side: int,
    xy: NDArray[np.float64],
    lines: Lines | None = None,
    margin: float = 0.0,
) -> NDArray[np.int32]:
    """The same for points on one layer (1-based) and one side of it, int32 (n)."""
    found = np.full(len(xy), -1, dtype=np.int32)
    for other in range(layer - 1, 0, -1) if side == ABOVE else range(layer + 1, board.layers + 1):
        open_ = np.flatnonzero(found < 0)
        if not len(open_):
            break
        planes = planes_of(board, other)
        if lines is None:
            found[open_] = planes.piece_at(shapely.points(xy[open_]), margin)
        else:
            found[open_] = planes.pieces_along(xy[open_], lines.shape, lines.of[open_])
    return found


def weights(board: Board, layer: NDArray[np.int32], pieces: NDArray[np.int32]) -> NDArray[np.float64]:
    """The share of the return current on each side, (n, 2): inverse to height, 0 where there is no copper.

    `pieces` (n, 2) as `cover` gives it. Rows without any copper are 0, the others add up to 1.
    """
    height = heights_of(board)[layer[:, None], board.pieces.layer[pieces]]
    inverse = np.where(pieces >= 0, 1.0 / height, 0.0)
    total = inverse.sum(axis=1, keepdims=True)
    share: NDArray[np.float64] = np.divide(inverse, total, out=np.zeros_like(inverse), where=total > 0)
    return share


def smallest_share(board: Board, layer: NDArray[np.int32], piece: NDArray[np.int32]) -> NDArray[np.float64]:
    """The share of the return current that pieces (n) carry at least, (n): with copper all over the layer opposite."""
    heights, other = heights_of(board), board.pieces.layer[piece]
    share: NDArray[np.float64] = 1.0 / (1.0 + heights[layer, other] / heights[layer, layer - np.sign(other - layer)])
    return share


@shared
def heights_of(board: Board) -> NDArray[np.float64]:
    """Between any two layers (1-based), in mm; infinite from a layer to itself, to layer 0 and to layers + 1."""
    heights = np.full((board.layers + 2, board.layers + 2), np.inf)
    for one in range(1, board.layers + 1):
        for other in range(one + 1, board.layers + 1):
            heights[one, other] = heights[other, one] = board.stackup.height(one, other)
    return heights
