"""Which boxes meet which, as long as they are not too many: things laid over one another a thousand times make a
million pairs, and no memory holds what a hostile file can make of that."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

_AT_ONCE = 10_000_000
"""Pairs that one query may come to at the most."""


class TooManyMeet(Exception):
    """More pairs than allowed; `row` is the box at which they were."""

    def __init__(self, row: int, said: str) -> None:
        super().__init__(said)
        self.row = row


def meeting(
    boxes: NDArray[np.object_],
    others: NDArray[np.object_],
    most: int,
    limit: str = "overlaps",
    predicate: str | None = None,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows of boxes and of others that meet, each (k), in the order of the boxes; of one array with itself each pair
    once, the lesser row first. The others may be of any shape; their boxes count, or a predicate where one is given.

    Raises TooManyMeet for more pairs than `most`, which is the limit of that name, before all of them are made.
    """
    tree = shapely.STRtree(others)
    step = max(_AT_ONCE // max(len(others), 1), 1)
    found: list[NDArray[np.int64]] = [np.empty((2, 0), dtype=np.int64)]
    count = 0
    for begin in range(0, len(boxes), step):
        pairs = tree.query(boxes[begin : begin + step], predicate)
        pairs[0] += begin
        if others is boxes:
            pairs = pairs[:, pairs[0] < pairs[1]]
        count += pairs.shape[1]
        if count > most:
            row = int(pairs[0, -(count - most)])
            raise TooManyMeet(row, f"more than {most:,} pairs of what lies over one another (limit {limit})")
        found.append(pairs)
    left, right = np.concatenate(found, axis=1)
    return left, right


def check_crossings(boxes: NDArray[np.object_], most: int) -> None:
    """Raise TooManyMeet, with the side, where more than `most` pairs of the sides of a path meet (limit crossings)."""
    meeting(boxes, boxes, most, "crossings")


def sides(points: NDArray[np.float64], grow: float = 0.0) -> NDArray[np.object_]:
    """Boxes around the sides of a path, (m, 2) points to m - 1 boxes, grown by `grow` mm."""
    low, high = np.minimum(points[1:], points[:-1]) - grow, np.maximum(points[1:], points[:-1]) + grow
    boxes: NDArray[np.object_] = shapely.box(*low.T, *high.T)
    return boxes
