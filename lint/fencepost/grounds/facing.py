"""In which squares of a grid two pieces of copper may lie over one another, none of the other pieces between them.

A square that a piece covers whole hides what is above it from what is below it. So most pairs of pieces, and most of
the board, are out before any outline is cut.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree

SHORT = 0.9
"""Of a square's side: edges are looked at in parts no longer than this, so that each crosses one row of middles."""


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


@dataclass(frozen=True, eq=False)
class Facing:
    """Two pieces of different layers, rows of what was asked, and the squares int64 (c) in which they may face."""

    upper: int
    lower: int
    grid: Grid
    square: NDArray[np.int64]

    @property
    def place(self) -> NDArray[np.int64]:
        """(c, 2): column and row of each square."""
        return np.column_stack([self.square % self.grid.columns, self.square // self.grid.columns])

    @property
    def extent(self) -> float:
        """No two points of the squares are farther apart, in mm."""
        return float(self.grid.side * np.hypot(*np.ptp(self.place, axis=0) + 1))

    @property
    def middle(self) -> NDArray[np.float64]:
        """(c, 2), in mm."""
        return self.grid.low + self.grid.side * self.place

    @property
    def squares(self) -> NDArray[np.object_]:
        """(c): polygons. Neighbours have the very same corners, so that a union leaves no slit."""
        grid, place = self.grid, self.place
        low, high = (grid.low + grid.side * (place + by) for by in (-0.5, 0.5))
        boxes: NDArray[np.object_] = shapely.box(*low.T, *high.T)
        return boxes

    def farthest(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(c): no place in a square is farther from all of some points (n, 2) than this, in mm."""
        middle = self.middle
        nearest = points[KDTree(points).query(middle)[1]]
        return np.asarray(np.hypot(*(np.abs(middle - nearest) + self.grid.side / 2).T))


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
    inner = np.repeat(start[order[::2]] + first - np.cumsum(count) + count, count) + np.arange(int(count.sum()))

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
    begin, end, owner = xy[:-1][same], xy[1:][same], area[polygon[ring[1:][same]]]
    parts = np.maximum(np.ceil(np.hypot(*(end - begin).T) / longest), 1).astype(np.int64)
    step = np.repeat((end - begin) / parts[:, None], parts, axis=0)
    place = np.arange(int(parts.sum())) - np.repeat(np.cumsum(parts) - parts, parts)
    first = np.repeat(begin, parts, axis=0)
    stop = first + step * (place + 1)[:, None]
    stop[np.cumsum(parts) - 1] = end  # each part ends where the next one starts, to the last bit: they are counted
    return first + step * place[:, None], stop, np.repeat(owner, parts)
