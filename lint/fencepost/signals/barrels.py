"""What surrounds a barrel: its lands, the antipads of the layers that it passes, the ties about it; what of it is used.

A land is the copper that a hole has about itself on a layer: a flash or an area centred on it that carries no pin. An
antipad is the opening in the ground and power copper of a layer in which the barrel stands.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import spans
from fencepost.board.model import TOUCH_MM, Board, Copper
from fencepost.board.shared import shared
from fencepost.board.stackup import Stackup
from fencepost.frozen import dataclass
from fencepost.readers.artwork import Kind
from fencepost.signals.cover import planes_of
from fencepost.signals.ties import ties_of

CENTRED_MM = 0.05
"""A land's middle is no farther than this from its hole's."""

LARGEST_LAND = 4.0
"""Of the hole's diameter: an area larger across than this is no land."""

LOOK_MM = 3.0
"""How far from a barrel's middle the rim of an antipad is looked for."""

RAYS = 72
"""Directions in which it is looked for."""

AROUND = 0.5
"""Of all directions: copper seen in fewer than this does not surround a barrel."""

MOST_TIES = 12
"""The nearest ties about a barrel that count: those behind them are in their shadow."""


@dataclass(frozen=True, eq=False)
class _Lands:
    """What every plated hole meets on every layer, by hole and layer: n rows.

    hole   int32 (n)
    layer  int32 (n)
    size   float64 (n)  of its land, the diameter in mm; 0 where there is no land
    used   bool (n)     other copper meets it there
    """

    hole: NDArray[np.int32]
    layer: NDArray[np.int32]
    size: NDArray[np.float64]
    used: NDArray[np.bool_]

    def of(self, hole: int) -> slice:
        """The rows of one hole."""
        return slice(*np.searchsorted(self.hole, [hole, hole + 1]).tolist())


@shared
def _lands_of(board: Board) -> _Lands:
    hole, piece = board.touches.T
    layer = board.pieces.layer[piece]
    size, used = np.zeros(len(hole)), np.zeros(len(hole), dtype=bool)
    holes_at = np.bincount(piece, minlength=len(board.pieces))
    for copper in board.copper:
        rows = np.flatnonzero(layer == copper.layer)
        row, part = _own_parts(board, copper, hole[rows], piece[rows])
        parts_at = np.bincount(copper.piece, minlength=len(board.pieces))
        own = np.bincount(row, minlength=len(rows))
        used[rows] = (own < parts_at[piece[rows]]) | (holes_at[piece[rows]] > 1)
        across = 2 * copper.reach[part]
        drawn = across == 0
        across[drawn] = 2 * np.sqrt(shapely.area(copper.geometry[part[drawn]]) / np.pi)
        np.maximum.at(size, rows[row], across)
    order = np.lexsort((layer, hole))
    return _Lands(hole[order], layer[order], size[order], used[order])


