"""Distances from holes and their pads to copper of other nets, on every layer that a hole passes."""

from __future__ import annotations

from enum import Enum

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import spans
from fencepost.board.model import TOUCH_MM, Board, Copper
from fencepost.fabrication.build import TOLERANCE_MM, UNPLATED_RING_MM
from fencepost.fabrication.holes import boxes, drilled
from fencepost.fabrication.rings import in_area, in_flash
from fencepost.frozen import dataclass
from fencepost.readers.artwork import Kind


class From(Enum):
    """What the distance is measured from. Its value is the word for the user."""

    PAD = "pad"
    BARREL = "wall"
    UNPLATED = "edge"


@dataclass(frozen=True, eq=False)
class Near:
    """Copper too near to holes on one layer, k of them: the hole, the part of the layer's copper, the distance in mm,
    0 where they touch, and for a pad the part that it is, else -1."""

    layer: int
    source: From
    hole: NDArray[np.int64]
    part: NDArray[np.int64]
    distance: NDArray[np.float64]
    pad: NDArray[np.int64]


def near_pads(board: Board, copper: Copper, limit: float) -> Near:
    """Copper of other nets nearer than `limit` (mm) to the pads of plated holes on a layer.

    A pad is a flash that the hole's barrel touches. Copper that is connected, or is labelled as the same net, is not
    another net.
    """
    hole, pad = _flashes_at(board, copper, _passing(board, copper, plated=True))
    which, part = copper.tree.query(spans(copper.bounds[pad], limit))
    hole, pad = hole[which], pad[which]
    other = _others(board, copper.piece[pad], copper.piece[part])
    hole, pad, part = hole[other], pad[other], part[other]
    reach = copper.reach[pad] + copper.reach[part]
    close = shapely.dwithin(copper.geometry[part], copper.geometry[pad], reach + limit)
    hole, pad, part, reach = hole[close], pad[close], part[close], reach[close]
    distance = np.maximum(shapely.distance(copper.geometry[part], copper.geometry[pad]) - reach, 0.0)
    thin = distance < limit - TOLERANCE_MM
    return Near(copper.layer, From.PAD, hole[thin], part[thin], distance[thin], pad[thin])


def near_barrels(board: Board, copper: Copper, plating: float, limit: float) -> Near:
    """Copper of other nets nearer than `limit` (mm) to the drilled wall of plated holes that no pad surrounds here.

    Where a pad does, its ring and its distance to other copper keep the wall away from it.
    """
    here = _passing(board, copper, plated=True)
    here = here[in_flash(board, copper, here)[0] < 0]
    here = here[~in_area(board, copper, here, 0.0)]
    radius = drilled(board, plating) / 2
    hole, part = copper.tree.query(boxes(board, here, radius[here] + limit))
    hole = here[hole]
    own = _own_pieces(board, copper, hole)
    other = _others(board, own, copper.piece[part])
    return _measured(board, copper, From.BARREL, hole[other], part[other], radius, limit)


def near_unplated(board: Board, copper: Copper, limit: float) -> Near:
    """Any copper nearer than `limit` (mm) to the edge of holes without plating.

    A land drawn around such a hole on purpose, with a ring of UNPLATED_RING_MM or more, may reach the hole.
    """
    here = _passing(board, copper, plated=False)
    radius = board.holes.diameter / 2
    hole, part = copper.tree.query(boxes(board, here, radius[here] + limit))
    least = UNPLATED_RING_MM - TOLERANCE_MM
    lands = (in_flash(board, copper, here)[0] >= least) | in_area(board, copper, here, least)
    landed = np.zeros(len(board.holes), dtype=bool)
    landed[here[lands]] = True
    near = _measured(board, copper, From.UNPLATED, here[hole], part, radius, limit)
    touched = near.distance <= TOUCH_MM
    pairs = near.hole * len(board.pieces) + copper.piece[near.part]
    kept = ~np.isin(pairs, pairs[touched & landed[near.hole]])
    return Near(near.layer, near.source, near.hole[kept], near.part[kept], near.distance[kept], near.pad[kept])


def _passing(board: Board, copper: Copper, plated: bool) -> NDArray[np.intp]:
    holes = board.holes
    return np.flatnonzero((holes.plated == plated) & (holes.first <= copper.layer) & (holes.last >= copper.layer))


def _flashes_at(board: Board, copper: Copper, here: NDArray[np.intp]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of hole and part where a flash meets the hole."""
    radius = board.holes.diameter / 2
    hole, part = copper.tree.query(boxes(board, here, radius[here] + TOUCH_MM))
    flash = copper.artwork.kind[copper.feature[part]] == Kind.FLASH
    hole, part = here[hole[flash]], part[flash]
    reach = copper.reach[part] + radius[hole] + TOUCH_MM
    meets = shapely.dwithin(copper.geometry[part], board.holes.geometry[hole], reach)
    return hole[meets], part[meets]


def _own_pieces(board: Board, copper: Copper, holes: NDArray[np.int64]) -> NDArray[np.int64]:
    """Some piece that each hole touches on any layer, -1 where it touches none: it tells island and net."""
    some = np.full(len(board.holes), -1, dtype=np.int64)
    some[board.touches[:, 0]] = board.touches[:, 1]
    return some[holes]


def _others(board: Board, own: NDArray[np.integer], piece: NDArray[np.integer]) -> NDArray[np.bool_]:
    """Whether copper is another net's: not connected, and not of the same name."""
    pieces = board.pieces
    apart = (pieces.island[own] != pieces.island[piece]) & (pieces.net[own] != pieces.net[piece])
    result: NDArray[np.bool_] = apart | (own < 0)
    return result


def _measured(
    board: Board,
    copper: Copper,
    source: From,
    hole: NDArray[np.integer],
    part: NDArray[np.integer],
    radius: NDArray[np.float64],
    limit: float,
) -> Near:
    geometry = board.holes.geometry
    reach = copper.reach[part] + radius[hole]
    close = shapely.dwithin(copper.geometry[part], geometry[hole], reach + limit)
    h, p = np.asarray(hole[close], dtype=np.int64), np.asarray(part[close], dtype=np.int64)
    distance = np.maximum(shapely.distance(copper.geometry[p], geometry[h]) - reach[close], 0.0)
    thin = distance < limit - TOLERANCE_MM
    return Near(copper.layer, source, h[thin], p[thin], distance[thin], np.full(int(thin.sum()), -1, dtype=np.int64))
