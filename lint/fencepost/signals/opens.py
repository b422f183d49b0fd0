"""Nets whose copper falls into pieces that nothing joins."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.frozen import dataclass
from fencepost.readers.artwork import Kind
from fencepost.signals.labels import meant
from fencepost.signals.shorts import Part


@dataclass(frozen=True)
class Opening:
    """A part of a net that stands apart, and the nearest of the rest of it.

    `near` and `rest` are parts of copper on either side, `distance` in mm is between them, on one layer where both
    sides are on one, else as seen from above. x, y is on the side that stands apart, `pins` are those that are on it.
    """

    net: int
    near: Part
    rest: Part
    x: float
    y: float
    distance: float
    pins: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class _Rows:
    """All copper that is meant for some net, a row for each part."""

    net: NDArray[np.int32]
    island: NDArray[np.int32]
    layer: NDArray[np.int64]
    part: NDArray[np.int64]
    pad: NDArray[np.bool_]


def openings(board: Board) -> list[Opening]:
    """One for each island of a net besides its largest.

    Only islands with a pad or a plated hole count: what has neither connects nothing, and is stray copper.
    """
    rows = _rows(board)
    found = []
    islands = int(rows.island.max(initial=-1)) + 1
    keys, inverse = np.unique(rows.net.astype(np.int64) * islands + rows.island, return_inverse=True)
    nets = keys // max(islands, 1)
    joins = np.bincount(inverse, weights=rows.pad, minlength=len(keys)) > 0
    size = np.bincount(inverse, minlength=len(keys))
    for net in np.unique(nets[joins]):
        groups = np.flatnonzero((nets == net) & joins)
        largest = groups[np.argmax(size[groups])]
        for group in groups:
            if group != largest:
                apart = np.flatnonzero(inverse == group)
                rest = np.flatnonzero(np.isin(inverse, groups[groups != group]))
                opening = _opening(board, int(net), rows, apart, rest)
                found.append(replace(opening, pins=_pins(board, rows, apart)))
    return found


def _pins(board: Board, rows: _Rows, apart: NDArray[np.int64]) -> tuple[str, ...]:
    """The pins of these parts, as U2-7."""
    names = set()
    for layer, part in zip(rows.layer[apart], rows.part[apart], strict=True):
        artwork = board.copper[layer].artwork
        pin = artwork.pin[board.copper[layer].feature[part]]
        if pin >= 0 and len(artwork.values[pin]) > 1:
            names.add("-".join(artwork.values[pin][:2]))
    return tuple(sorted(names))


def _rows(board: Board) -> _Rows:
    island_holed = np.zeros(int(board.pieces.island.max(initial=-1)) + 1, dtype=bool)
    island_holed[board.pieces.island[board.touches[:, 1]]] = True
    columns = []
    for layer, (copper, net) in enumerate(zip(board.copper, meant(board), strict=True)):
        part = np.flatnonzero(net >= 0)
        island = board.pieces.island[copper.piece[part]]
        pad = (copper.artwork.kind[copper.feature[part]] == Kind.FLASH) | island_holed[island]
        columns.append((net[part], island, np.full(len(part), layer), part, pad))
    return _Rows(*(np.concatenate(column) for column in zip(*columns, strict=True)))


def _opening(board: Board, net: int, rows: _Rows, apart: NDArray[np.int64], rest: NDArray[np.int64]) -> Opening:
    shared = np.intersect1d(rows.layer[apart], rows.layer[rest])
    if len(shared):
        apart = apart[np.isin(rows.layer[apart], shared)]
    best: Opening | None = None
    for layer in np.unique(rows.layer[apart]):
        near = apart[rows.layer[apart] == layer]
        for other in [layer] if len(shared) else np.unique(rows.layer[rest]):
            far = rest[rows.layer[rest] == other]
            one = _nearest(board, net, (int(layer), rows.part[near]), (int(other), rows.part[far]))
            if best is None or one.distance < best.distance:
                best = one
    assert best is not None
    return best


def _nearest(
    board: Board, net: int, near: tuple[int, NDArray[np.int64]], rest: tuple[int, NDArray[np.int64]]
) -> Opening:
    """The two nearest parts of two sides, each on one layer."""
    (layer, own), (other, far) = near, rest
    one, two = board.copper[layer], board.copper[other]
    tree = shapely.STRtree(two.geometry[far])
    index, away = tree.query_nearest(one.geometry[own], return_distance=True, all_matches=False)
    # The tree measures from the middle of strokes. What is nearer than the best of these can only be so by its width.
    bound = float((away - one.reach[own[index[0]]] - two.reach[far[index[1]]]).min())
    reach = bound + one.reach[own] + float(two.reach[far].max(initial=0.0))
    a, b = tree.query(one.geometry[own], predicate="dwithin", distance=np.maximum(reach, 0.0) + 1e-6)
    distance = shapely.distance(one.geometry[own[a]], two.geometry[far[b]]) - one.reach[own[a]] - two.reach[far[b]]
    best = int(np.argmin(distance))
    part, partner = int(own[a[best]]), int(far[b[best]])
    x, y = shapely.get_coordinates(shapely.shortest_line(one.geometry[part], two.geometry[partner]))[0]
    return Opening(net, (layer, part), (other, partner), float(x), float(y), max(float(distance[best]), 0.0))
