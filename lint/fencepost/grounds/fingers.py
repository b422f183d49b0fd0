"""Fingers of ground copper that end too far, along the copper, from what ties them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import spans
from fencepost.board.model import Board
from fencepost.frozen import dataclass
from fencepost.grounds.along import FarEnd, far_ends
from fencepost.grounds.areas import areas_of, extents_of
from fencepost.grounds.joins import Joins
from fencepost.grounds.untied import NEAR, Untied
from fencepost.signals.limits import Limit

FINGER = 0.25
FINGER_MM = 0.5
"""Copper less than this across, as a part of the limit and at the least, is a finger."""

OVER_MM = 0.5
"""Ground of another layer no farther than this to the side of a place is above or below it all the same."""


@dataclass(frozen=True, eq=False)
class Finger:
    """A narrow part of a piece, whose end is too far along it from the nearest hole that ties it."""

    piece: int
    limit: Limit
    end: FarEnd
    hole: int


def fingers_untied(
    board: Board,
    pieces: NDArray[np.int32],
    joins: Joins,
    limit_on: Callable[[int], Limit],
    untied: Sequence[Untied] = (),
) -> list[Finger]:
    """Fingers of these pieces that end too far from what ties them to any other; `limit_on` gives it for a layer.

    One that ends in or near a bare area of its piece that was found already is left out, and so is one that ends where
    no other layer is ground: there is nothing to tie it to.
    """
    limits = {layer: limit_on(layer) for layer in range(1, board.layers + 1)}
    areas = areas_of(board, pieces)
    layer, extents = board.pieces.layer[pieces], extents_of(board, pieces)
    tied = [joins.of_piece(piece) for piece in pieces.tolist()]
    found: list[Finger] = []
    for length in sorted({limit.distance for limit in limits.values()}):
        alike = np.array([limits[one].distance == length for one in layer.tolist()], dtype=bool)
        asked = [i for i in np.flatnonzero(alike & (extents > length)).tolist() if len(tied[i])]
        rows = np.concatenate([tied[i] for i in asked]) if asked else np.empty(0, dtype=np.int64)
        sheet = np.repeat(np.arange(len(asked)), [len(tied[i]) for i in asked])
        worth = partial(_worth_telling, areas, pieces, layer, np.array(asked), untied, NEAR * length)
        wide = max(FINGER * length, FINGER_MM)
        for end in far_ends(areas[asked], joins.centre[rows], sheet, length, wide, worth):
            i = asked[end.sheet]
            hole = int(joins.holes[rows[end.nearest]])
            found.append(Finger(int(pieces[i]), limits[int(layer[i])], end, hole))
    return sorted(found, key=lambda one: one.piece)


def _worth_telling(
    areas: NDArray[np.object_],
    pieces: NDArray[np.int32],
    layer: NDArray[np.int32],
    asked: NDArray[np.int64],
    untied: Sequence[Untied],
    near: float,
    sheet: NDArray[np.int64],
    xy: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Whether places (k, 2) on pieces `asked[sheet]` are away from what was told of these, and have other ground."""
    own, spots = asked[sheet], shapely.points(xy)
    told = np.array([one.bare.area for one in untied], dtype=object)
    pair = np.array([one.pair for one in untied]).reshape(-1, 2)
    spot, area = shapely.STRtree(told).query(spots, predicate="dwithin", distance=near)
    known = spot[(pair[area] == pieces[own[spot]][:, None]).any(axis=1)]

    left = np.setdiff1d(np.arange(len(xy)), known)
    spot, other = shapely.STRtree(areas).query(spans(np.hstack([xy[left], xy[left]]), OVER_MM))
    spot = left[spot]
    spot, other = (column[layer[own[spot]] != layer[other]] for column in (spot, other))
    over = spot[shapely.dwithin(areas[other], spots[spot], OVER_MM)]
    return np.isin(np.arange(len(xy)), over)
