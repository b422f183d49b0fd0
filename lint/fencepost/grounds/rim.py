"""The rim of the ground: the gaps between the ties along the edge of the board.

Between every two neighbouring layers of ground there is a slot along the edge. Its posts are the ties that join the two
layers and stand near the edge; the gaps between these are those of a fence.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.connect import components
from fencepost.board.model import TOUCH_MM, Board
from fencepost.frozen import dataclass
from fencepost.grounds.areas import extents_of, ground_pieces
from fencepost.grounds.edges import MOST_OF, Behind, Line, LineKind, copper_lines, ground_behind, lines_of
from fencepost.grounds.joins import SMALL, Joins, joins_of
from fencepost.signals.fences import Opening, openings_in
from fencepost.signals.posts import Posts, passed_on_the_left


@dataclass(frozen=True, eq=False)
class Slot:
    """Where the ties between two layers (1-based) leave the edge open. Posts come twice, for two rounds of the line."""

    layers: tuple[int, int]
    posts: Posts
    opening: Opening

    @property
    def begin(self) -> float:
        return self.opening.gaps[0].begin

    @property
    def end(self) -> float:
        return self.opening.gaps[-1].end


@dataclass(frozen=True, eq=False)
class Rim:
    """One line with its openings: slots of several layers at one place are one opening, the widest gap first.

    `bare` are the stretches, from where to where in mm along the line, behind which fewer than two layers are ground.
    `pieces` are those of all ground pieces that are large enough to count.
    """

    line: Line
    pieces: NDArray[np.int32]
    openings: tuple[tuple[Slot, ...], ...]
    bare: tuple[tuple[float, float], ...]


def rims_of(board: Board, limit: float, reach: float) -> Iterator[Rim]:
    """All lines of a board with ground behind them. Ties count up to `reach` from the edge of the ground; all in mm."""
    pieces = ground_pieces(board)
    pieces = pieces[extents_of(board, pieces) > limit]
    joins = joins_of(board, SMALL * limit)
    for line in lines_of(board, limit):
        behind = ground_behind(board, line, pieces, reach)
        layers = _layers_behind(behind, line, limit)
        tied = layers.sum(axis=1) > 1
        if line.kind is LineKind.BOARD and tied.mean() < MOST_OF:
            for inner in copper_lines(board, shapely.Polygon(line.path.xy), pieces, limit):
                around = ground_behind(board, inner, pieces, reach)
                openings, bare = _openings(inner, around, _layers_behind(around, inner, limit), joins, limit, reach)
                yield Rim(inner, pieces, openings, bare)
        elif tied.any():
            openings, bare = _openings(line, behind, layers, joins, limit, reach)
            yield Rim(line, pieces, openings, bare)


def _openings(
    line: Line, behind: Behind, layers: NDArray[np.bool_], joins: Joins, limit: float, reach: float
) -> tuple[tuple[tuple[Slot, ...], ...], tuple[tuple[float, float], ...]]:
    """The openings and the bare stretches of a line."""
    step = line.length / len(layers)
    bare = _stretches(layers.sum(axis=1) < 2, step)
    slots: list[Slot] = []
    for one, other in _neighbours(layers):
        facing = layers[:, one] & layers[:, other] & ~layers[:, one + 1 : other].any(axis=1)
        stretches = [(begin, end) for begin, end in _stretches(facing, step) if end - begin > limit + TOUCH_MM]
        posts = _posts(line, behind, joins, (one, other), reach)
        slots += _slots(line, posts, (one + 1, other + 1), stretches, limit)
    return tuple(_together(line, slots)), tuple(bare)


def _layers_behind(behind: Behind, line: Line, limit: float) -> NDArray[np.bool_]:
    """(n, layers): where each layer is ground. Interruptions no longer than the limit, as by a track, do not count."""
    most = int(limit / (line.length / len(behind.station)) + 1e-9)
    layers = behind.piece >= 0
    for layer in range(layers.shape[1]):
        for begin, end in _runs(~layers[:, layer]):
            if end - begin <= most:
                layers[np.arange(begin, end) % len(layers), layer] = True
    return layers


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """From where to where the flags on a round are set; the end is behind the last one, beyond the round if need be."""
    count = len(flags)
    if flags.all():
        return [(0, count)]
    begins = np.flatnonzero(flags & ~np.roll(flags, 1))
    ends = np.flatnonzero(~flags & np.roll(flags, 1))
    return [(int(begin), int(ends[ends > begin][0] if (ends > begin).any() else ends[0] + count)) for begin in begins]


def _stretches(flags: NDArray[np.bool_], step: float) -> list[tuple[float, float]]:
    return [(begin * step, end * step) for begin, end in _runs(flags)]


def _neighbours(layers: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Columns of layers that have no ground between them somewhere."""
    rows = np.unique(layers, axis=0)
    return sorted({pair for row in rows for pair in pairwise(np.flatnonzero(row).tolist())})


