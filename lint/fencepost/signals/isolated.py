"""Plated holes that pass through copper of their own net without touching it."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import spans
from fencepost.board.model import Board, Copper
from fencepost.board.nets import island_nets
from fencepost.frozen import dataclass
from fencepost.ranges import ranges
from fencepost.readers.artwork import Kind
from fencepost.signals.labels import meant

AROUND_MM = 0.5
"""How far outside a pad copper of its own net must be for the pad to stand in an antipad. Common practice, no source:
clearances are 0.1 to 0.3 mm."""

AROUND_SHARE = 0.5
"""The share of the way around the pad on which that copper must be."""

_DIRECTIONS = 32


@dataclass(frozen=True)
class Isolated:
    """A hole that ties nothing on a layer (1-based): `part` is the copper of its net that keeps `gap` mm off."""

    hole: int
    net: int
    layer: int
    part: int
    gap: float


def isolated(board: Board) -> list[Isolated]:
    """Holes whose pad on a layer, or bare barrel, is surrounded by copper of their net and joined to none of it.

    What leads from the pad to somewhere else on the layer joins it; a pad of its own net next to it does not.
    """
    flashed = _pads_alone(board)
    net = _nets_of_holes(board)
    found = []
    for copper in board.copper:
        found += _on_layer(board, copper, flashed, net)
    return sorted(found, key=lambda one: (one.hole, one.layer))


def _pads_alone(board: Board) -> NDArray[np.bool_]:
    """The pieces that are nothing but pads."""
    alone = np.ones(len(board.pieces), dtype=bool)
    for copper in board.copper:
        drawn = copper.artwork.kind[copper.feature] != Kind.FLASH
        alone[copper.piece[drawn]] = False
    return alone


def _nets_of_holes(board: Board) -> NDArray[np.int32]:
    """The net that most pads of a hole are labelled with, which a net tie does not change, else that of its copper."""
    votes = []
    for copper in board.copper:
        pads = np.flatnonzero((copper.artwork.kind[copper.feature] == Kind.FLASH) & (copper.label >= 0))
        middle = copper.geometry[pads]
        other = shapely.get_type_id(middle) != shapely.GeometryType.POINT
        middle[other] = shapely.centroid(middle[other])
        hole, pad = shapely.STRtree(middle).query(
            board.holes.geometry, predicate="dwithin", distance=board.holes.diameter / 2
        )
        votes.append(np.stack([hole, copper.label[pads[pad]]], axis=1))
    hole, label = np.concatenate(votes).T.astype(np.int32)
    by_pads, _ = island_nets(hole, label, len(board.holes))
    return np.where(by_pads >= 0, by_pads, board.holes.net).astype(np.int32)


def _on_layer(board: Board, copper: Copper, flashed: NDArray[np.bool_], net: NDArray[np.int32]) -> list[Isolated]:
    holes, layer = board.holes, copper.layer
    net_of_part = meant(board)[layer - 1]
    drawn = ~flashed[copper.piece] & (net_of_part >= 0)
    large = np.zeros(len(board.nets) + 1, dtype=bool)
    large[net_of_part[drawn]] = True
    touched = board.touches[board.pieces.layer[board.touches[:, 1]] == layer]
    joined = np.zeros(len(holes), dtype=bool)
    joined[touched[~flashed[touched[:, 1]], 0]] = True
    open_ = holes.plated & (holes.first <= layer) & (layer <= holes.last) & (net >= 0) & ~joined
    candidates = np.flatnonzero(open_ & large[net])
    if not len(candidates):
        return []

    reach = _pads_reach(board, copper, touched[np.isin(touched[:, 0], candidates)])[candidates] + AROUND_MM
    centre = holes.centre[candidates]
    row, part = copper.tree.query(spans(np.hstack([centre, centre]), reach))
    near = np.unique(row[drawn[part] & (net_of_part[part] == net[candidates[row]])])
    candidates, centre, reach = candidates[near], centre[near], reach[near]
    angle = np.arange(_DIRECTIONS) * (2 * np.pi / _DIRECTIONS)
    ring = reach[:, None, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    spots = shapely.points((centre[:, None, :] + ring).reshape(-1, 2))
    spot, part = copper.tree.query(spots)
    row = spot // _DIRECTIONS
    own = drawn[part] & (net_of_part[part] == net[candidates[row]])
    spot, part = spot[own], part[own]
    inside = shapely.dwithin(copper.geometry[part], spots[spot], copper.reach[part])
    spot, part = spot[inside], part[inside]
    covered = np.bincount(np.unique(spot) // _DIRECTIONS, minlength=len(candidates)) / _DIRECTIONS
    found = []
    for index in np.flatnonzero(covered >= AROUND_SHARE):
        hole, around = int(candidates[index]), np.unique(part[spot // _DIRECTIONS == index])
        away = _gaps(board, copper, hole, touched, around)
        nearest = int(np.argmin(away))
        found.append(Isolated(hole, int(net[hole]), layer, int(around[nearest]), float(away[nearest])))
    return found


def _pads_reach(board: Board, copper: Copper, touched: NDArray[np.int32]) -> NDArray[np.float64]:
    """How far the copper that each hole touches reaches from its axis, along x or y; half the hole without any."""
    holes = board.holes
    reach: NDArray[np.float64] = holes.diameter / 2
    order, pieces = copper.of_piece
    low, high = (np.searchsorted(pieces, touched[:, 1], side=side) for side in ("left", "right"))
    count = high - low
    hole = np.repeat(touched[:, 0], count)
    part = order[ranges(low, count)]
    away = np.abs(copper.bounds[part] - np.tile(holes.centre[hole], 2))
    np.maximum.at(reach, hole, away.max(axis=1, initial=0.0))
    return reach


def _pads_of(copper: Copper, hole: int, touched: NDArray[np.int32]) -> NDArray[np.int64]:
    low, high = np.searchsorted(touched[:, 0], [hole, hole + 1])
    return np.concatenate([np.empty(0, dtype=np.int64), *(copper.parts_of(int(p)) for p in touched[low:high, 1])])


def _gaps(
    board: Board, copper: Copper, hole: int, touched: NDArray[np.int32], around: NDArray[np.int64]
) -> NDArray[np.float64]:
    """From the hole's pads, or its barrel, to each of these parts."""
    pads = _pads_of(copper, hole, touched)
    shapes = np.concatenate([copper.geometry[pads], board.holes.geometry[[hole]]])
    reach = np.concatenate([copper.reach[pads], board.holes.diameter[[hole]] / 2])
    apart = shapely.distance(shapes[:, None], copper.geometry[around][None, :]) - reach[:, None]
    return np.asarray(apart.min(axis=0) - copper.reach[around], dtype=np.float64)
