"""What points and strokes leave of a region, found quickly and roughly by the cells of a grid."""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.segments import segments_of
from fencepost.frozen import dataclass

CELL_MM = 0.4
"""Side of the cells that a region is divided into."""

HALVED = 3
"""Times that a cell is halved to see whether several things cover it together."""

MOST = 400
"""Cells of a region that is looked at in this way; of a larger one all is left."""

FEWEST = 40
"""Strokes from which on it is worth while."""

SHARE = 0.5
"""Of the cells: where more are left, so is all of the region, for little would be gained."""

RIGHT, UP = np.array([-1.0, 1.0, -1.0, 1.0]), np.array([-1.0, -1.0, 1.0, 1.0])
"""Where the quarters of a cell lie from its middle."""

Columns = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Strokes:
    """s straight strokes from `start`, `step` long, float64 (s, 2), and how far to keep from each, float64 (s); mm."""

    start: NDArray[np.float64]
    step: NDArray[np.float64]
    keep: NDArray[np.float64]

    @classmethod
    def of(cls, geometry: NDArray[np.object_], keep: NDArray[np.float64]) -> Strokes:
        """Those of lines and points (n), each with its own distance (n)."""
        start, end, owner = segments_of(geometry)
        return cls(start, end - start, keep[owner])

    def __len__(self) -> int:
        return len(self.keep)

    @cached_property
    def _share(self) -> NDArray[np.float64]:
        """Times what leads from the start of each to a place: which part of the stroke lies before the place."""
        square = (self.step**2).sum(axis=1)
        share: NDArray[np.float64] = self.step / np.where(square > 0, square, 1.0)[:, None]
        return share

    def distance(self, row: NDArray[np.int64], x: Columns, y: Columns) -> Columns:
        """From each point (n) to the stroke of that row (n)."""
        x, y = x - self.start[row, 0], y - self.start[row, 1]
        along = np.clip(x * self._share[row, 0] + y * self._share[row, 1], 0.0, 1.0)
        away: Columns = np.hypot(x - along * self.step[row, 0], y - along * self.step[row, 1])
        return away


def left_by(strokes: Strokes, region: BaseGeometry) -> BaseGeometry:
    """A part of a region that holds all that no stroke comes too near to, and mostly little else.

    A cell is left out where each of its parts lies wholly within the distance from one stroke, or out of the region.
    """
    x0, y0, x1, y1 = region.bounds
    across, up = (max(int(np.ceil(side / CELL_MM)), 1) for side in (x1 - x0, y1 - y0))
    if across * up > MOST or len(strokes) < FEWEST:
        return region
    column, row = np.tile(np.arange(across), up), np.repeat(np.arange(up), across)
    low = np.stack([x0 + column * CELL_MM, y0 + row * CELL_MM], axis=1)
    middle = low + CELL_MM / 2
    shapely.prepare(region)
    met = np.flatnonzero(shapely.dwithin(region, shapely.points(middle), CELL_MM / np.sqrt(2)))
    left = met[_is_left(strokes, *middle[met].T)]
    if len(left) > SHARE * len(met):
        return region
    boxes = shapely.box(*low[left].T, *(low[left] + CELL_MM).T)
    return shapely.intersection(region, shapely.coverage_union_all(boxes))


def _is_left(strokes: Strokes, x: Columns, y: Columns) -> NDArray[np.bool_]:
    """Whether something may be left of each cell, by its middle (n).

    Cells are halved both ways, again and again: each of the smaller ones with the strokes that come near to it only.
    """
    left = np.zeros(len(x), dtype=np.bool_)
    whole = np.arange(len(x))
    cell, stroke = np.repeat(whole, len(strokes)), np.tile(np.arange(len(strokes)), len(x))
    side = CELL_MM
    for halvings in range(HALVED + 1):
        half = side / np.sqrt(2)
        beyond = strokes.distance(stroke, x[cell], y[cell]) - strokes.keep[stroke]
        open_ = np.ones(len(x), dtype=np.bool_)
        open_[cell[beyond <= -half]] = False
        touched = np.zeros(len(x), dtype=np.bool_)
        touched[cell[beyond < half]] = True
        left[whole[open_ & ((halvings == HALVED) | ~touched)]] = True
        # Of what is left of a cell nothing more need be known.
        asked = open_ & ~left[whole]
        if not asked.any():
            break
        kept = asked[cell] & (beyond < half)
        cell, stroke = (np.cumsum(asked) - 1)[cell[kept]], stroke[kept]
        side /= 2
        x, y = ((own[asked][:, None] + side / 2 * to).ravel() for own, to in ((x, RIGHT), (y, UP)))
        whole = np.repeat(whole[asked], 4)
        cell, stroke = (cell[:, None] * 4 + np.arange(4)).ravel(), np.repeat(stroke, 4)
    return left