def _posts(line: Line, behind: Behind, joins: Joins, layers: tuple[int, int], reach: float) -> Posts:
    """The ties between the ground on two layers (columns) that stand near the edge of it, in two rounds."""
    one, other = (np.unique(behind.piece[:, layer]).tolist() for layer in layers)
    rows = joins.between(set(one) - {-1}, set(other) - {-1})
    passed = passed_on_the_left(line.path, joins.centre[rows], 2 * reach)
    rows = rows[passed.point]
    away = np.hypot(*(joins.centre[rows] - passed.foot).T)
    inset = behind.distance[:, list(layers)].max(axis=1)
    inset = np.where(np.isfinite(inset), inset, 0.0)[_nearest(behind.station, passed.station, line.length)]
    order = np.lexsort((passed.angle, np.round(passed.station, 4)))
    order = order[(away <= reach + inset)[order]]
    hole, away, centre = joins.holes[rows[order]], away[order], joins.centre[rows[order]]
    station = passed.station[order]
    return Posts(
        np.tile(hole, 2), np.concatenate([station, station + line.length]), np.tile(away, 2), np.tile(centre, (2, 1))
    )


def _nearest(samples: NDArray[np.float64], stations: NDArray[np.float64], length: float) -> NDArray[np.int64]:
    """The sample next to each station, where samples are at equal distances."""
    nearest: NDArray[np.int64] = np.floor(stations / length * len(samples)).astype(np.int64)
    return np.clip(nearest, 0, len(samples) - 1)


def _slots(
    line: Line, posts: Posts, layers: tuple[int, int], stretches: list[tuple[float, float]], limit: float
) -> list[Slot]:
    openings: list[Opening] = []
    for begin, end in stretches:
        endless = len(posts) > 0 and end - begin >= line.length - TOUCH_MM
        if endless:
            begin, end = float(posts.station[0]), float(posts.station[0]) + line.length
        openings += openings_in(posts, begin, end, limit, endless=endless)
    return [Slot(layers, posts, opening) for opening in openings]


def _together(line: Line, slots: list[Slot]) -> list[tuple[Slot, ...]]:
    """Slots that overlap or follow one another, and all those without any post; in each the widest gap first."""
    pairs = [
        (i, j) for i, one in enumerate(slots) for j, other in enumerate(slots[:i]) if _meet(line.length, one, other)
    ]
    group = components(len(slots), np.array(pairs, dtype=np.int64).reshape(-1, 2).T)
    found = [[slots[i] for i in np.flatnonzero(group == one)] for one in np.unique(group)]
    return [tuple(sorted(own, key=lambda one: -round(one.opening.widest.width, 4))) for own in found]


def _meet(length: float, one: Slot, other: Slot) -> bool:
    if not len(one.posts) and not len(other.posts):
        return True
    apart = (other.begin - one.begin) % length
    return apart <= one.end - one.begin + TOUCH_MM or length - apart <= other.end - other.begin + TOUCH_MM
