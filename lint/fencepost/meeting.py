"""Which boxes meet which, as long as they are not too many: things laid over one another a thousand times make a
million pairs, and no memory holds what a hostile file can make of that."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray

AT_ONCE = 10_000_000
"""Pairs that one query may come to at the most."""


Pairs = tuple[NDArray[np.int64], NDArray[np.int64]]


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
) -> Pairs:
    """Rows of boxes and of others that meet, each (k), in the order of the boxes; of one array with itself each pair
    once, the lesser row first. The others may be of any shape; their boxes count, or a predicate where one is given.

    Raises TooManyMeet for more pairs than `most`, which is the limit of that name, before all of them are made.
    """
    tree = shapely.STRtree(others)

    def find(rows: slice) -> Pairs:
        left, right = tree.query(boxes[rows], predicate)
        return left, right

    step = max(AT_ONCE // max(len(others), 1), 1)
    return in_steps(find, len(boxes), step, most, limit, once=others is boxes)


def in_steps(
    find: Callable[[slice], Pairs], count: int, step: int, most: int | None, limit: str = "overlaps", once: bool = False
) -> Pairs:
    """What `find` finds for `count` rows, so many at a time: rows, counted from the first of the slice, and others.

    `once`: of pairs among the rows themselves each comes once, the lesser row first. Raises TooManyMeet likewise.
    """
    found = [(np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64))]
    pairs = 0
    for begin in range(0, count, step):
        row, other = find(slice(begin, begin + step))
        row = row + begin
        if once:
            lesser = row < other
            row, other = row[lesser], other[lesser]
        pairs += len(row)
        if most is not None and pairs > most:
            said = f"more than {most:,} pairs of what lies over one another (limit {limit})"
            raise TooManyMeet(int(row[-(pairs - most)]), said)
        found.append((row, other))
    rows, others = zip(*found, strict=True)
    return np.concatenate(rows), np.concatenate(others)


def check_crossings(boxes: NDArray[np.object_], most: int) -> None:
    """Raise TooManyMeet, with the side, where more than `most` pairs of the sides of a path meet (limit crossings)."""
    meeting(boxes, boxes, most, "crossings")


def sides(points: NDArray[np.float64], grow: float = 0.0) -> NDArray[np.object_]:
    """Boxes around the sides of a path, (m, 2) points to m - 1 boxes, grown by `grow` mm."""
    low, high = np.minimum(points[1:], points[:-1]) - grow, np.maximum(points[1:], points[:-1]) + grow
    boxes: NDArray[np.object_] = shapely.box(*low.T, *high.T)
    return boxes
