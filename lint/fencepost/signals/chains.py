"""Chains: the segments of traces in the order in which one follows them, from spot to spot.

A spot is a node with all that links join to it. Every segment can be walked in two ways: way 2 s goes along segment s
from its first end to its second one, way 2 s + 1 back. Which way follows which is known for all of them at once, so
that chains are put in order for a whole board without walking along any of them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fencepost.board.connect import components
from fencepost.board.model import Board
from fencepost.frozen import dataclass
from fencepost.signals.traces import Traces, traces_of

THROUGH_MM = 2.0
"""Two traces that end on one land no farther apart than this are one run."""

NONE = -1


@dataclass(frozen=True, eq=False)
class Chains:
    """c chains of k segments altogether, by net and by their first strokes in the files.

    segment  int64 (k)     chain after chain, in the order in which they follow one another
    turned   bool (k)      the segment is walked from its second end to its first one
    begin    int64 (c + 1) chain i has segments begin[i] to begin[i + 1] - 1
    spots    int32 (c, 2)  where each chain begins and ends
    """

    segment: NDArray[np.int64]
    turned: NDArray[np.bool_]
    begin: NDArray[np.int64]
    spots: NDArray[np.int32]


def chains_of(board: Board) -> Chains:
    """The chains of all traces of a board.

    A chain goes in the direction of its first stroke or, where its last segment comes before its first one in the
    files, the other way round. A closed one begins with its first stroke.
    """
    traces = traces_of(board)
    if not len(traces):
        nothing = np.empty(0, dtype=np.int64)
        return Chains(nothing, nothing > 0, np.zeros(1, dtype=np.int64), np.empty((0, 2), dtype=np.int32))
    links = traces.feature < 0
    spot = components(len(traces.xy), traces.ends[links].T)
    spots = spot[traces.ends]
    kept = ~links & (spots[:, 0] != spots[:, 1])
    kept[_repeated(traces, spots, kept)] = False
    follows = _opened(_following(board, traces, spot, kept), kept)
    way = np.flatnonzero(np.repeat(kept, 2))
    ahead, last = _ranked(follows)
    # Every chain is there twice, once each way; `last` names it by its last way.
    first = _firsts(follows, way)
    end = last[first]
    forward = (first // 2 < end // 2) | ((first // 2 == end // 2) & (first % 2 == 0))
    wanted = np.zeros(len(follows), dtype=bool)
    wanted[end[forward]] = True
    way = way[wanted[last[way]]]

    order = np.lexsort((-ahead[way], last[way]))
    way = way[order]
    begin = np.flatnonzero(np.diff(last[way], prepend=NONE))
    earliest = np.minimum.reduceat(way // 2, begin) if len(begin) else way
    rank = np.lexsort((earliest, traces.net[earliest]))
    count = np.diff(begin, append=len(way))[rank]
    starts = np.concatenate([[0], np.cumsum(count)]).astype(np.int64)
    way = way[np.repeat(begin[rank] - starts[:-1], count) + np.arange(len(way))]
    head, tail = way[starts[:-1]], way[starts[1:] - 1]
    ends = np.column_stack([spots[head // 2, head % 2], spots[tail // 2, 1 - tail % 2]])
    return Chains(way // 2, way % 2 == 1, starts, ends.astype(np.int32))


def _repeated(traces: Traces, spots: NDArray[np.int32], kept: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Segments that run on top of another one between the same two spots."""
    chosen = np.flatnonzero(kept)
    turned = spots[chosen, 0] > spots[chosen, 1]
    ends = np.where(turned[:, None], traces.ends[chosen][:, ::-1], traces.ends[chosen])
    low, high = np.sort(spots[chosen], axis=1).T.astype(np.int64)
    _, first, which = np.unique(low * (int(spots.max(initial=0)) + 1) + high, return_index=True, return_inverse=True)
    same = first[which]
    away = np.hypot(*np.moveaxis(traces.xy[ends] - traces.xy[ends[same]], -1, 0)).max(axis=1, initial=0.0)
    repeated: NDArray[np.int64] = chosen[(same != np.arange(len(chosen))) & (away <= traces.width[chosen] / 2)]
    return repeated


def _following(board: Board, traces: Traces, spot: NDArray[np.int32], kept: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Which way follows each way, NONE where a chain ends.

    A chain goes on through a spot where two segments meet, close to one another, and no hole leads to other layers.
    """
    count = int(spot.max(initial=-1)) + 1
    flat = np.where(kept[:, None], spot[traces.ends], count).ravel()
    order = np.argsort(flat, kind="stable")
    begin = np.searchsorted(flat[order], np.arange(count + 1))
    degree = np.diff(begin)
    through = degree == 2
    pairs = np.flatnonzero(through)
    ends = traces.xy[traces.ends.ravel()[order]]
    apart = np.hypot(*(ends[begin[pairs]] - ends[begin[pairs] + 1]).T)
    through[pairs[apart > THROUGH_MM]] = False

    hole, _, node = traces.hole_nodes.T
    leaves = np.bincount(hole, degree[spot[node]] > 0, minlength=len(board.holes))
    through[spot[node[leaves[hole] > 1]]] = False

    # The way that leaves a spot has the number of its segment's end there; the other way of the segment comes in.
    at = begin[np.flatnonzero(through)]
    one, other = order[at], order[at + 1]
    follows = np.full(2 * len(kept), NONE, dtype=np.int32)
    follows[one ^ 1], follows[other ^ 1] = other, one
    return follows


def _opened(follows: NDArray[np.int32], kept: NDArray[np.bool_]) -> NDArray[np.int32]:
    """The same with every closed chain cut where its first stroke begins."""
    way = np.flatnonzero(follows != NONE)
    group = components(len(kept), np.stack([way // 2, follows[way] // 2]))
    ends = np.bincount(group, (follows.reshape(-1, 2) == NONE).any(axis=1))
    _, first = np.unique(group, return_index=True)
    first = first[(ends[group[first]] == 0) & kept[first]]
    before = follows[2 * first + 1]
    opened = follows.copy()
    opened[2 * first + 1] = NONE
    opened[before ^ 1] = NONE
    return opened


def _firsts(follows: NDArray[np.int32], way: NDArray[np.int64]) -> NDArray[np.int64]:
    """Those of these ways that follow none."""
    led = np.zeros(len(follows), dtype=bool)
    led[follows[follows != NONE]] = True
    return way[~led[way]]


def _ranked(follows: NDArray[np.int32]) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """How many ways are still ahead of each one in its chain, and the last of them; by doubling the steps."""
    ahead = (follows != NONE).astype(np.int32)
    last = np.where(follows == NONE, np.arange(len(follows), dtype=np.int32), follows)
    while (ahead[last] > 0).any():
        ahead += ahead[last]
        last = last[last]
    return ahead, last
