"""Which ties are posts of the fence along a side of a trace, and where along it they stand.

A post's barrel passes the trace's own layer and touches the ground copper that the fence is for: the trace's references
as they are where it stands, and the ground beside the trace on its own layer if there is any between the two.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import TOUCH_MM, Board, NetKind
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.ranges import from_zero
from fencepost.signals.cover import planes_of
from fencepost.signals.runs import Run
from fencepost.signals.samples import Samples, is_ground
from fencepost.signals.ties import ties_of
from fencepost.signals.traces import traces_of

AROUND_MM = 1.5
"""Along the trace, before and after a post: what is a reference over more than half of it must be tied by the post."""

ABEAM = 0.05
"""A post beyond the end of a trace still counts as beside it within this angle, in radians: arcs are chords here."""

SIGHT_STEP_MM = 0.05
"""Between samples from a trace to a post: narrower ground copper beside a trace is not seen."""


@dataclass(frozen=True, eq=False)
class Posts:
    """p posts in the order in which one passes them. A tie that one passes twice is here twice.

    hole     int32 (p)       index into Board.holes
    station  float64 (p)     the point of the path next to it, mm along the path
    away     float64 (p)     from there to its centre, mm
    centre   float64 (p, 2)
    """

    hole: NDArray[np.int32]
    station: NDArray[np.float64]
    away: NDArray[np.float64]
    centre: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.hole)


@dataclass(frozen=True)
class Refused:
    """A hole that looks like a post and is none, where along the path (mm), and why, as the end of a sentence."""

    hole: int
    station: float
    reason: str


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


def posts_along(
    board: Board, path: Run, samples: Samples, reach: float, small: float
) -> tuple[Posts, tuple[Refused, ...]]:
    """The posts to the left of a path, no farther than `reach` (mm) from the edge of its trace, and what is none.

    A post does not count behind another trace. Ground copper beside the trace that is less than `small` (mm) across
    need not be tied by it.
    """
    holes = _holes_for_ground(board)
    centre = board.holes.centre[holes].reshape(-1, 2)
    passed = passed_on_the_left(path, centre, reach)
    holes, centre = holes[passed.point], centre[passed.point]
    seen = _in_sight(board, path, passed.foot, centre)
    beside = _beside(board, path.layer, passed.foot, centre, small)
    posts, refused = [], []
    for i in np.lexsort((passed.angle, np.round(passed.station, 4))):
        hole, station = int(holes[i]), float(passed.station[i])
        near = samples.reference[np.abs(samples.station - station) <= AROUND_MM]
        reason = "is behind another trace" if not seen[i] else _fault(board, path.layer, hole, near, int(beside[i]))
        if reason:
            refused.append(Refused(hole, station, reason))
        else:
            posts.append(i)
    away = np.hypot(*(centre - passed.foot)[posts].T)
    return Posts(holes[posts], passed.station[posts], away, centre[posts]), tuple(refused)


def ground_to_tie(
    board: Board, path: Run, samples: Samples, station: float, at: NDArray[np.float64], small: float
) -> tuple[tuple[int, ...], ...]:
    """Groups of ground pieces of which a post at a place (2), in mm, must touch one each; `station` is its foot's."""
    near = samples.reference[np.abs(samples.station - station) <= AROUND_MM]
    groups = [
        tuple(np.unique(pieces[pieces >= 0]).tolist()) for pieces in near.T if 2 * (pieces >= 0).sum() > len(pieces)
    ]
    beside = int(_beside(board, path.layer, path.at(np.array([station])), np.reshape(at, (1, 2)), small)[0])
    return (*groups, *([(beside,)] if beside >= 0 else []))


@shared
def _holes_for_ground(board: Board) -> NDArray[np.int32]:
    """Holes that touch ground copper or none: posts, or what may have been meant as one."""
    net = board.holes.net
    return np.flatnonzero((net < 0) | np.isin(net, board.nets_of(NetKind.GROUND))).astype(np.int32)


@dataclass(frozen=True, eq=False)
class Passed:
    """Points that one passes on the left: which, where along the path, from which of its points, and the angle there.

    The angle, in radians, puts points around an outer corner into order, where they all have one foot.
    """

    point: NDArray[np.int64]
    station: NDArray[np.float64]
    foot: NDArray[np.float64]
    angle: NDArray[np.float64]


