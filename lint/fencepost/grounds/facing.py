"""In which squares of a grid two pieces of copper may lie over one another, none of the other pieces between them.

A square that a piece covers whole hides what is above it from what is below it. So most pairs of pieces, and most of
the board, are out before any outline is cut.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.connect import components
from fencepost.frozen import dataclass
from fencepost.grounds.sheets import Points, side_by_side
from fencepost.grounds.uniting import union_by
from fencepost.grounds.ways import nearest_points
from fencepost.ranges import from_zero, ranges

SHORT = 0.9
"""Of a square's side: edges are looked at in parts no longer than this, so that each crosses one row of middles."""

BLOCK = 3
"""Squares to the side of a block: how far these are from anything is looked up first for all of them at once."""


@dataclass(frozen=True, eq=False)
class Grid:
    """Squares of `side` mm, numbered row by row: the middle of the first one is at `low`."""

    low: NDArray[np.float64]
    side: float
    columns: int
    rows: int

    @property
    def count(self) -> int:
        return self.columns * self.rows

    def place(self, square: NDArray[np.int64]) -> NDArray[np.int64]:
        """(c, 2): column and row of squares (c)."""
        return np.column_stack([square % self.columns, square // self.columns])

    def middle(self, square: NDArray[np.int64]) -> NDArray[np.float64]:
        """(c, 2), in mm."""
        return np.asarray(self.low + self.side * self.place(square))

    def patches(self, square: NDArray[np.int64], sheet: NDArray[np.int64]) -> NDArray[np.int32]:
        """(c): numbers from 0 on; squares of one sheet that hang together by their sides have the same one."""
        key = sheet * self.count + square
        order = np.argsort(key)
        links = []
        beside, above = square % self.columns < self.columns - 1, square < self.count - self.columns
        for step, here in ((1, beside), (self.columns, above)):
            one = order[here[order]]
            other = np.minimum(np.searchsorted(key, key[one] + step, sorter=order), len(key) - 1)
            met = key[order[other]] == key[one] + step
            links.append(np.stack([one[met], order[other[met]]]))
        return components(len(key), np.concatenate(links, axis=1))

    def outlines(self, square: NDArray[np.int64], patch: NDArray[np.integer]) -> NDArray[np.object_]:
        """The squares of each patch as one polygon, by number; every number has some."""
        order = np.lexsort((square, patch))
        square, patch = square[order], patch[order]
        begins = (np.diff(square, prepend=-2) != 1) | (np.diff(patch, prepend=-1) != 0) | (square % self.columns == 0)
        first = np.flatnonzero(begins)
        last = np.append(first[1:], len(square)) - 1
        # Neighbours have the very same corners, so that a union leaves no slit.
        low = self.low + self.side * (self.place(square[first]) - 0.5)
        high = self.low + self.side * (self.place(square[last]) + 0.5)
        return union_by(shapely.box(*low.T, *high.T), patch[first])


@dataclass(frozen=True, eq=False)
class Facing:
    """Two pieces of different layers, rows of what was asked, and the squares int64 (c) in which they may face."""

    upper: int
    lower: int
    grid: Grid
    square: NDArray[np.int64]

    @property
    def extent(self) -> float:
        """No two points of the squares are farther apart, in mm."""
        return float(self.grid.side * np.hypot(*np.ptp(self.grid.place(self.square), axis=0) + 1))

    @property
    def region(self) -> BaseGeometry:
        """The squares as one."""
        region: BaseGeometry = self.grid.outlines(self.square, np.zeros(len(self.square), dtype=np.int32))[0]
        return region


def facing(areas: NDArray[np.object_], layer: NDArray[np.int32], side: float) -> Iterator[Facing]:
    """All pairs of these areas (n) on layers (n) that may face one another, in squares of `side` mm; by rows."""
    if not len(areas):
        return
    box = shapely.total_bounds(areas).reshape(2, 2)
    columns, rows = (np.ceil((box[1] - box[0]) / side).astype(int) + 1).tolist()
    grid = Grid(box[0], side, columns, rows)
    square, owner, whole = _squares(grid, areas)
    order = np.lexsort((layer[owner], square))
    square, owner, whole = square[order], owner[order], whole[order]
    hidden = np.concatenate([[0], np.cumsum(whole)])
    found = []
    for ahead in range(1, int(np.unique(square, return_counts=True)[1].max())):
        one = np.flatnonzero(square[ahead:] == square[:-ahead])
        other = one + ahead
        seen = (hidden[other] == hidden[one + 1]) & (layer[owner[one]] < layer[owner[other]])
        found.append(np.column_stack([owner[one[seen]], owner[other[seen]], square[one[seen]]]))
    pairs = np.concatenate(found) if found else np.empty((0, 3), dtype=np.int64)
    pairs = pairs[np.lexsort(pairs.T[::-1])]
    begins = np.flatnonzero((np.diff(pairs[:, :2], axis=0, prepend=-1) != 0).any(axis=1))
    for own in np.split(pairs, begins[1:]) if len(pairs) else ():
        yield Facing(int(own[0, 0]), int(own[0, 1]), grid, own[:, 2])


def farthest(
    grid: Grid,
    square: NDArray[np.int64],
    sheet: NDArray[np.int64],
    points: Points,
    enough: NDArray[np.float64] | float = 0.0,
) -> NDArray[np.float64]:
    """(c): no place in a square (c) is farther from all points of its sheet (c) than this, in mm.

    Where that is no more than `enough`, by sheet (s) or for all, it may be told less narrowly.
    """
    limit = np.broadcast_to(enough, int(points.sheet.max()) + 1)[sheet]
    key = sheet * grid.count + grid.place(square) // BLOCK @ [1, grid.columns]
    _, first, which = np.unique(key, return_index=True, return_inverse=True)
    middle = grid.low + grid.side * (grid.place(square[first]) // BLOCK * BLOCK + (BLOCK - 1) / 2)
    around = _farthest(middle, BLOCK * grid.side / 2, sheet[first], points)
    # What a square by itself is told is more than what its block is told by no more than this.
    away = around[which] + grid.side / 2 * (math.sqrt(2) - 1)
    left = np.flatnonzero(away > limit)
    away[left] = _farthest(grid.middle(square[left]), grid.side / 2, sheet[left], points)
    return away


def _farthest(
    middle: NDArray[np.float64], half: float, sheet: NDArray[np.int64], points: Points
) -> NDArray[np.float64]:
    """How far the point nearest to the middle of each square (c, 2), on sheets (c), is from its farthest corner."""
    corners = np.concatenate([points.xy, middle])
    apart = side_by_side(int(points.sheet.max()) + 1, np.concatenate([corners.min(axis=0), corners.max(axis=0)]))
    nearest = nearest_points(points.xy + apart[points.sheet], middle + apart[sheet])
    return np.asarray(np.hypot(*(np.abs(middle - points.xy[nearest]) + half).T))


def _squares(grid: Grid, areas: NDArray[np.object_]) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """The squares that each area may have a part in, the area, and whether it is all of the square."""
    begin, end, owner = _edges(areas, SHORT * grid.side)
    begin, end = (begin - grid.low) / grid.side, (end - grid.low) / grid.side
    base = owner * grid.count

    (c0, r0), (c1, r1) = np.rint(begin).astype(np.int64).T, np.rint(end).astype(np.int64).T
    here = base + grid.columns * r0 + c0
    across = np.flatnonzero((c0 != c1) | (r0 != r1))
    beside = [base[across] + grid.columns * r[across] + c[across] for c, r in ((c1, r1), (c0, r1), (c1, r0))]
    edge = np.unique(np.concatenate([here[np.diff(here, prepend=-1) != 0], *beside]))

    row = np.ceil(np.minimum(begin[:, 1], end[:, 1])).astype(np.int64)
    crossing = row < np.maximum(begin[:, 1], end[:, 1])
    begin, end, row, base = begin[crossing], end[crossing], row[crossing], base[crossing]
    x = begin[:, 0] + (row - begin[:, 1]) * (end[:, 0] - begin[:, 0]) / (end[:, 1] - begin[:, 1])
    start = base + grid.columns * row
    order = np.lexsort((x, start))
    first, last = np.ceil(x[order[::2]]).astype(np.int64), np.floor(x[order[1::2]]).astype(np.int64)
    count = np.maximum(last - first + 1, 0)
    inner = ranges(start[order[::2]] + first, count)

    whole = np.setdiff1d(inner, edge, assume_unique=True)
    both = np.concatenate([edge, whole])
    return both % grid.count, both // grid.count, np.arange(len(both)) >= len(edge)


def _edges(
    areas: NDArray[np.object_], longest: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """From where (e, 2) to where (e, 2) the edges of some areas go, in parts no longer than `longest`, and whose."""
    polygons, area = shapely.get_parts(areas, return_index=True)
    rings, polygon = shapely.get_rings(polygons, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    begin, end = xy[:-1][same], xy[1:][same]
    owner: NDArray[np.int64] = area[polygon[ring[1:][same]]]
    parts = np.maximum(np.ceil(np.hypot(*(end - begin).T) / longest), 1).astype(np.int64)
    step: NDArray[np.float64] = np.repeat((end - begin) / parts[:, None], parts, axis=0)
    place = from_zero(parts)
    first = np.repeat(begin, parts, axis=0)
    stop = first + step * (place + 1)[:, None]
    stop[np.cumsum(parts) - 1] = end  # each part ends where the next one starts, to the last bit: they are counted
    return first + step * place[:, None], stop, np.repeat(owner, parts)
