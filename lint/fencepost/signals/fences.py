"""Fences: the gaps between posts along a side of a trace.

The gap at a point of the trace is the shortest bridge across it: the least distance, centre to centre, from a post
before it to a post after it. So two rows, staggered posts and bends come out right. Where the trace ends, the bridge
goes from its end and is measured along it; so is a bridge that cuts off a long way, as across the mouth of a horseshoe.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import TOUCH_MM, Board
from fencepost.frozen import dataclass
from fencepost.signals.posts import Posts, Refused, posts_along, strokes_on
from fencepost.signals.runs import Run
from fencepost.signals.samples import Samples, samples_along
from fencepost.signals.sides import Side

FACING = 0.5
"""Two stretches of one trace face one another, as in a meander, up to this sine of their angle: 30 degrees."""

END = -1
"""Instead of a post: the end of the trace, or of the stretch that must have a fence."""


@dataclass(frozen=True)
class Gap:
    """A bridge that is too long. `before` and `after` are rows of Fence.posts, or END.

    `begin` and `end` are where these stand along the path; all lengths in mm.
    """

    width: float
    before: int
    after: int
    begin: float
    end: float

    @property
    def middle(self) -> float:
        return (self.begin + self.end) / 2


@dataclass(frozen=True)
class Opening:
    """Gaps that follow one another, without a bridge within the limit between them; all lengths in mm."""

    gaps: tuple[Gap, ...]

    @property
    def widest(self) -> Gap:
        """The first one where several are equally wide."""
        return max(self.gaps, key=lambda gap: round(gap.width, 4))


@dataclass(frozen=True, eq=False)
class Fence:
    """One side of a trace with its posts, and where they are too far apart.

    stretches  float64 (k, 2)  from where to where along the path a fence is needed
    """

    path: Run
    posts: Posts
    refused: tuple[Refused, ...]
    stretches: NDArray[np.float64]
    openings: tuple[Opening, ...]


def fence_along(
    board: Board, side: Side, limit: float, reach: float, together: float, partners: Iterable[int]
) -> Fence:
    """The fence on a side, with every bridge that is longer than `limit`.

    Posts stand no farther than `reach` from the edge of the trace. Where a trace of one of the nets `partners`, or
    another stretch of this one, runs on this side closer than `together`, from edge to edge, the two are fenced as one
    and nothing is needed between them. Stretches no longer than the limit need no fence. All in mm.
    """
    path, samples = side.path, samples_along(board, side.path)
    posts, refused = posts_along(board, path, samples, reach, limit)
    if side.closed and len(posts):
        path = _from(path, float(posts.station[0]))
        samples = samples_along(board, path)
        posts, refused = posts_along(board, path, samples, reach, limit)
    stretches = _stretches(path, samples, _alone(board, path, samples, together, partners))
    stretches = stretches[np.diff(stretches, axis=1)[:, 0] > limit + TOUCH_MM]
    openings: list[Opening] = []
    for begin, end in stretches.tolist():
        endless = side.closed and len(posts) > 0 and end - begin == path.length
        openings += openings_in(posts, begin, end, limit, endless=endless)
    return Fence(path, posts, refused, stretches, tuple(openings))


def _from(path: Run, station: float) -> Run:
    """A closed path from another one of its points on."""
    leg, point = int(path.leg(station)), path.at(station)
    order = np.concatenate([np.arange(leg, len(path.width)), np.arange(leg + 1)])
    xy = np.concatenate([[point], path.xy[leg + 1 :], path.xy[1 : leg + 1], [point]])
    moved = np.hypot(*np.diff(xy, axis=0).T) > TOUCH_MM / 2
    kept = np.concatenate([[True], moved])
    return Run(path.net, path.layer, xy[kept], path.width[order][moved], path.feature[order][moved], path.spots)


def _alone(board: Board, path: Run, samples: Samples, together: float, partners: Iterable[int]) -> NDArray[np.bool_]:
    """Whether no trace with which this one shares its fence runs to the left of each sample."""
    begin = samples.xy + samples.left * TOUCH_MM
    end = samples.xy + samples.left * (samples.width + together)[:, None]
    looks = shapely.linestrings(np.stack([begin, end], axis=1))
    alone = np.ones(len(looks), dtype=bool)
    strokes = strokes_on(board, path.layer)
    look, stroke = strokes.tree.query(looks, predicate="intersects")
    others = np.array(sorted(set(partners) - {path.net}), dtype=np.int32)
    alone[look[np.isin(strokes.net[stroke], others)]] = False

    look, leg = shapely.STRtree(path.lines).query(looks, predicate="intersects")
    ahead = np.diff(path.xy, axis=0) / np.diff(path.station)[:, None]
    across = np.abs((samples.left[look] * ahead[leg]).sum(axis=1))
    alone[look[across <= FACING]] = False
    return alone


def _stretches(path: Run, samples: Samples, wanted: NDArray[np.bool_]) -> NDArray[np.float64]:
    """From where to where the samples are wanted, (k, 2)."""
    edges = np.linspace(0.0, path.length, len(samples.station) + 1)
    change = np.flatnonzero(np.diff(np.concatenate([[False], wanted, [False]]).astype(np.int8)))
    return edges[change].reshape(-1, 2)


def openings_in(posts: Posts, begin: float, end: float, limit: float, endless: bool = False) -> list[Opening]:
    """Where the posts leave a path open from `begin` to `end`: bridges longer than the limit, neighbouring ones as one.

    All in mm. `endless` is a round that begins and ends at the same post: nothing is measured from its ends.
    """
    bridges = _bridges(posts, limit)
    gaps = [_gap(posts, bridges, space, begin, end, endless) for space in _spaces(posts, begin, end)]
    groups = groupby(gaps, key=lambda gap: gap.width > limit + TOUCH_MM)
    return [Opening(tuple(dict.fromkeys(group))) for wide, group in groups if wide]


@dataclass(frozen=True, eq=False)
class _Bridges:
    """The shortest bridge from a post up to number i to a post after it, p - 1 of them."""

    width: NDArray[np.float64]
    before: NDArray[np.int64]
    after: NDArray[np.int64]


def _bridges(posts: Posts, limit: float) -> _Bridges:
    """Straight, unless they cut off more of the trace than twice the limit and the ways to both posts."""
    count = max(len(posts) - 1, 0)
    best = _Bridges(np.full(count, np.inf), np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64))
    reach = _ends_of_bridges(posts, limit) - np.arange(count) - 1
    # From each post its shortest bridge over all spaces up to one, for one space after the other, the farthest first:
    # so for each space the posts before it come in their order.
    width, after = np.full(count, np.inf), np.zeros(count, dtype=np.int64)
    for spaces in range(int(reach.max(initial=0)) - 1, -1, -1):
        first = np.flatnonzero(spaces < reach)
        later = first + spaces + 1
        straight = np.hypot(*(posts.centre[later] - posts.centre[first]).T)
        along = posts.station[later] - posts.station[first]
        long = along > 2 * (limit + posts.away[later] + posts.away[first])
        bridge = np.where(long, np.maximum(straight, along), straight)
        nearer = bridge <= width[first]
        width[first[nearer]], after[first[nearer]] = bridge[nearer], later[nearer]
        first = first[width[first] < best.width[first + spaces] - 1e-9]
        over = first + spaces
        best.width[over], best.before[over], best.after[over] = width[first], first, after[first]
    return best


def _ends_of_bridges(posts: Posts, limit: float) -> NDArray[np.int64]:
    """For each post but the last one, behind which post no bridge from it can be the shortest over any space.

    A bridge that counts by what it cuts off is as long as that, and every space has one from its post to the next.
    """
    if len(posts) < 2:
        return np.empty(0, dtype=np.int64)
    next_ = np.maximum(np.hypot(*np.diff(posts.centre, axis=0).T), np.diff(posts.station))
    reach = max(float(next_.max()), 2 * (limit + 2 * float(posts.away.max()))) + TOUCH_MM
    ends = np.searchsorted(posts.station, posts.station[:-1] + reach, side="right")
    return np.maximum(ends, np.arange(2, len(posts) + 1))


def _spaces(posts: Posts, begin: float, end: float) -> range:
    """The spaces between posts that lie in a stretch: space i is before post i, the last one behind all of them."""
    first = int(np.searchsorted(posts.station, begin + TOUCH_MM))
    last = int(np.searchsorted(posts.station, end - TOUCH_MM))
    return range(first, last + 1)


def _gap(posts: Posts, bridges: _Bridges, space: int, begin: float, end: float, endless: bool) -> Gap:
    """The shortest bridge over a space between posts: from post to post, or from or to an end of the stretch."""
    last, following = space - 1, space
    choices = []
    if 0 < space < len(posts):
        before, after = int(bridges.before[last]), int(bridges.after[last])
        choices.append(Gap(float(bridges.width[last]), before, after, *posts.station[[before, after]].tolist()))
    if endless and choices:
        return choices[0]
    choices.append(Gap(end - begin, END, END, begin, end))
    if space < len(posts) and posts.station[following] <= end:
        station = float(posts.station[following])
        choices.append(Gap(station - begin, END, following, begin, station))
    if space > 0 and posts.station[last] >= begin:
        station = float(posts.station[last])
        choices.append(Gap(end - station, last, END, station, end))
    return min(choices, key=lambda gap: gap.width)
