"""Runs: the traces of a net on one layer as polylines from end to end.

A run ends at a pad, a hole, a junction or a loose end. Where exactly two traces meet it goes on: around a bend, through
a land (a test point) whose two traces lie close together, through a hole that no trace leaves on another layer. A
stroke that overshoots a junction or a land leaves a short run of its own there.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.ranges import ranges
from fencepost.readers.artwork import Kind
from fencepost.signals.chains import chains_of
from fencepost.signals.traces import traces_of

APART_MM = 1.0
"""Between two runs on the common scale of stations."""

SAME_MM = 1e-6
"""Stations that differ by less are the same."""


@dataclass(frozen=True, eq=False)
class Run:
    """A polyline of n points on one layer. Leg i goes from point i to point i + 1. Lengths in mm.

    xy       float64 (n, 2)  no point stands twice in a row
    width    float64 (n - 1) of the copper
    feature  int32 (n - 1)   the stroke of each leg, of the layer's artwork; through a land, that of the leg before
    spots    where it begins and ends; runs with an end at the same spot meet there
    """

    net: int
    layer: int
    xy: NDArray[np.float64]
    width: NDArray[np.float64]
    feature: NDArray[np.int32]
    spots: tuple[int, int]

    @cached_property
    def station(self) -> NDArray[np.float64]:
        """(n): the way along the run to each point."""
        return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(self.xy, axis=0).T))])

    @property
    def length(self) -> float:
        return float(self.station[-1])

    @cached_property
    def lines(self) -> NDArray[np.object_]:
        """(n - 1): the legs as shapely lines."""
        legs: NDArray[np.object_] = shapely.linestrings(np.stack([self.xy[:-1], self.xy[1:]], axis=1))
        return legs

    def leg(self, station: NDArray[np.float64] | float) -> NDArray[np.int64]:
        """The leg on which each of these stations lies; a point belongs to the leg that it begins."""
        found: NDArray[np.int64] = np.searchsorted(self.station, station, side="right") - 1
        return np.clip(found, 0, len(self.width) - 1)

    def at(self, station: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """(..., 2): the points at these stations."""
        return np.stack([np.interp(station, self.station, self.xy[:, axis]) for axis in (0, 1)], axis=-1)

    @property
    def backwards(self) -> Run:
        """The same run from its other end."""
        return Run(
            self.net, self.layer, self.xy[::-1], self.width[::-1], self.feature[::-1], (self.spots[1], self.spots[0])
        )


def joined_runs(runs: list[Run]) -> Run:
    """Runs of one net and layer one after another, each from where the last one ended."""
    xy = np.concatenate([run.xy for run in runs])
    counts = [len(run.xy) for run in runs]
    bridged = np.cumsum(counts)[:-1] - 1
    width, feature = np.empty(len(xy) - 1), np.empty(len(xy) - 1, dtype=np.int32)
    own = np.ones(len(xy) - 1, dtype=bool)
    own[bridged] = False
    width[own] = np.concatenate([run.width for run in runs])
    feature[own] = np.concatenate([run.feature for run in runs])
    width[bridged], feature[bridged] = width[bridged - 1], feature[bridged - 1]
    moved = (np.diff(xy, axis=0) != 0).any(axis=1)
    points = np.concatenate([[True], moved])
    return Run(
        runs[0].net, runs[0].layer, xy[points], width[moved], feature[moved], (runs[0].spots[0], runs[-1].spots[1])
    )


@dataclass(frozen=True, eq=False)
class Paths:
    """r runs of p points altogether, by net, each net's in the order of their first strokes. Lengths in mm.

    net, layer int32 (r)
    begin      int64 (r + 1)  run i has points begin[i] to begin[i + 1] - 1
    spots      int32 (r, 2)   as in Run
    xy         float64 (p, 2)
    width      float64 (p)    of the leg that leads to each point; the first one of a run has none
    feature    int32 (p)      likewise
    """

    net: NDArray[np.int32]
    layer: NDArray[np.int32]
    begin: NDArray[np.int64]
    spots: NDArray[np.int32]
    xy: NDArray[np.float64]
    width: NDArray[np.float64]
    feature: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.net)

    def run(self, i: int) -> Run:
        """One of the runs."""
        first, end = int(self.begin[i]), int(self.begin[i + 1])
        legs, (begins, ends) = slice(first + 1, end), self.spots[i].tolist()
        return Run(
            int(self.net[i]), int(self.layer[i]), self.xy[first:end], self.width[legs], self.feature[legs],
            (begins, ends),
        )  # fmt: skip

    @cached_property
    def _way(self) -> NDArray[np.float64]:
        """(p): the way to each point on a common scale, on which the runs follow one another APART_MM apart."""
        step = np.hypot(*np.diff(self.xy, axis=0, prepend=self.xy[:1]).T)
        step[self.begin[:-1]] = APART_MM
        return np.cumsum(step)

    @cached_property
    def length(self) -> NDArray[np.float64]:
        """(r): of each run."""
        return self._way[self.begin[1:] - 1] - self._way[self.begin[:-1]]

    def at(self, run: NDArray[np.integer], station: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2): the points at stations (n) of runs (n)."""
        where = self._way[self.begin[run]] + station
        return np.column_stack([np.interp(where, self._way, self.xy[:, axis]) for axis in (0, 1)])

    def widest(
        self, run: NDArray[np.integer], begin: NDArray[np.float64], end: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """(n): the widest that runs (n) are between two stations (n)."""
        first, last = (
            np.searchsorted(self._way, self._way[self.begin[run]] + station, side="right") for station in (begin, end)
        )
        first, last = (np.clip(leg, self.begin[run] + 1, self.begin[run + 1] - 1) for leg in (first, last))
        width = np.append(self.width, 0.0)
        widest: NDArray[np.float64] = np.maximum.reduceat(width, np.stack([first, last + 1], axis=1).ravel())[::2]
        return widest

    def lines(
        self, run: NDArray[np.integer], begin: NDArray[np.float64], end: NDArray[np.float64]
    ) -> NDArray[np.object_]:
        """(n): runs (n) from one station (n) to another, both cut off at the ends of the runs, as shapely lines."""
        begin, end = np.maximum(begin, 0.0), np.minimum(end, self.length[run])
        # A point that stands on an end but for rounding would turn the line around there.
        first, last = (
            np.searchsorted(self._way, self._way[self.begin[run]] + station)
            for station in (begin + SAME_MM, end - SAME_MM)
        )
        count = np.maximum(last - first, 0)
        inner = ranges(first, count)
        which = np.arange(len(run))
        owner = np.concatenate([which, np.repeat(which, count), which])
        xy = np.concatenate([self.at(run, begin), self.xy[inner], self.at(run, end)])
        order = np.argsort(owner, kind="stable")
        lines: NDArray[np.object_] = shapely.linestrings(xy[order], indices=owner[order])
        return lines


@shared
def paths_of(board: Board) -> Paths:
    """All runs of a board, each in the direction of its strokes."""
    traces, chains = traces_of(board), chains_of(board)
    segment, turned = chains.segment, chains.turned.astype(np.int64)
    ends = traces.ends[segment[:, None], np.column_stack([turned, 1 - turned])]
    # The two ends of every segment; from one segment to the next it goes through a land or nowhere.
    xy = traces.xy[ends.ravel()]
    owner = np.repeat(np.arange(len(chains.spots)), 2 * np.diff(chains.begin))
    kept = np.ones(len(xy), dtype=bool)
    kept[1:] = (xy[1:] != xy[:-1]).any(axis=1) | (owner[1:] != owner[:-1])
    point = np.flatnonzero(kept)
    leg = segment[np.maximum(point - 1, 0) // 2]
    first = segment[chains.begin[:-1]]
    return Paths(
        net=traces.net[first],
        layer=traces.layer[first],
        begin=np.searchsorted(owner[point], np.arange(len(first) + 1)).astype(np.int64),
        spots=chains.spots,
        xy=xy[point],
        width=traces.width[leg],
        feature=traces.feature[leg],
    )


@shared
def runs_of(board: Board, net: int) -> tuple[Run, ...]:
    """The runs of one net, in the order of their first strokes in the files, each in the direction of its strokes."""
    paths = paths_of(board)
    low, high = np.searchsorted(paths.net, [net, net + 1])
    return tuple(paths.run(i) for i in range(low, high))


def areas_beyond(board: Board, net: int, layer: int, runs: tuple[Run, ...], distance: float) -> list[int]:
    """Features of a net on a layer that are drawn as areas, are no pads, and reach farther than this from all its runs.

    `runs` are the net's on this layer, `distance` is in mm. A trace drawn in this way is no run.
    """
    copper, (parts, nets) = board.copper[layer - 1], areas_on(board, layer)
    parts = parts[slice(*np.searchsorted(nets, [net, net + 1]))]
    lines = shapely.MultiLineString([run.xy for run in runs])
    corners, owner = shapely.get_coordinates(copper.geometry[parts], return_index=True)
    away = shapely.distance(shapely.points(corners), lines) if runs else np.full(len(corners), np.inf)
    return sorted({int(copper.feature[part]) for part in parts[np.unique(owner[away > distance])]})


@shared
def areas_on(board: Board, layer: int) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """The parts of a layer's copper that are drawn as areas and are no pads, by net, and their nets."""
    copper = board.copper[layer - 1]
    drawn = (copper.reach == 0) & (copper.artwork.kind[copper.feature] != Kind.FLASH)
    parts = np.flatnonzero(drawn & (copper.artwork.pin[copper.feature] < 0))
    net = board.pieces.net[copper.piece[parts]]
    order = np.argsort(net, kind="stable")
    return parts[order], net[order]
