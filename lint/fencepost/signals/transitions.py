"""Where a signal changes layer, and what its return current runs on before and after.

A transition is a plated hole that a signal's trace enters on one layer and leaves on another. Its reference on a layer
is what covers the trace over its first millimetres from the hole on: planes are perforated around vias, so one point
says little. The walk starts beyond the land and its clearance and follows every branch of the trace.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.connect import components
from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.distinct import distinct_pairs
from fencepost.frozen import dataclass
from fencepost.readers.artwork import Kind
from fencepost.signals.cover import cover, weights
from fencepost.signals.leavings import LOOK_MM, SKIP_MM, STEP_MM, Leavings, leavings_of
from fencepost.signals.traces import Traces, traces_of

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


@shared
def transitions_of(board: Board) -> tuple[Transition, ...]:
    """All transitions of a board, by hole and layer."""
    traces = traces_of(board)
    hole, layer, node = traces.hole_nodes[np.lexsort((traces.hole_nodes[:, 1], traces.hole_nodes[:, 0]))].T
    left = leavings_of(traces, node, board.holes.diameter[hole] / 2)
    first = np.concatenate([np.empty(0, dtype=np.int64), *(some.first for some in left)])
    feature = np.where(first >= 0, traces.feature[first], -1)
    areas = _areas_met(board, hole, layer, np.flatnonzero(feature < 0))
    for i, (area, _) in areas.items():
        feature[i] = area
    column = _stacks(board, traces)[hole]
    # What leaves a stack of holes on one layer only is no transition.
    leaves = np.flatnonzero(feature >= 0)
    several = np.bincount(column[leaves], minlength=len(board.holes)) > 1
    leaves = leaves[several[column[leaves]]]
    if not len(leaves):
        return ()
    references = _references_of(board, layer, leaves, left, areas)
    order = np.lexsort((hole[leaves], layer[leaves], column[leaves]))
    stretches = [
        (one, upper, own, Stretch(upper, stroke, references[i]))
        for i, one, upper, own, stroke in zip(
            order.tolist(),
            *(values[leaves[order]].tolist() for values in (column, layer, hole, feature)),
            strict=True,
        )
    ]
    return tuple(
        Transition(own, int(board.holes.net[own]), before, after)
        for (one, upper, own, before), (other, lower, _, after) in pairwise(stretches)
        if one == other and upper < lower
    )


@dataclass(frozen=True, eq=False)
class _Samples:
    """Points along the traces that leave holes: which leaving they belong to, on which stretch they lie, and where."""

    owner: NDArray[np.int64]
    stretch: NDArray[np.int32]
    xy: NDArray[np.float64]


Areas = dict[int, tuple[int, NDArray[np.float64]]]
"""The feature of an area, and samples on it, by the row of the leaving that it stands for."""


def _references_of(
    board: Board, layer: NDArray[np.int32], rows: NDArray[np.int64], left: list[Leavings], areas: Areas
) -> list[tuple[Reference, ...]]:
    """The references of some leavings, by their rows, ascending; `layer` is that of all."""
    found: list[tuple[Reference, ...]] = []
    begin = 0
    for some in left:
        end = begin + len(some.first)
        own = rows[(rows >= begin) & (rows < end)]
        found += _references(board, layer[own], _samples(some, begin, areas, own))
        begin = end
    return found


def _samples(left: Leavings, begin: int, areas: Areas, rows: NDArray[np.int64]) -> _Samples:
    """The samples of some rows, or of the areas that are there instead; owners count in these rows.

    Row `begin` is the first of these leavings.
    """
    place = np.full(len(left.first), -1, dtype=np.int64)
    place[rows - begin] = np.arange(len(rows))
    traced = (place[left.owner] >= 0) & (left.first[left.owner] >= 0)
    owner, stretch, xy = [place[left.owner[traced]]], [left.stretch[traced]], [left.xy[traced]]
    after = int(left.stretch.max(initial=-1)) + 1
    for i, row in enumerate(rows.tolist()):
        if row in areas:
            _, spots = areas[row]
            owner.append(np.full(len(spots), i))
            stretch.append(np.arange(after, after + len(spots), dtype=np.int32))
            xy.append(spots)
            after += len(spots)
    return _Samples(np.concatenate(owner), np.concatenate(stretch), np.concatenate(xy))


def _stacks(board: Board, traces: Traces) -> NDArray[np.int64]:
    """For every hole the first of the stack of blind or buried vias in which it is, or the hole itself.

    Two vias are stacked where one ends on the layer on which the other begins, in copper that both meet, and their
    drilled outlines come within STACK_MM of one another.
    """
    holes = board.holes
    first, last = holes.first, holes.last
    top = np.arange(len(holes), dtype=np.int64)
    partial = np.unique(traces.hole_nodes[:, 0])
    partial = partial[(first[partial] > 1) | (last[partial] < board.layers)]
    if len(partial) < 2:
        return top
    upper, lower = shapely.STRtree(holes.geometry[partial]).query(
        holes.geometry[partial], "dwithin", distance=holes.diameter[partial].max() + STACK_MM
    )
    upper, lower = partial[upper], partial[lower]
    meets = (last[upper] == first[lower]) & (holes.net[upper] == holes.net[lower])
    upper, lower = upper[meets], lower[meets]
    meets = shapely.distance(holes.geometry[upper], holes.geometry[lower]) <= STACK_MM + (
        (holes.diameter[upper] + holes.diameter[lower]) / 2
    )
    pairs = zip(upper[meets].tolist(), lower[meets].tolist(), strict=True)
    stacked = [(a, b) for a, b in pairs if np.intersect1d(board.pieces_at(a), board.pieces_at(b)).size]
    stack = components(len(holes), np.array(stacked, dtype=np.int64).reshape(-1, 2).T)
    order = np.lexsort((top, first, stack))
    begins = np.diff(stack[order], prepend=-1) != 0
    top[order] = order[begins][np.cumsum(begins) - 1]
    return top


@shared
def _areas_of(board: Board, layer: int) -> dict[int, list[int]]:
    """The filled areas of a layer that are no pads, as parts by piece. A pad that is drawn as an area carries a pin."""
    copper = board.copper[layer - 1]
    fills = np.flatnonzero(copper.artwork.kind[copper.feature] == Kind.FILL)
    areas: dict[int, list[int]] = {}
    for part in fills[copper.artwork.pin[copper.feature[fills]] < 0].tolist():
        areas.setdefault(int(copper.piece[part]), []).append(part)
    return areas


def _areas_met(board: Board, hole: NDArray[np.int32], layer: NDArray[np.int32], rows: NDArray[np.int64]) -> Areas:
    """The areas, as `_area` gives them, by those of these rows whose hole meets one on its layer."""
    found = {}
    for one in np.unique(layer[rows]).tolist():
        filled = np.zeros(len(board.pieces), dtype=bool)
        filled[list(_areas_of(board, one))] = True
        meeting = np.zeros(len(board.holes), dtype=bool)
        meeting[board.touches[filled[board.touches[:, 1]], 0]] = True
        for i in rows[(layer[rows] == one) & meeting[hole[rows]]].tolist():
            feature, spots = _area(board, int(hole[i]), one)
            if feature >= 0:
                found[i] = (feature, spots)
    return found


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
    pieces = cover(board, layer[samples.owner], samples.xy, stretch=samples.stretch)
    bare = np.bincount(samples.owner, (pieces >= 0).any(axis=1), minlength=len(layer)) == 0
    rim = bare[samples.owner]
    pieces[rim] = cover(board, layer[samples.owner[rim]], samples.xy[rim], RIM_MM)
    share = weights(board, layer[samples.owner], pieces)
    count = np.bincount(samples.owner, minlength=len(layer))
    flat = pieces.ravel() >= 0
    keys, _, which = distinct_pairs(np.repeat(samples.owner, 2)[flat], pieces.ravel()[flat])
    total = np.bincount(which, share.ravel()[flat], minlength=len(keys)) / count[keys[:, 0]]
    found: list[list[Reference]] = [[] for _ in layer]
    for (owner, piece), amount in zip(keys, total, strict=True):
        if amount >= SMALLEST_SHARE:
            found[owner].append(Reference(int(piece), int(board.pieces.layer[piece]), float(amount)))
    return [tuple(sorted(own, key=lambda r: (-r.share, r.layer, r.piece))) for own in found]
