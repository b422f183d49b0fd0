"""Which ties are posts of the fence along a side of a trace, and where along it they stand.

A post's barrel passes the trace's own layer and touches the ground copper that the fence is for: the trace's references
as they are where it stands, and the ground beside the trace on its own layer if there is any between the two.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import TOUCH_MM, Board, NetKind
from fencepost.board.shared import shared
from fencepost.signals.cover import SIDES, planes_of, weights
from fencepost.signals.runs import Run
from fencepost.signals.sides import Side
from fencepost.signals.ties import ties_of
from fencepost.signals.traces import traces_of
from fencepost.signals.transitions import SMALLEST_SHARE

STEP_MM = 0.1
"""Between samples along a trace."""

AROUND_MM = 1.5
"""Along the trace, before and after a post: what is a reference over more than half of it must be tied by the post."""

SIGHT_STEP_MM = 0.05
"""Between samples from a trace to a post: narrower ground copper beside a trace is not seen."""


@dataclass(frozen=True, eq=False)
class Samples:
    """n points along a path, in mm, each standing for STEP_MM of it or a little less.

    station    float64 (n)
    xy         float64 (n, 2)
    left       float64 (n, 2)  the unit vector to the left
    width      float64 (n)     of the trace
    reference  int32 (n, 2)    the ground pieces above and below that the trace runs over, -1 for none
    """

    station: NDArray[np.float64]
    xy: NDArray[np.float64]
    left: NDArray[np.float64]
    width: NDArray[np.float64]
    reference: NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class Posts:
    """p posts in the order in which one passes them. A tie that one passes twice is here twice.

    hole     int32 (p)       index into Board.holes
    station  float64 (p)     the point of the path next to it, mm along the path
    centre   float64 (p, 2)
    """

    hole: NDArray[np.int32]
    station: NDArray[np.float64]
    centre: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.hole)


@dataclass(frozen=True, eq=False)
class Strokes:
    """The traces of all signals on one layer, stroke by stroke, and a tree over them."""

    net: NDArray[np.int32]
    tree: shapely.STRtree


@shared
def strokes_on(board: Board, layer: int) -> Strokes:
    """The strokes of a layer (1-based)."""
    traces = traces_of(board)
    chosen = np.flatnonzero((traces.layer == layer) & (traces.feature >= 0))
    return Strokes(traces.net[chosen], shapely.STRtree(shapely.linestrings(traces.xy[traces.ends[chosen]])))


def samples_along(board: Board, path: Run) -> Samples:
    """Samples over the whole length of a path."""
    count = max(1, int(np.ceil(path.length / STEP_MM - 1e-6)))
    station = (np.arange(count) + 0.5) * path.length / count
    xy, leg = path.at(station), path.leg(station)
    step = np.diff(path.xy, axis=0)[leg]
    left = np.column_stack([-step[:, 1], step[:, 0]]) / np.hypot(step[:, 0], step[:, 1])[:, None]
    return Samples(station, xy, left, path.width[leg], _references(board, path.layer, xy))


def permittivity_along(board: Board, layer: int, runs: tuple[Run, ...]) -> float:
    """The highest relative permittivity between traces of a layer and their references: that of the shortest wave.

    The highest on the board where there are none.
    """
    references = [samples_along(board, run).reference for run in runs]
    pieces = np.unique(np.concatenate([found[found >= 0] for found in references])) if references else []
    others = np.unique(board.pieces.layer[np.asarray(pieces, dtype=np.int32)])
    found = [board.stackup.permittivity(layer, int(other)) for other in others]
    return max(found, default=board.stackup.highest_permittivity)


def _references(board: Board, layer: int, xy: NDArray[np.float64]) -> NDArray[np.int32]:
    """The nearest ground above and below each point, int32 (n, 2); -1 where it would carry too little of the return."""
    points: NDArray[np.object_] = shapely.points(xy)
    found = np.full((len(points), 2), -1, dtype=np.int32)
    for side, others in zip(SIDES, (range(layer - 1, 0, -1), range(layer + 1, board.layers + 1)), strict=True):
        for other in others:
            open_ = np.flatnonzero(found[:, side] < 0)
            piece = planes_of(board, other).piece_at(points[open_])
            found[open_, side] = np.where(_is_ground(board, piece), piece, -1)
    share = weights(board, np.full(len(points), layer, dtype=np.int32), found)
    return np.where(share >= SMALLEST_SHARE, found, -1).astype(np.int32)


def _is_ground(board: Board, piece: NDArray[np.int32]) -> NDArray[np.bool_]:
    ground = np.array([*(net.kind is NetKind.GROUND for net in board.nets), False])
    chosen: NDArray[np.bool_] = (piece >= 0) & ground[board.pieces.net[piece]]
    return chosen


@shared
def extent(board: Board, piece: int) -> float:
    """The diameter of the smallest circle around a piece of copper, in mm."""
    copper = board.copper[int(board.pieces.layer[piece]) - 1]
    parts = copper.parts_of(piece)
    around = shapely.minimum_bounding_radius(shapely.geometrycollections(copper.geometry[parts]))
    return float(2 * (around + copper.reach[parts].max()))


def posts_along(board: Board, side: Side, samples: Samples, reach: float, small: float) -> Posts:
    """The posts on a side, no farther than `reach` (mm) from the edge of the trace.

    A post does not count behind another trace. Ground copper beside the trace that is less than `small` (mm) across
    need not be tied by it.
    """
    path = side.path
    ties = ties_of(board).holes
    spans = (board.holes.first[ties] <= path.layer) & (board.holes.last[ties] >= path.layer)
    ties = ties[spans]
    centre = board.holes.centre[ties].reshape(-1, 2)
    passed, station, foot, angle = _passed(path, centre, reach)
    seen = _in_sight(board, path, foot, centre[passed])
    passed, station, foot, angle = passed[seen], station[seen], foot[seen], angle[seen]
    beside = _beside(board, path.layer, foot, centre[passed], small)
    tied = np.array(
        [
            _ties(board, int(hole), samples.reference[np.abs(samples.station - where) <= AROUND_MM], int(piece))
            for hole, where, piece in zip(ties[passed], station, beside, strict=True)
        ],
        dtype=bool,
    )
    passed, station, angle = passed[tied], station[tied], angle[tied]
    order = np.lexsort((angle, np.round(station, 4)))
    return Posts(ties[passed][order], station[order], centre[passed][order])


def _passed(
    path: Run, centre: NDArray[np.float64], reach: float
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Which of the points one passes on the left within reach; station and foot on the path, and angle around it.

    A point is passed wherever its distance from the path is least on a stretch, so that a post between two traces of
    one path serves both. The angle orders points around an outer corner, which have one foot. Points beyond the ends
    of the path are not passed.
    """
    start, step = path.xy[:-1], np.diff(path.xy, axis=0)
    length = np.diff(path.station)
    ahead = step / length[:, None]
    lines = shapely.linestrings(np.stack([start, path.xy[1:]], axis=1))
    farthest = reach + path.width.max() / 2
    point, leg = shapely.STRtree(lines).query(shapely.points(centre), predicate="dwithin", distance=farthest)
    order = np.lexsort((leg, point))
    point, leg = point[order], leg[order]
    along = ((centre[point] - start[leg]) * ahead[leg]).sum(axis=1)
    clipped = np.clip(along, 0, length[leg])
    foot = start[leg] + ahead[leg] * clipped[:, None]
    away = centre[point] - foot
    distance = np.hypot(*away.T)

    follows = (np.diff(point) == 0) & (np.diff(leg) == 1)
    nearer_than_last = np.concatenate([[True], ~follows | (distance[1:] < distance[:-1])])[: len(point)]
    nearer_than_next = np.concatenate([~follows | (distance[:-1] <= distance[1:]), [True]])[: len(point)]
    before = np.where((along <= 0) & (leg > 0), leg - 1, leg)
    after = np.where((along >= length[leg]) & (leg < len(length) - 1), leg + 1, leg)
    beyond = ((leg == 0) & (along < -TOUCH_MM)) | ((leg == len(length) - 1) & (along > length[leg] + TOUCH_MM))
    heading = ahead[before] + ahead[after]
    to_left = heading[:, 0] * away[:, 1] - heading[:, 1] * away[:, 0]
    near = distance <= reach + path.width[leg] / 2
    chosen = np.flatnonzero(nearer_than_last & nearer_than_next & ~beyond & near & (to_left > 0))
    angle = np.arctan2((heading * away).sum(axis=1), to_left)
    station = path.station[leg] + clipped
    return point[chosen], station[chosen], foot[chosen], angle[chosen]


