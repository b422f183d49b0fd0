"""Where ground copper that lies over other ground copper is too far from what ties the two."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.connect import components
from fencepost.board.model import Board
from fencepost.grounds.areas import area_of, unite
from fencepost.grounds.circles import Bare, Points, bare_areas, beyond
from fencepost.grounds.facing import Facing, facing
from fencepost.grounds.joins import Joins
from fencepost.grounds.overlaps import NARROW_MM, overlap_within, pair_in
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
class _Tied:
    """Two pieces, the rows of the joins that tie them, and the polygons in which some place may be bare."""

    pair: tuple[int, int]
    limit: Limit
    rows: NDArray[np.int64]
    windows: NDArray[np.object_]


def overlaps_untied(
    board: Board, pieces: NDArray[np.int32], joins: Joins, limit_between: Callable[[int, int], Limit]
) -> tuple[list[Untied], list[Unjoined]]:
    """What is bare, and what is not joined at all, where these pieces lie over one another.

    `limit_between` gives the limit for two layers, which are 1-based. What is not joined is told where it is larger
    across than the limit.
    """
    unite(board, pieces.tolist())
    areas = np.array([area_of(board, piece) for piece in pieces.tolist()], dtype=object)
    layer = board.pieces.layer[pieces]
    smallest = min((limit_between(one, one + 1).distance for one in range(1, board.layers)), default=0.0)
    tied: list[_Tied] = []
    unjoined: list[Unjoined] = []
    for faced in facing(areas, layer, SQUARE * smallest):
        pair = int(pieces[faced.upper]), int(pieces[faced.lower])
        limit = limit_between(int(layer[faced.upper]), int(layer[faced.lower]))
        rows = joins.between(pair[:1], pair[1:])
        if len(rows):
            tied.append(_Tied(pair, limit, rows, _windows(faced, joins.centre[rows], limit.distance)))
        elif faced.extent > limit.distance:
            common = _overlap(board, pieces, pair, shapely.union_all(faced.squares), limit.distance)
            x0, y0, x1, y1 = shapely.bounds(common).reshape(-1, 4).T
            if np.hypot(x1 - x0, y1 - y0).max(initial=0.0) > limit.distance:
                order = np.argsort(-shapely.area(common), kind="stable")
                unjoined.append(Unjoined(pair, limit, tuple(common[order])))
    return _untied(board, pieces, joins, [one for one in tied if len(one.windows)]), unjoined


def _windows(faced: Facing, ties: NDArray[np.float64], limit: float) -> NDArray[np.object_]:
    """Polygons of those squares that have some place far enough from all ties to tell how wide copper there is, where
    some may be bare."""
    away = faced.farthest(ties)
    hot = away > limit
    if not hot.any():
        return np.empty(0, dtype=object)
    windows: NDArray[np.object_] = shapely.get_parts(shapely.coverage_union_all(faced.squares[away > _nearer(limit)]))
    kept: NDArray[np.object_] = windows[shapely.intersects(windows, shapely.multipoints(faced.middle[hot]))]
    return kept


def _nearer(limit: float) -> float:
    return limit - min(MARGIN * limit, MARGIN_MM)


def _untied(board: Board, pieces: NDArray[np.int32], joins: Joins, tied: list[_Tied]) -> list[Untied]:
    """The bare areas of all these pairs of pieces at once."""
    if not tied:
        return []
    rows = np.concatenate([one.rows for one in tied])
    ties = Points(joins.centre[rows], np.repeat(np.arange(len(tied)), [len(one.rows) for one in tied]))
    limits = np.array([one.limit.distance for one in tied])
    windows = np.concatenate([one.windows for one in tied])
    sheet = np.repeat(np.arange(len(tied)), [len(one.windows) for one in tied])
    regions = beyond(windows, sheet, ties, np.array([_nearer(limit) for limit in limits]))
    found = [
        _overlap(board, pieces, tied[own].pair, region, float(limits[own]))
        for own, region in zip(sheet.tolist(), regions, strict=True)
    ]
    window = np.repeat(np.arange(len(found)), [len(areas) for areas in found])
    bares = bare_areas(np.concatenate(found), sheet[window], ties, limits)
    return [
        Untied(tied[one.sheet].pair, tied[one.sheet].limit, one, int(joins.holes[rows[one.nearest]])) for one in bares
    ]


def _overlap(
    board: Board, pieces: NDArray[np.int32], pair: tuple[int, int], region: BaseGeometry, limit: float
) -> NDArray[np.object_]:
    return overlap_within(board, pair_in(board, pieces, *pair, region.bounds), region, min(SLIVER * limit, NARROW_MM))


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