def passed_on_the_left(path: Run, centre: NDArray[np.float64], reach: float) -> Passed:
    """The points within reach on the left. One beyond an end of the path is not passed.

    A point is passed wherever its distance from the path is the least on a stretch, so that a post between two traces
    of one path serves both.
    """
    start, length = path.xy[:-1], np.diff(path.station)
    ahead = np.diff(path.xy, axis=0) / length[:, None]
    farthest = reach + path.width.max() / 2
    point, leg = shapely.STRtree(path.lines).query(shapely.points(centre), predicate="dwithin", distance=farthest)
    order = np.lexsort((leg, point))
    point, leg = point[order], leg[order]
    along = ((centre[point] - start[leg]) * ahead[leg]).sum(axis=1)
    clipped = np.clip(along, 0, length[leg])
    foot = start[leg] + ahead[leg] * clipped[:, None]
    away = centre[point] - foot
    distance = np.hypot(*away.T)

    final = leg == len(length) - 1
    past, short = along >= length[leg], along <= 0
    nearest = ~past & ~short
    nearest[:-1] |= (np.diff(point) == 0) & (np.diff(leg) == 1) & past[:-1] & short[1:]
    beyond = np.where(short, -along, along - length[leg])
    nearest |= ((leg == 0) & short | final & past) & (beyond <= ABEAM * distance)
    heading = ahead[leg] + ahead[np.where(past & ~final, leg + 1, leg)]
    to_left = heading[:, 0] * away[:, 1] - heading[:, 1] * away[:, 0]
    near = distance <= reach + path.width[leg] / 2
    chosen = np.flatnonzero(nearest & near & (to_left > 0))
    angle = np.arctan2((heading * away).sum(axis=1), to_left)
    return Passed(point[chosen], (path.station[leg] + clipped)[chosen], foot[chosen], angle[chosen])


def _in_sight(board: Board, path: Run, foot: NDArray[np.float64], centre: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether no other trace, nor another stretch of this one, lies between a hole and its foot."""
    away = centre - foot
    start = foot + away * np.minimum(1.0, TOUCH_MM / np.hypot(*away.T))[:, None]
    sight = shapely.linestrings(np.stack([start, centre], axis=1))
    strokes = strokes_on(board, path.layer)
    hole, stroke = strokes.tree.query(sight, predicate="intersects")
    seen = np.ones(len(sight), dtype=bool)
    seen[hole[strokes.net[stroke] != path.net]] = False
    seen[shapely.STRtree(path.lines).query(sight, predicate="intersects")[0]] = False
    return seen


def _beside(
    board: Board, layer: int, foot: NDArray[np.float64], centre: NDArray[np.float64], small: float
) -> NDArray[np.int32]:
    """The ground piece on the trace's own layer that comes first on the way to each hole; -1 for none."""
    away = centre - foot
    count = np.ceil(np.hypot(*away.T) / SIGHT_STEP_MM).astype(np.int64) + 1
    owner = np.repeat(np.arange(len(count)), count)
    part = from_zero(count) / np.maximum(count - 1, 1)[owner]
    piece = planes_of(board, layer).piece_at(shapely.points(foot[owner] + away[owner] * part[:, None]))
    seen = np.unique(piece[is_ground(board, piece)])
    large = [one for one in seen.tolist() if _extent(board, one) >= small]
    hits = np.flatnonzero(np.isin(piece, large))
    first, which = np.unique(owner[hits], return_index=True)
    found = np.full(len(count), -1, dtype=np.int32)
    found[first] = piece[hits[which]]
    return found


@shared
def _extent(board: Board, piece: int) -> float:
    """The diameter of the smallest circle around a piece of copper, in mm."""
    copper = board.copper[int(board.pieces.layer[piece]) - 1]
    parts = copper.parts_of(piece)
    around = shapely.minimum_bounding_radius(shapely.geometrycollections(copper.geometry[parts]))
    return float(2 * (around + copper.reach[parts].max()))


def _fault(board: Board, layer: int, hole: int, references: NDArray[np.int32], beside: int) -> str:
    """Why a hole is no post where these are the references near it, (n, 2); empty where it is one."""
    if not board.holes.plated[hole]:
        return "is not plated"
    if not board.holes.first[hole] <= layer <= board.holes.last[hole]:
        return f"does not pass L{layer}"
    touched = set(board.pieces_at(hole).tolist())
    if beside >= 0 and beside not in touched:
        return f"does not touch the ground beside the trace on L{layer}"
    for pieces in references.T:
        given = pieces[pieces >= 0]
        if 2 * len(given) > len(pieces) and touched.isdisjoint(given.tolist()):
            return f"does not touch the ground on L{board.pieces.layer[given[0]]} that the trace runs over"
    return "" if hole in ties_of(board).holes else "touches ground on one layer only"
