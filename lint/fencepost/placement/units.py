"""What moves together on a board: a via with its pads, the traces of one net on one layer. All else stays."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board, HoleKind
from fencepost.board.shared import shared
from fencepost.placement.tiles import tiles_of
from fencepost.placement.via import CENTRED_MM
from fencepost.readers.artwork import Kind

HOLE, TRACE, COPPER, FIXED = range(4)
"""Kinds of units."""

Units = tuple[NDArray[np.int64], NDArray[np.bool_]]
"""The unit that each of n things belongs to, and whether that can be moved."""


def units(kind: int, layer: int, index: NDArray[np.integer]) -> NDArray[np.int64]:
    """A number for each unit: no two alike, whatever their kind and layer."""
    return (kind << 8 | layer) << 40 | index.astype(np.int64)


def kind_of(unit: int) -> int:
    """Of which kind a unit is."""
    return unit >> 48


def index_of(unit: int) -> int:
    """Which hole, net or part a unit is of its kind and layer."""
    return unit & (1 << 40) - 1


def units_of_holes(board: Board, holes: NDArray[np.int64]) -> Units:
    """Of some holes: those of vias can be moved."""
    return units(HOLE, 0, holes), board.holes.kind[holes] == HoleKind.VIA


def units_of_parts(board: Board, layer: int, parts: NDArray[np.int64]) -> Units:
    """Of some parts of a layer's copper: pads belong to their vias."""
    unit, moves = _of_layer(board, layer)
    return unit[parts], moves[parts]


@shared
def _of_layer(board: Board, layer: int) -> Units:
    copper = board.copper[layer - 1]
    via, trace = _vias_of_pads(board, layer), is_trace(board, layer)
    unit = np.where(
        via >= 0,
        units(HOLE, 0, via),
        np.where(
            trace,
            units(TRACE, layer, board.pieces.net[copper.piece]),
            units(COPPER, layer, np.arange(len(copper))),
        ),
    )
    return unit, (via >= 0) | trace


def is_trace(board: Board, layer: int) -> NDArray[np.bool_]:
    """Which parts of a layer are strokes of traces, and not of a pour's edge."""
    copper, tiles = board.copper[layer - 1], tiles_of(board, layer)
    strokes: NDArray[np.bool_] = (copper.artwork.kind[copper.feature] == Kind.STROKE) & (copper.reach > 0)
    strokes[tiles.part[tiles.pour]] = False
    return strokes


def _vias_of_pads(board: Board, layer: int) -> NDArray[np.int64]:
    """For each part of a layer the via whose pad it is, -1 for none."""
    copper, holes = board.copper[layer - 1], board.holes
    owner = np.full(len(copper), -1, dtype=np.int64)
    vias = np.flatnonzero(holes.kind == HoleKind.VIA)
    flashes = np.flatnonzero((copper.artwork.kind[copper.feature] == Kind.FLASH) & (copper.reach > 0))
    if len(vias) and len(flashes):
        tree = shapely.STRtree(shapely.points(holes.centre[vias]))
        flash, via = tree.query(copper.geometry[flashes], predicate="dwithin", distance=CENTRED_MM)
        owner[flashes[flash]] = vias[via]
    return owner