def _own_parts(
    board: Board, copper: Copper, hole: NDArray[np.int32], piece: NDArray[np.int32]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Parts of a layer's copper that are lands of their own of holes: rows of `hole`, and parts.

    Each hole (n) meets the piece beside it (n).
    """
    low, high = copper.bounds[:, :2], copper.bounds[:, 2:]
    across = (high - low).max(axis=1)
    centre, diameter = board.holes.centre[hole], board.holes.diameter[hole]
    row, part = copper.tree.query(spans(np.hstack([centre, centre]), CENTRED_MM))
    kept = (copper.piece[part] == piece[row]) & (copper.artwork.pin[copper.feature[part]] < 0)
    kept &= across[part] <= LARGEST_LAND * diameter[row]
    row, part = row[kept], part[kept]
    kept = np.hypot(*((low + high)[part] / 2 - centre[row]).T) <= CENTRED_MM
    # A stroke is a land only where it is no longer than it is wide.
    short = across[part] <= 2 * copper.reach[part] + CENTRED_MM
    short &= shapely.dwithin(copper.geometry[part], shapely.points(centre[row]), CENTRED_MM)
    kept &= (copper.artwork.kind[copper.feature[part]] != Kind.STROKE) | short
    return row[kept], part[kept]


def land_diameter(board: Board, hole: int, layer: int) -> float:
    """Of a hole's land on a layer, in mm, of a circle of the same area where it is not round; 0 where there is none."""
    lands = _lands_of(board)
    own = lands.of(hole)
    return float(lands.size[own][lands.layer[own] == layer].max(initial=0.0))


def used_layers(board: Board, hole: int) -> tuple[int, ...]:
    """Layers on which anything but a land of its own meets a hole: a trace, a pad, an area, another hole's land."""
    lands = _lands_of(board)
    own = lands.of(hole)
    return tuple(dict.fromkeys(lands.layer[own][lands.used[own]].tolist()))


@dataclass(frozen=True)
class Stub:
    """What hangs unused on a barrel, from a used layer to the layer where the barrel ends (1-based); length in mm.

    `drill` is the hole that took the rest of the barrel away, -1 where it ends by itself.
    """

    hole: int
    used: int
    end: int
    length: float
    permittivity: float
    drill: int = -1


def stubs_of(board: Board, hole: int) -> tuple[Stub, ...]:
    """The unused lengths of a plated hole, above its first used layer and below its last one; none where it has no use.

    A hole without plating, at least as wide and over the same place, that starts at the end of the barrel takes it away
    up to its own last layer. What is left may reach up to that layer's surface, and is counted so far.
    """
    used = used_layers(board, hole)
    if not used:
        return ()
    ends = _ends(board, hole, used)
    stubs = []
    for near, (end, drill) in zip((used[0], used[-1]), ends, strict=True):
        length = board.stackup.height(near, end) if near != end else 0.0
        # A barrel that was not drilled back goes through the copper of its last layer.
        length += board.stackup.copper[end - 1] if near != end and drill < 0 else 0.0
        if length > 0:
            er = permittivity_along(board.stackup, near, end)
            stubs.append(Stub(hole, near, end, length, er, drill))
    return tuple(stubs)


def _ends(board: Board, hole: int, used: tuple[int, ...]) -> tuple[tuple[int, int], tuple[int, int]]:
    """The layers at which a barrel ends, above and below, and the holes that drilled it back, -1 for none."""
    holes = board.holes
    upper, lower = (int(holes.first[hole]), -1), (int(holes.last[hole]), -1)
    for other in _wider(board, hole):
        first, last = int(holes.first[other]), int(holes.last[other])
        if first <= holes.first[hole] and upper[0] < last <= used[0]:
            upper = (last, other)
        if last >= holes.last[hole] and used[-1] <= first < lower[0]:
            lower = (first, other)
    return upper, lower


def _wider(board: Board, hole: int) -> list[int]:
    """Holes without plating whose outline holds that of a hole and that do not go through all of it."""
    holes = board.holes
    bare, tree = _bare_holes(board)
    if not len(bare):
        return []
    farthest = holes.diameter[bare].max() / 2 + TOUCH_MM
    near = bare[np.sort(tree.query(shapely.points(holes.centre[hole]), "dwithin", farthest))]
    apart = np.hypot(*(holes.centre[near] - holes.centre[hole]).T)
    over = apart + holes.diameter[hole] / 2 <= holes.diameter[near] / 2 + TOUCH_MM
    found: list[int] = near[over].tolist()
    return found


@shared
def _bare_holes(board: Board) -> tuple[NDArray[np.int64], shapely.STRtree]:
    """Holes without plating that do not go through the whole board, and a tree over their centres."""
    holes = board.holes
    bare = np.flatnonzero(~holes.plated & ((holes.first > 1) | (holes.last < board.layers)))
    return bare, shapely.STRtree(shapely.points(holes.centre[bare]))


def permittivity_along(stackup: Stackup, first: int, last: int) -> float:
    """Mean of the dielectrics between two layers, by thickness: the field of a barrel lies along the layers."""
    low, high = sorted((first, last))
    gaps = stackup.gaps[low - 1 : high - 1] or stackup.gaps
    total = sum(gap.thickness for gap in gaps)
    return sum(gap.thickness * gap.permittivity for gap in gaps) / total if total > 0 else 1.0


@shared
def antipad_diameter(board: Board, hole: int, layer: int) -> float:
    """Of the round opening, in mm, that is worth as much as that of the ground and power copper about a hole.

    From the distances r of its rim in RAYS directions, no farther than LOOK_MM: the mean of ln r, which is what a line
    of that cross-section has. 0 where the copper does not surround the hole, or meets it.
    """
    planes, (x, y) = planes_of(board, layer), board.holes.centre[hole].tolist()
    window = (x - LOOK_MM, y - LOOK_MM, x + LOOK_MM, y + LOOK_MM)
    near = planes.tree.query(shapely.box(*window))
    near = near[~np.isin(planes.piece[near], board.pieces_at(hole))]
    if not len(near):
        return 0.0
    reach, solid = planes.reach[near], planes.geometry[near]
    if shapely.dwithin(solid, shapely.Point(x, y), reach).any():
        return 0.0
    cut, drawn = shapely.clip_by_rect(solid[reach == 0], *window), shapely.buffer(solid[reach > 0], reach[reach > 0])
    away = _first_met(shapely.get_rings(shapely.get_parts(np.concatenate([cut, drawn]))), np.array([x, y]))
    # What is no nearer than the window's edge may be that edge.
    seen = away < LOOK_MM * (1 - 1e-9)
    if seen.mean() < AROUND:
        return 0.0
    return float(2 * np.exp(np.log(np.where(seen, away, LOOK_MM)).mean()))


def _first_met(rings: NDArray[np.object_], centre: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far it is from a point to the first of some rings, in mm, in RAYS directions; inf where there is none."""
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    begin = np.flatnonzero(ring[1:] == ring[:-1])
    start, step = (xy[begin] - centre).T, (xy[begin + 1] - xy[begin]).T
    angle = 2 * np.pi * np.arange(RAYS)[:, None] / RAYS
    ux, uy = np.cos(angle), np.sin(angle)
    with np.errstate(divide="ignore", invalid="ignore"):
        across = ux * step[1] - uy * step[0]
        along = (start[0] * step[1] - start[1] * step[0]) / across
        part = (start[0] * uy - start[1] * ux) / across
    met = (part >= 0) & (part <= 1) & (along > 0)
    return np.asarray(np.where(met, along, np.inf).min(axis=1, initial=np.inf))


def ties_about(board: Board, hole: int, upper: int, lower: int, reach: float) -> NDArray[np.int32]:
    """The ties that pass from one layer to another and stand no farther than `reach` mm from a hole, nearest first.

    No more than MOST_TIES of them; of two that meet one another, the nearer one.
    """
    ties, holes, centre = ties_of(board), board.holes, board.holes.centre[hole]
    near = ties.holes[ties.within(centre, reach)] if len(ties.holes) else ties.holes
    near = near[(holes.first[near] <= upper) & (holes.last[near] >= lower) & (near != hole)]
    near = near[np.argsort(np.hypot(*(holes.centre[near] - centre).T), kind="stable")]
    kept: list[int] = []
    for tie in near.tolist():
        apart = np.hypot(*(holes.centre[kept] - holes.centre[tie]).T) if kept else np.empty(0)
        if (apart > (holes.diameter[kept] + holes.diameter[tie]) / 2).all():
            kept.append(tie)
    return np.array(kept[:MOST_TIES], dtype=np.int32)