def _in_sight(board: Board, path: Run, foot: NDArray[np.float64], centre: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether no other trace, nor another stretch of this one, lies between a post and its foot."""
    away = centre - foot
    start = foot + away * np.minimum(1.0, TOUCH_MM / np.hypot(*away.T))[:, None]
    sight = shapely.linestrings(np.stack([start, centre], axis=1))
    strokes = strokes_on(board, path.layer)
    post, stroke = strokes.tree.query(sight, predicate="intersects")
    own = shapely.STRtree(shapely.linestrings(np.stack([path.xy[:-1], path.xy[1:]], axis=1)))
    seen = np.ones(len(sight), dtype=bool)
    seen[post[strokes.net[stroke] != path.net]] = False
    seen[own.query(sight, predicate="intersects")[0]] = False
    return seen


def _beside(
    board: Board, layer: int, foot: NDArray[np.float64], centre: NDArray[np.float64], small: float
) -> NDArray[np.int32]:
    """The ground piece on the trace's own layer that comes first on the way to each post; -1 for none."""
    away = centre - foot
    count = np.ceil(np.hypot(*away.T) / SIGHT_STEP_MM).astype(np.int64) + 1
    owner = np.repeat(np.arange(len(count)), count)
    part = (np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)) / np.maximum(count - 1, 1)[owner]
    piece = planes_of(board, layer).piece_at(shapely.points(foot[owner] + away[owner] * part[:, None]))
    seen = np.unique(piece[_is_ground(board, piece)])
    large = seen[[extent(board, int(one)) >= small for one in seen]]
    hits = np.flatnonzero(np.isin(piece, large))
    first, which = np.unique(owner[hits], return_index=True)
    found = np.full(len(count), -1, dtype=np.int32)
    found[first] = piece[hits[which]]
    return found


def _ties(board: Board, hole: int, references: NDArray[np.int32], beside: int) -> bool:
    """Whether a hole touches the references near it (n, 2) on each side that has one, and the ground beside."""
    touched = set(board.pieces_at(hole).tolist())
    if beside >= 0 and beside not in touched:
        return False
    for pieces in references.T:
        given = pieces[pieces >= 0]
        if 2 * len(given) > len(pieces) and touched.isdisjoint(given.tolist()):
            return False
    return True
