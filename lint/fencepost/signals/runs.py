"""Runs: the traces of a net on one layer as polylines from end to end.

A run ends at a pad, a hole, a junction or a loose end. Where exactly two traces meet it goes on: around a bend, through
a land (a test point) whose two traces lie close together, through a hole that no trace leaves on another layer. A
stroke that overshoots a junction or a land leaves a short run of its own there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.connect import components
from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.readers.artwork import Kind
from fencepost.signals.traces import Traces, traces_of

THROUGH_MM = 2.0
"""Two traces that end on one land no farther apart than this are one run."""


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


@shared
def runs_of(board: Board, net: int) -> tuple[Run, ...]:
    """The runs of one net, in the order of their first strokes in the files, each in the direction of its strokes."""
    traces, joints = traces_of(board), _joints_of(board)
    done: set[int] = set()
    runs = []
    for segment in np.flatnonzero(joints.kept & (traces.net == net)):
        if segment in done:
            continue
        steps = _steps(joints, int(segment))
        done.update(step for step, _ in steps)
        runs.append(_run(traces, joints, steps))
    return tuple(runs)


def areas_beyond(board: Board, net: int, layer: int, runs: tuple[Run, ...], distance: float) -> list[int]:
    """Features of a net on a layer that are drawn as areas, are no pads, and reach farther than this from all its runs.

    `runs` are the net's on this layer, `distance` is in mm. A trace drawn in this way is no run.
    """
    copper = board.copper[layer - 1]
    drawn = (copper.reach == 0) & (copper.artwork.kind[copper.feature] != Kind.FLASH)
    pads = copper.artwork.pin[copper.feature] >= 0
    parts = np.flatnonzero(drawn & ~pads & (board.pieces.net[copper.piece] == net))
    lines = shapely.MultiLineString([run.xy for run in runs])
    corners, owner = shapely.get_coordinates(copper.geometry[parts], return_index=True)
    away = shapely.distance(shapely.points(corners), lines) if runs else np.full(len(corners), np.inf)
    return sorted({int(copper.feature[part]) for part in parts[np.unique(owner[away > distance])]})


@dataclass(frozen=True, eq=False)
class _Joints:
    """How segments meet. A spot is a node with all that links join to it.

    kept     bool (s)      segments of copper between two spots, each once
    spots    int32 (s, 2)  of their ends
    through  bool (spots)  a run goes on here
    arms     int64         the kept segments at each spot, begin[spot] to begin[spot + 1]
    """

    kept: NDArray[np.bool_]
    spots: NDArray[np.int32]
    through: NDArray[np.bool_]
    arms: NDArray[np.int64]
    begin: NDArray[np.int64]

    def next(self, segment: int, spot: int) -> int:
        """The other one of the two segments at a spot."""
        first, second = self.arms[self.begin[spot] : self.begin[spot + 1]]
        return int(second if first == segment else first)


@shared
def _joints_of(board: Board) -> _Joints:
    traces = traces_of(board)
    links = traces.feature < 0
    spot = components(len(traces.xy), traces.ends[links].T)
    spots = spot[traces.ends].reshape(-1, 2)
    kept = ~links & (spots[:, 0] != spots[:, 1])
    kept[_repeated(traces, spots, kept)] = False

    count = int(spot.max(initial=-1)) + 1
    flat = np.where(kept[:, None], spots, count).ravel()
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
    return _Joints(kept, spots, through, order // 2, begin)


def _repeated(traces: Traces, spots: NDArray[np.int32], kept: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Segments that run on top of another one between the same two spots."""
    chosen = np.flatnonzero(kept)
    turned = spots[chosen, 0] > spots[chosen, 1]
    ends = np.where(turned[:, None], traces.ends[chosen][:, ::-1], traces.ends[chosen])
    keys = np.sort(spots[chosen], axis=1)
    _, first, which = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    same = first[which.ravel()]
    away = np.hypot(*np.moveaxis(traces.xy[ends] - traces.xy[ends[same]], -1, 0)).max(axis=1, initial=0.0)
    repeated: NDArray[np.int64] = chosen[(same != np.arange(len(chosen))) & (away <= traces.width[chosen] / 2)]
    return repeated


def _steps(joints: _Joints, segment: int) -> list[tuple[int, bool]]:
    """The segments of the run that a segment is part of, in order, and whether each is walked from its first end."""
    ahead, closed = _ahead(joints, segment, True)
    behind = [] if closed else [(step, not forward) for step, forward in _ahead(joints, segment, False)[0]]
    steps = [*reversed(behind), (segment, True), *ahead]
    if steps[0][0] > steps[-1][0]:
        steps = [(step, not forward) for step, forward in reversed(steps)]
    return steps


def _ahead(joints: _Joints, segment: int, forward: bool) -> tuple[list[tuple[int, bool]], bool]:
    """What follows a segment up to the end of its run, and whether it leads back to where it began."""
    steps: list[tuple[int, bool]] = []
    here, spot = segment, int(joints.spots[segment, int(forward)])
    while joints.through[spot]:
        here = joints.next(here, spot)
        if here == segment:
            return steps, True
        forward = bool(joints.spots[here, 0] == spot)
        steps.append((here, forward))
        spot = int(joints.spots[here, int(forward)])
    return steps, False


def _run(traces: Traces, joints: _Joints, steps: list[tuple[int, bool]]) -> Run:
    order = np.array([step for step, _ in steps])
    forward = np.array([way for _, way in steps])[:, None]
    nodes = np.where(forward, traces.ends[order], traces.ends[order][:, ::-1])
    spots = np.where(forward, joints.spots[order], joints.spots[order][:, ::-1])
    net, layer = int(traces.net[order[0]]), int(traces.layer[order[0]])
    legs = [
        Run(net, layer, traces.xy[pair], traces.width[[segment]], traces.feature[[segment]], (int(begin), int(end)))
        for pair, segment, (begin, end) in zip(nodes, order, spots, strict=True)
    ]
    return joined_runs(legs)
