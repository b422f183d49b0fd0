"""Where ground copper that lies over other ground copper is too far from what ties the two."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.connect import components
from fencepost.board.model import Board
from fencepost.frozen import dataclass
from fencepost.grounds.areas import areas_of
from fencepost.grounds.circles import Bare, bare_areas, beyond
from fencepost.grounds.facing import Facing, facing, farthest
from fencepost.grounds.joins import Joins
from fencepost.grounds.overlaps import NARROW_MM, overlaps_within, pairs_in
from fencepost.grounds.sheets import Points
from fencepost.signals.limits import Limit

MARGIN = 0.25
MARGIN_MM = 0.5
"""How much nearer than the limit copper is looked at, as a part of it and at most: how wide it is shows only there."""

SLIVER = 0.03
"""Of the limit: the mean width of an overlap that is none, where this is less than NARROW_MM."""

NEAR = 0.5
"""Of the limit: bare areas nearer to one another than this are one."""

SQUARE = 1 / 6
"""Of the smallest limit: the side of the squares in which pieces are looked for that face one another."""


@dataclass(frozen=True, eq=False)
class Untied:
    """One bare area between two pieces, the upper one first.

    `hole` is that of what ties them which is nearest to its farthest point.
    """

    pair: tuple[int, int]
    limit: Limit
    bare: Bare
    hole: int

    @property
    def excess(self) -> float:
        """The distance against its limit, above 1."""
        return self.bare.radius / self.limit.distance


@dataclass(frozen=True, eq=False)
class Unjoined:
    """Two pieces that nothing ties, the upper one first, and where they lie over one another, the largest first."""

    pair: tuple[int, int]
    limit: Limit
    areas: tuple[shapely.Polygon, ...]


@dataclass(frozen=True, eq=False)
class _Facing:
    """Two pieces that may face one another, the upper one first, and the rows of the joins that tie them."""

    pair: tuple[int, int]
    limit: Limit
    rows: NDArray[np.int64]
    faced: Facing


def overlaps_untied(
    board: Board, pieces: NDArray[np.int32], joins: Joins, limit_between: Callable[[int, int], Limit]
) -> tuple[list[Untied], list[Unjoined]]:
    """What is bare, and what is not joined at all, where these pieces lie over one another.

    `limit_between` gives the limit for two layers, which are 1-based. What is not joined is told where it is larger
    across than the limit.
    """
    layer = board.pieces.layer[pieces]
    smallest = min((limit_between(one, one + 1).distance for one in range(1, board.layers)), default=0.0)
    found = []
    for faced in facing(areas_of(board, pieces), layer, SQUARE * smallest):
        pair = int(pieces[faced.upper]), int(pieces[faced.lower])
        limit = limit_between(int(layer[faced.upper]), int(layer[faced.lower]))
        found.append(_Facing(pair, limit, joins.between(pair[:1], pair[1:]), faced))
    tied = [one for one in found if len(one.rows)]
    apart = [one for one in found if not len(one.rows) and one.faced.extent > one.limit.distance]
    return _untied(board, pieces, joins, tied), _unjoined(board, pieces, apart)


def _unjoined(board: Board, pieces: NDArray[np.int32], apart: list[_Facing]) -> list[Unjoined]:
    """Those of these pairs of pieces that do lie over one another, and where."""
    regions = np.array([one.faced.region for one in apart], dtype=object)
    found = []
    for one, common in zip(apart, _overlaps(board, pieces, apart, regions), strict=True):
        x0, y0, x1, y1 = shapely.bounds(common).reshape(-1, 4).T
        if np.hypot(x1 - x0, y1 - y0).max(initial=0.0) > one.limit.distance:
            order = np.argsort(-shapely.area(common), kind="stable")
            found.append(Unjoined(one.pair, one.limit, tuple(common[order])))
    return found


def _untied(board: Board, pieces: NDArray[np.int32], joins: Joins, tied: list[_Facing]) -> list[Untied]:
    """The bare areas of all these pairs of pieces at once."""
    if not tied:
        return []
    rows = np.concatenate([one.rows for one in tied])
    ties = Points(joins.centre[rows], np.repeat(np.arange(len(tied)), [len(one.rows) for one in tied]))
    limits = np.array([one.limit.distance for one in tied])
    nearer = limits - np.minimum(MARGIN * limits, MARGIN_MM)
    windows, sheet = _windows([one.faced for one in tied], ties, limits, nearer)
    if not len(windows):
        return []
    found = _overlaps(board, pieces, [tied[own] for own in sheet.tolist()], beyond(windows, sheet, ties, nearer))
    window = np.repeat(np.arange(len(found)), [len(areas) for areas in found])
    bares = bare_areas(np.concatenate(found), sheet[window], ties, limits)
    return [
        Untied(tied[one.sheet].pair, tied[one.sheet].limit, one, int(joins.holes[rows[one.nearest]])) for one in bares
    ]


def _windows(
    faced: list[Facing], ties: Points, limits: NDArray[np.float64], nearer: NDArray[np.float64]
) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """Polygons of those squares that have some place far enough from all ties to tell how wide copper there is, where
    some may be bare; and which of those that face one another each of them is of."""
    grid = faced[0].grid
    square = np.concatenate([one.square for one in faced])
    sheet = np.repeat(np.arange(len(faced)), [len(one.square) for one in faced])
    away = farthest(grid, square, sheet, ties, nearer)
    far = away > nearer[sheet]
    if not (away > limits[sheet]).any():
        return np.empty(0, dtype=object), sheet[:0]
    square, sheet, hot = square[far], sheet[far], (away > limits[sheet])[far]
    patch = grid.patches(square, sheet)
    wanted = np.isin(patch, patch[hot])
    _, first, number = np.unique(patch[wanted], return_index=True, return_inverse=True)
    return grid.outlines(square[wanted], number), sheet[wanted][first]


def _overlaps(
    board: Board, pieces: NDArray[np.int32], facing: Sequence[_Facing], regions: NDArray[np.object_]
) -> list[NDArray[np.object_]]:
    """(n): where the two pieces of each (n) lie over one another in its region (n)."""
    pair = np.array([one.pair for one in facing], dtype=np.int32).reshape(-1, 2)
    pairs = pairs_in(board, pieces, pair, shapely.bounds(regions).reshape(-1, 4))
    narrow = np.array([min(SLIVER * one.limit.distance, NARROW_MM) for one in facing])
    return overlaps_within(board, pairs, regions, narrow)


def together(untied: list[Untied]) -> list[list[Untied]]:
    """Bare areas in groups of those that are near one another, on any layers; in each the worst one first."""
    if not untied:
        return []
    areas = np.array([one.bare.area for one in untied], dtype=object)
    near = NEAR * min(one.limit.distance for one in untied)
    group = components(len(untied), shapely.STRtree(areas).query(areas, predicate="dwithin", distance=near))
    groups = [[untied[i] for i in np.flatnonzero(group == one)] for one in np.unique(group)]
    return [
        sorted(own, key=lambda one: (-round(one.excess, 6), *np.round(one.bare.centre, 6).tolist())) for own in groups
    ]
