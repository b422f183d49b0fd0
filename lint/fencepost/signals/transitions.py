"""Where a signal changes layer, and what its return current runs on before and after.

A transition is a plated hole that a signal's trace enters on one layer and leaves on another. Its reference on a layer
is what covers the trace over its first millimetres from the hole on: planes are perforated around vias, so one point
says little. The walk starts beyond the land and its clearance and follows every branch of the trace.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.readers.artwork import Kind
from fencepost.signals.cover import cover, weights
from fencepost.signals.traces import Traces, traces_of

STEP_MM = 0.1
"""Between samples along a trace."""

SKIP_MM = 0.4
"""Of trace from the rim of the hole on that says nothing: there the planes have their antipads."""

LOOK_MM = 3.0
"""Of trace beyond it over which references are looked for."""

STACK_MM = 0.3
"""Between the walls of two vias that hand a signal on from one to the other without a trace."""

RIM_MM = 0.5
"""How far the copper around an antipad may be from a trace that lies within the antipad altogether."""

SMALLEST_SHARE = 0.2
"""Less of the return current than this is no reference (design)."""


@dataclass(frozen=True)
class Reference:
    """Copper that carries a return current: a piece, its layer, and its share of the current from 0 to 1."""

    piece: int
    layer: int
    share: float


@dataclass(frozen=True)
class Stretch:
    """A trace, or a filled area of a signal, as it leaves a hole on one layer.

    `feature` is the stroke nearest to the hole, or the area, of the layer's artwork; `references` are sorted by share.
    """

    layer: int
    feature: int
    references: tuple[Reference, ...]

    @property
    def pieces(self) -> set[int]:
        """The pieces of the references."""
        return {reference.piece for reference in self.references}


@dataclass(frozen=True)
class Transition:
    """A signal hole and the stretches of trace that leave it on two neighbouring ones of its layers, from the top."""

    hole: int
    net: int
    before: Stretch
    after: Stretch


@dataclass(frozen=True, eq=False)
class _Samples:
    """Points along the traces that leave holes: which leaving they belong to, and where."""

    owner: NDArray[np.int32]
    xy: NDArray[np.float64]


@shared
def transitions_of(board: Board) -> tuple[Transition, ...]:
    """All transitions of a board, by hole and layer."""
    traces = traces_of(board)
    order = np.lexsort((traces.hole_nodes[:, 1], traces.hole_nodes[:, 0]))
    leavings: list[tuple[int, int, int]] = []
    points, owners = [], []
    for hole, layer, node in traces.hole_nodes[order]:
        first, xy = _walk(traces, int(node), board.holes.diameter[hole] / 2)
        feature, xy = (int(traces.feature[first]), xy) if first >= 0 else _area(board, int(hole), int(layer))
        if feature >= 0:
            owners.append(np.full(len(xy), len(leavings), dtype=np.int32))
            points.append(xy)
            leavings.append((int(hole), int(layer), feature))
    if not leavings:
        return ()
    samples = _Samples(np.concatenate(owners), np.concatenate(points))
    references = _references(board, np.array([layer for _, layer, _ in leavings], dtype=np.int32), samples)
    stack = _stacks(board, traces)
    stretches = sorted(
        (
            (stack.get(hole, hole), layer, hole, Stretch(layer, feature, found))
            for (hole, layer, feature), found in zip(leavings, references, strict=True)
        ),
        key=lambda leaving: leaving[:3],
    )
    return tuple(
        Transition(hole, int(board.holes.net[hole]), before, after)
        for (one, upper, hole, before), (other, lower, _, after) in pairwise(stretches)
        if one == other and upper < lower
    )


def _stacks(board: Board, traces: Traces) -> dict[int, int]:
    """For every hole in a stack of blind or buried vias, the first of the stack.

    Two vias are stacked where one ends on the layer on which the other begins, in copper that both meet, and their
    drilled outlines come within STACK_MM of one another.
    """
    first, last = board.holes.first, board.holes.last
    partial = np.unique(traces.hole_nodes[:, 0])
    partial = partial[(first[partial] > 1) | (last[partial] < board.layers)]
    if len(partial) < 2:
        return {}
    upper, lower = shapely.STRtree(board.holes.geometry[partial]).query(
        board.holes.geometry[partial], "dwithin", distance=board.holes.diameter[partial].max() + STACK_MM
    )
    upper, lower = partial[upper], partial[lower]
    meets = (last[upper] == first[lower]) & (board.holes.net[upper] == board.holes.net[lower])
    stack: dict[int, int] = {}
    for a, b in zip(upper[meets].tolist(), lower[meets].tolist(), strict=True):
        gap = shapely.distance(board.holes.geometry[a], board.holes.geometry[b])
        shares = set(board.pieces_at(a).tolist()) & set(board.pieces_at(b).tolist())
        if shares and gap <= (board.holes.diameter[a] + board.holes.diameter[b]) / 2 + STACK_MM:
            old, new = stack.get(b, b), stack.get(a, a)
            stack = {hole: new if root == old else root for hole, root in stack.items()} | {a: new, b: new}
    return stack


def _walk(traces: Traces, node: int, radius: float) -> tuple[int, NDArray[np.float64]]:
    """The first segment of a trace that leaves a node (-1 where none does), and samples along it and its branches.

    Samples begin SKIP_MM beyond the hole; a trace that ends before that is sampled over its whole length.
    """
    begin, end = radius + SKIP_MM, radius + SKIP_MM + LOOK_MM
    reached = {node: 0.0}
    queue = [(0.0, node)]
    done: set[int] = set()
    first, near, far = -1, [], []
    while queue:
        distance, here = heapq.heappop(queue)
        if distance > reached[here]:
            continue
        for segment in traces.segments_at(here):
            if segment in done:
                continue
            done.add(segment)
            other = traces.other_end(segment, here)
            length = float(traces.length[segment])
            if traces.feature[segment] >= 0 and length > 0:
                first = segment if first < 0 else first
                spots = np.arange(STEP_MM / 2, length, STEP_MM) if length > STEP_MM else np.array([length / 2])
                along = distance + spots
                xy = traces.xy[here] + (traces.xy[other] - traces.xy[here]) * (spots / length)[:, None]
                far.append(xy[(along >= begin) & (along <= end)])
                near.append(xy[along < begin])
            onward = distance + length
            if onward < min(reached.get(other, np.inf), end):
                reached[other] = onward
                heapq.heappush(queue, (onward, other))
    found = np.concatenate(far) if far else np.empty((0, 2))
    return int(first), found if len(found) else np.concatenate([*near, np.empty((0, 2))])


@shared
def _areas_of(board: Board, layer: int) -> dict[int, list[int]]:
    """The filled areas of a layer that are no pads, as parts by piece. A pad that is drawn as an area carries a pin."""
    copper = board.copper[layer - 1]
    fills = np.flatnonzero(copper.artwork.kind[copper.feature] == Kind.FILL)
    areas: dict[int, list[int]] = {}
    for part in fills[copper.artwork.pin[copper.feature[fills]] < 0].tolist():
        areas.setdefault(int(copper.piece[part]), []).append(part)
    return areas


def _area(board: Board, hole: int, layer: int) -> tuple[int, NDArray[np.float64]]:
    """A signal's filled area that a hole meets on a layer: its feature (-1 for none), and samples on it.

    An area that ends where samples would begin is no trace.
    """
    areas = _areas_of(board, layer)
    fills = [part for piece in board.pieces_at(hole).tolist() if piece in areas for part in areas[piece]]
    if not fills:
        return -1, np.empty((0, 2))
    copper, radius, drill = board.copper[layer - 1], board.holes.diameter[hole] / 2, board.holes.geometry[hole]
    fills = [part for part in fills if shapely.dwithin(copper.geometry[part], drill, radius)]
    if not len(fills):
        return -1, np.empty((0, 2))
    begin = radius + SKIP_MM
    steps = np.arange(-begin - LOOK_MM, begin + LOOK_MM, 2 * STEP_MM)
    spots = board.holes.centre[hole] + np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    away = shapely.distance(shapely.points(spots), drill)
    spots = spots[(away >= begin) & (away <= begin + LOOK_MM)]
    for part in fills:
        inside = spots[shapely.contains_xy(copper.geometry[part], spots)]
        if len(inside):
            return int(copper.feature[part]), inside
    return -1, np.empty((0, 2))


def _references(board: Board, layer: NDArray[np.int32], samples: _Samples) -> list[tuple[Reference, ...]]:
    """The references of each leaving: pieces that carry at least SMALLEST_SHARE of its return current.

    A trace so short that it lies within the antipads around it has for its reference the copper at their rim.
    """
    pieces = cover(board, layer[samples.owner], samples.xy)
    bare = np.bincount(samples.owner, (pieces >= 0).any(axis=1), minlength=len(layer)) == 0
    rim = bare[samples.owner]
    pieces[rim] = cover(board, layer[samples.owner[rim]], samples.xy[rim], RIM_MM)
    share = weights(board, layer[samples.owner], pieces)
    count = np.bincount(samples.owner, minlength=len(layer))
    flat = pieces.ravel() >= 0
    pairs = np.column_stack([np.repeat(samples.owner, 2), pieces.ravel()])[flat]
    keys, which = np.unique(pairs, axis=0, return_inverse=True)
    total = np.bincount(which, share.ravel()[flat], minlength=len(keys)) / count[keys[:, 0]]
    found: list[list[Reference]] = [[] for _ in layer]
    for (owner, piece), amount in zip(keys, total, strict=True):
        if amount >= SMALLEST_SHARE:
            found[owner].append(Reference(int(piece), int(board.pieces.layer[piece]), float(amount)))
    return [tuple(sorted(own, key=lambda r: (-r.share, r.layer, r.piece))) for own in found]
