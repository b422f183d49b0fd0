"""Many sheets of copper side by side in one plane, so that one search, mesh or diagram serves all of them."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.frozen import dataclass

APART = 4.0
"""Sizes of a sheet from one to the next: each place is nearest to what is on its own sheet."""


@dataclass(frozen=True, eq=False)
class Points:
    """Points by sheets: xy float64 (p, 2) in mm, and the sheet int64 (p) of each. Every sheet has some."""

    xy: NDArray[np.float64]
    sheet: NDArray[np.int64]


def side_by_side(count: int, box: NDArray[np.float64]) -> NDArray[np.float64]:
    """(count, 2): by how much, in mm, each sheet is moved; they form a square. All that is on them
    must lie within the box (x0, y0, x1, y1)."""
    x0, y0, x1, y1 = box.tolist()
    step = APART * math.hypot(x1 - x0, y1 - y0) + 1.0
    across = max(math.isqrt(max(count - 1, 0)) + 1, 1)
    sheet = np.arange(count)
    place: NDArray[np.float64] = step * np.column_stack([sheet % across, sheet // across]).astype(np.float64)
    return place


def moved(shapes: NDArray[np.object_], by: NDArray[np.float64]) -> NDArray[np.object_]:
    """Copies of shapes (n), each moved by its row of `by` (n, 2)."""
    xy, shape = shapely.get_coordinates(shapes, return_index=True)
    copies: NDArray[np.object_] = shapely.set_coordinates(shapes.copy(), xy + by[shape])
    return copies
