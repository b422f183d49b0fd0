"""Where ground copper that lies over other ground copper is too far from what ties the two."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.connect import components
from fencepost.board.model import Board
from fencepost.grounds.along import FarEnd, far_ends
from fencepost.grounds.areas import area_of, boxes_of_pieces, extents_of, unite
from fencepost.grounds.circles import Bare, bare_areas, beyond
from fencepost.grounds.joins import Joins
from fencepost.grounds.overlaps import NARROW_MM, Pair, overlap_within, pairs_of
from fencepost.signals.limits import Limit

MARGIN = 0.25
MARGIN_MM = 0.5
"""How much nearer than the limit copper is looked at, as a part of it and at most: how wide it is shows only there."""

SLIVER = 0.03
"""Of the limit: the mean width of an overlap that is none, where this is less than NARROW_MM."""

NEAR = 0.5
"""Of the limit: bare areas nearer to one another than this are one."""

FINGER = 0.25
FINGER_MM = 0.5
"""Copper less than this across, as a part of the limit and at the least, is a finger."""

OVER_MM = 0.5
"""Ground of another layer no farther than this to the side of a place is above or below it all the same."""


@dataclass(frozen=True, eq=False)
class Untied:
    """One bare area between two pieces; `hole` is that of what ties them which is nearest to its farthest point."""

    pair: Pair
    limit: Limit
    bare: Bare
    hole: int

    @property
    def excess(self) -> float:
        """The distance against its limit, above 1."""
        return self.bare.radius / self.limit.distance


@dataclass(frozen=True, eq=False)
class Unjoined:
    """Two pieces that nothing ties, and the polygons in which they lie over one another, the largest first."""

    pair: Pair
    limit: Limit
    areas: tuple[shapely.Polygon, ...]


@dataclass(frozen=True, eq=False)
class Finger:
    """A narrow part of a piece, whose end is too far along it from the nearest hole that ties it."""

    piece: int
    limit: Limit
    end: FarEnd
    hole: int


def overlaps_untied(
    board: Board, pieces: NDArray[np.int32], joins: Joins, limit_between: Callable[[int, int], Limit]
) -> tuple[list[Untied], list[Unjoined]]:
    """What is bare, and what is not joined at all, where these pieces lie over one another.

    `limit_between` gives the limit for two layers, which are 1-based. What is not joined is told where it is larger
    across than the limit.
    """
    unite(board, pieces.tolist())
    untied: list[Untied] = []
    unjoined: list[Unjoined] = []
    for pair in pairs_of(board, pieces):
        limit = limit_between(*board.pieces.layer[[pair.upper, pair.lower]].tolist())
        if pair.extent <= limit.distance:
            continue
        rows = joins.between([pair.upper], [pair.lower])
        narrow = min(SLIVER * limit.distance, NARROW_MM)
        if not len(rows):
            areas = overlap_within(board, pair, shapely.box(*pair.box), narrow)
            x0, y0, x1, y1 = shapely.bounds(areas).reshape(-1, 4).T
            order = np.argsort(-shapely.area(areas), kind="stable")
            if np.hypot(x1 - x0, y1 - y0).max(initial=0.0) > limit.distance:
                unjoined.append(Unjoined(pair, limit, tuple(areas[order])))
            continue
        ties = joins.centre[rows]
        nearer = limit.distance - min(MARGIN * limit.distance, MARGIN_MM)
        areas = overlap_within(board, pair, beyond(ties, nearer, pair.box), narrow)
        bares = bare_areas(areas, ties, limit.distance)
        untied += [Untied(pair, limit, bare, int(joins.holes[rows[bare.nearest]])) for bare in bares]
    return untied, unjoined


def together(untied: list[Untied]) -> list[list[Untied]]:
    """Bare areas in groups of those that are near one another, on any layers; in each the worst one first."""
    if not untied:
        return []
    areas = np.array([one.bare.area for one in untied], dtype=object)
    near = NEAR * min(one.limit.distance for one in untied)
    group = components(len(untied), shapely.STRtree(areas).query(areas, predicate="dwithin", distance=near))
    groups = [[untied[i] for i in np.flatnonzero(group == one)] for one in np.unique(group)]
    return [sorted(own, key=lambda one: (-round(one.excess, 6), one.bare.centre)) for own in groups]


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
    fingers: list[Finger] = []
    for piece, extent in zip(pieces.tolist(), extents_of(board, pieces), strict=True):
        limit, rows = limit_on(int(board.pieces.layer[piece])), joins.of_piece(piece)
        if len(rows) and extent > limit.distance:
            told = [one.bare.area for one in untied if piece in (one.pair.upper, one.pair.lower)]
            wide = max(FINGER * limit.distance, FINGER_MM)
            worth = partial(_worth_telling, board, pieces, piece, told, NEAR * limit.distance)
            ends = far_ends(area_of(board, piece), joins.centre[rows], limit.distance, wide, worth)
            fingers += [Finger(piece, limit, end, int(joins.holes[rows[end.nearest]])) for end in ends]
    return fingers


def _worth_telling(
    board: Board,
    pieces: NDArray[np.int32],
    piece: int,
    told: list[shapely.Polygon],
    near: float,
    xy: tuple[float, float],
) -> bool:
    if told and shapely.dwithin(told, shapely.Point(xy), near).any():
        return False
    return _other_ground_at(board, pieces, piece, xy)


def _other_ground_at(board: Board, pieces: NDArray[np.int32], piece: int, xy: tuple[float, float]) -> bool:
    """Whether ground of another layer than the piece's lies above or below a place, or close by."""
    others = pieces[board.pieces.layer[pieces] != board.pieces.layer[piece]]
    x0, y0, x1, y1 = boxes_of_pieces(board)[others].T
    x, y = xy
    near = (x0 - OVER_MM <= x) & (x <= x1 + OVER_MM) & (y0 - OVER_MM <= y) & (y <= y1 + OVER_MM)
    areas = [area_of(board, other) for other in others[near].tolist()]
    return bool(shapely.dwithin(areas, shapely.Point(xy), OVER_MM).any()) if areas else False
