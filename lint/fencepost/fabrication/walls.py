"""Walls between neighbouring holes, as drilled."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.fabrication.build import TOLERANCE_MM
from fencepost.fabrication.holes import boxes, drilled
from fencepost.frozen import dataclass


@dataclass(frozen=True, eq=False)
class Walls:
    """Pairs of holes, k of them, the first with the lower index, and the wall between them in mm, below 0 where they
    overlap."""

    one: NDArray[np.int64]
    other: NDArray[np.int64]
    width: NDArray[np.float64]


def thin_walls(board: Board, plating: float, limit: float) -> Walls:
    """All pairs of holes with a wall thinner than `limit` (mm), plated or not, round or slots.

    Holes that have no dielectric in common, as blind ones one over the other, have no wall. The strokes of one routed
    slot are one hole.
    """
    holes = board.holes
    radius = drilled(board, plating) / 2
    around = boxes(board, np.arange(len(radius)), radius + limit / 2)
    one, other = shapely.STRtree(around).query(around)
    chosen = one < other
    one, other = one[chosen], other[chosen]
    chosen = _share_depth(board, one, other) & ~_one_slot(board, one, other)
    one, other = one[chosen], other[chosen]
    width = shapely.distance(holes.geometry[one], holes.geometry[other]) - radius[one] - radius[other]
    thin = width < limit - TOLERANCE_MM
    return Walls(one[thin], other[thin], width[thin])


def _share_depth(board: Board, one: NDArray[np.int64], other: NDArray[np.int64]) -> NDArray[np.bool_]:
    first, last = board.holes.first, board.holes.last
    top, bottom = np.maximum(first[one], first[other]), np.minimum(last[one], last[other])
    shared: NDArray[np.bool_] = (top < bottom) | (board.layers == 1)
    return shared


def _one_slot(board: Board, one: NDArray[np.int64], other: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Strokes of one tool, at least one of them a slot, that go on where the other ends."""
    holes = board.holes
    alike = (holes.hits[one] == holes.hits[other]) & (holes.diameter[one] == holes.diameter[other])
    slot = (holes.start != holes.end).any(axis=1)
    meets = np.zeros(len(one), dtype=bool)
    for a in (holes.start, holes.end):
        for b in (holes.start, holes.end):
            meets |= (np.abs(a[one] - b[other]) <= TOLERANCE_MM).all(axis=1)
    result: NDArray[np.bool_] = alike & (slot[one] | slot[other]) & meets
    return result
