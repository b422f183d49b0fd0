"""An area cut into the cells of a square grid: the parts, their areas, and the openings between them.

A cell that a slot crosses becomes several parts, so that what is not connected in the area is not connected on the
grid, however thin the slot.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from fencepost.clipping import clipped
from fencepost.frozen import dataclass
from fencepost.ranges import ranges

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Shapes = NDArray[np.object_]

_SLIVER = 1e-9
"""Parts and openings below this share of a cell are dropped; lines this near, in cells, are one."""


@dataclass(frozen=True, eq=False)
class Mesh:
    """n parts on a grid of square cells, f openings between them. Lengths in mm.

    corner    (x, y) of the grid's lower left corner
    step      side of a cell
    shape     (rows, columns) of cells
    cell      int64 (n)      row * columns + column; sorted; a cell may hold several parts, or none
    area      float64 (n)
    spot      float64 (n, 2) a point in the part: the middle of a whole cell
    is_cut    bool (n)       not a whole cell
    left, right  int64 (f)   the parts on both sides of an opening
    opening   float64 (f)    its width, at most `step`
    """

    corner: tuple[float, float]
    step: float
    shape: tuple[int, int]
    cell: Ints
    area: Floats
    spot: Floats
    is_cut: NDArray[np.bool_]
    left: Ints
    right: Ints
    opening: Floats

    def __len__(self) -> int:
        return len(self.cell)


def mesh_of(outline: Polygon, step: float) -> Mesh:
    """Cut a valid polygon, holes and all, into cells of `step` mm; the grid is centred on its bounding box."""
    west, south, east, north = outline.bounds
    columns, rows = (max(1, int(np.ceil(size / step - _SLIVER))) for size in (east - west, north - south))
    corner = ((west + east - columns * step) / 2, (south + north - rows * step) / 2)
    whole, cut_cell, shapes = _clip(outline, corner, step, (rows, columns))

    cell = np.concatenate([whole, cut_cell])
    order = np.argsort(cell, kind="stable")
    cell = cell[order]
    is_cut = order >= len(whole)
    shapes = shapes[order[is_cut] - len(whole)]
    area = np.full(len(cell), step * step, dtype=np.float64)
    area[is_cut] = shapely.area(shapes)
    spot = np.array(corner) + step * (np.stack([cell % columns, cell // columns], axis=1) + 0.5)
    spot[is_cut] = _inside(shapes)
    left, right, opening = _openings(cell, is_cut, shapes, corner, step, (rows, columns))
    return Mesh(corner, step, (rows, columns), cell, area, spot, is_cut, left, right, opening)


def _clip(
    outline: Polygon, corner: tuple[float, float], step: float, shape: tuple[int, int]
) -> tuple[Ints, Ints, Shapes]:
    """Cells wholly inside; then the cell and the polygon of every part of the others. By halving blocks of cells."""
    rows, columns = shape
    side = 1 << max(rows - 1, columns - 1).bit_length()
    at = np.zeros((1, 2), dtype=np.int64)
    pieces: Shapes = np.array([outline], dtype=object)  # The first block is larger than all of it.
    whole: list[Ints] = [np.empty(0, dtype=np.int64)]
    while True:
        area = shapely.area(pieces)
        full = area >= (side * step) ** 2 * (1 - _SLIVER)
        some = ~full & (area > step * step * _SLIVER)
        if full.any():
            run = np.arange(side)
            cells = (at[full, 1, None, None] + run[:, None]) * columns + at[full, 0, None, None] + run
            whole.append(cells.ravel())
        at, pieces = at[some], pieces[some]
        if side == 1:
            break
        side //= 2
        quarter = np.array([[0, 0], [side, 0], [0, side], [side, side]])
        at = (at[:, None] + quarter).reshape(-1, 2)
        low = np.array(corner) + step * at
        pieces = _quartered(pieces, np.hstack([low, low + side * step]), step)
    parts, owner = shapely.get_parts(pieces, return_index=True)
    keep = shapely.area(parts) > step * step * _SLIVER
    parts, owner = parts[keep], owner[keep]
    return np.concatenate(whole), at[owner, 1] * columns + at[owner, 0], parts


def _quartered(shapes: Shapes, boxes: Floats, step: float) -> Shapes:
    """(4 n): the four quarters of each shape (n), in boxes (4 n, 4) that together hold all of it."""
    wholes, bounds = np.repeat(shapes, 4), np.repeat(shapely.bounds(shapes), 4, axis=0)
    inside = ((bounds[:, :2] >= boxes[:, :2]) & (bounds[:, 2:] <= boxes[:, 2:])).all(axis=1)
    apart = ((bounds[:, 2:] <= boxes[:, :2]) | (bounds[:, :2] >= boxes[:, 2:])).any(axis=1)
    quarters: Shapes = np.where(inside, wholes, Polygon())
    cut = np.flatnonzero(~inside & ~apart)
    quarters[cut] = clipped(wholes[cut], boxes[cut])
    lost = np.abs(shapely.area(quarters).reshape(-1, 4).sum(axis=1) - shapely.area(shapes)) > step * step * _SLIVER
    wrong = cut[lost[cut // 4] | ~shapely.is_valid(quarters[cut])]
    quarters[wrong] = shapely.intersection(wholes[wrong], shapely.box(*boxes[wrong].T))
    return _polygons(quarters)


def _polygons(shapes: Shapes) -> Shapes:
    """Without the points and lines in which areas touch."""
    mixed = (shapely.get_type_id(shapes) == shapely.GeometryType.GEOMETRYCOLLECTION) & ~shapely.is_empty(shapes)
    for i in np.flatnonzero(mixed):
        shapes[i] = MultiPolygon([part for part in shapes[i].geoms if part.geom_type == "Polygon"])
    return shapes


def _inside(shapes: Shapes) -> Floats:
    """A point in each polygon: its centroid where that lies inside."""
    middle = shapely.centroid(shapes)
    middle = np.where(shapely.contains(shapes, middle), middle, shapely.point_on_surface(shapes))
    return np.stack([shapely.get_x(middle), shapely.get_y(middle)], axis=1)


@dataclass(frozen=True, eq=False)
class _Edges:
    """Stretches of grid lines along which parts lie; e of them.

    face  int64 (e)  the side of a cell, numbered: columns + 1 upright ones a row, then `columns` level ones a row
    part  int64 (e)
    low, high float64 (e) where it begins and ends, in cells
    """

    face: Ints
    part: Ints
    low: Floats
    high: Floats

    def __getitem__(self, which: NDArray[np.bool_] | Ints) -> _Edges:
        return _Edges(self.face[which], self.part[which], self.low[which], self.high[which])

    def __add__(self, other: _Edges) -> _Edges:
        return _Edges(
            np.concatenate([self.face, other.face]),
            np.concatenate([self.part, other.part]),
            np.concatenate([self.low, other.low]),
            np.concatenate([self.high, other.high]),
        )


def _openings(
    cell: Ints,
    is_cut: NDArray[np.bool_],
    shapes: Shapes,
    corner: tuple[float, float],
    step: float,
    shape: tuple[int, int],
) -> tuple[Ints, Ints, Floats]:
    """Left (or lower) part, right (or upper) part and width of every opening."""
    rows, columns = shape
    whole = np.full((rows, columns), -1, dtype=np.int64)
    whole.ravel()[cell[~is_cut]] = np.flatnonzero(~is_cut)
    left = np.concatenate([whole[:, :-1].ravel(), whole[:-1].ravel()])
    right = np.concatenate([whole[:, 1:].ravel(), whole[1:].ravel()])
    both = (left >= 0) & (right >= 0)

    before, after = _edges_of_cut(cell, np.flatnonzero(is_cut), shapes, corner, step, shape)
    # A whole cell beside a cut one lies along all of the face between them.
    lower, upper = _whole_beside(whole)
    all_before = before + _full(before.face, after.face, lower)
    all_after = after + _full(after.face, before.face, upper)
    one, two, width = _overlaps(all_before, all_after)
    return (
        np.concatenate([left[both], one]),
        np.concatenate([right[both], two]),
        step * np.concatenate([np.ones(int(both.sum())), width]),
    )


def _whole_beside(whole: Ints) -> tuple[Ints, Ints]:
    """For every face: the whole cell on its left or below, and on its right or above; -1 for none."""
    beside_x = np.pad(whole, ((0, 0), (1, 1)), constant_values=-1)
    beside_y = np.pad(whole, ((1, 1), (0, 0)), constant_values=-1)
    lower = np.concatenate([beside_x[:, :-1].ravel(), beside_y[:-1].ravel()])
    upper = np.concatenate([beside_x[:, 1:].ravel(), beside_y[1:].ravel()])
    return lower, upper


def _full(own: Ints, opposite: Ints, beside: Ints) -> _Edges:
    """Edges of the whole cells that face a cut part."""
    face = np.setdiff1d(opposite, own)
    face = face[beside[face] >= 0]
    return _Edges(face, beside[face], np.zeros(len(face)), np.ones(len(face)))


def _edges_of_cut(
    cell: Ints, cut: Ints, shapes: Shapes, corner: tuple[float, float], step: float, shape: tuple[int, int]
) -> tuple[_Edges, _Edges]:
    """Where the outlines of cut parts run along grid lines: parts to the left of or below the line, then the others."""
    rows, columns = shape
    rings, owner = shapely.get_rings(shapes, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    xy = (xy - corner) / step
    chain = ring[1:] == ring[:-1]
    start, end, part = xy[:-1][chain], xy[1:][chain], cut[owner[ring[1:][chain]]]
    row, column = np.divmod(cell[part], columns)
    base = np.stack([column, row], axis=1)
    upright = rows * (columns + 1)
    found = []
    for side in (1, 0):
        own = _Edges(part[:0], part[:0], start[:0, 0], start[:0, 0])
        for axis in (0, 1):
            line = base[:, axis] + side
            on = (np.abs(start[:, axis] - line) < _SLIVER) & (np.abs(end[:, axis] - line) < _SLIVER)
            along = 1 - axis
            face = row * (columns + 1) + line if axis == 0 else upright + line * columns + column
            ends = np.stack([start[:, along], end[:, along]]) - base[:, along]
            own += _Edges(face, part, ends.min(axis=0), ends.max(axis=0))[on]
        found.append(own)
    return found[0], found[1]


def _overlaps(before: _Edges, after: _Edges) -> tuple[Ints, Ints, Floats]:
    """Where parts on both sides of a face share a stretch of it: the two parts and its width in cells."""
    after = after[np.argsort(after.face, kind="stable")]
    first = np.searchsorted(after.face, before.face, side="left")
    count = np.searchsorted(after.face, before.face, side="right") - first
    one = np.repeat(np.arange(len(before.face)), count)
    two = ranges(first, count)
    width = np.minimum(before.high[one], after.high[two]) - np.maximum(before.low[one], after.low[two])
    open_ = width > _SLIVER
    return before.part[one][open_], after.part[two][open_], width[open_]
