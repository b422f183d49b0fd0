"""What surrounds a barrel: its lands, the antipads of the layers that it passes, the ties about it; what of it is used.

A land is the copper that a hole has about itself on a layer: a flash or an area centred on it that carries no pin. An
antipad is the opening in the ground and power copper of a layer in which the barrel stands.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import TOUCH_MM, Board
from fencepost.board.shared import shared
from fencepost.board.stackup import Stackup
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


@shared
def _lands(board: Board, hole: int) -> tuple[tuple[int, float, bool], ...]:
    """Layer, diameter in mm (0 where there is no land), and whether other copper uses it, for all layers met."""
    centre, diameter = shapely.Point(board.holes.centre[hole]), float(board.holes.diameter[hole])
    found = []
    for piece in board.pieces_at(hole).tolist():
        layer = int(board.pieces.layer[piece])
        copper = board.copper[layer - 1]
        parts = copper.parts_of(piece)
        bounds = copper.bounds[parts]
        middle = (bounds[:, :2] + bounds[:, 2:]) / 2
        across = (bounds[:, 2:] - bounds[:, :2]).max(axis=1)
        own = np.hypot(*(middle - board.holes.centre[hole]).T) <= CENTRED_MM
        own &= (copper.artwork.pin[copper.feature[parts]] < 0) & (across <= LARGEST_LAND * diameter)
        own &= (copper.artwork.kind[copper.feature[parts]] != Kind.STROKE) | shapely.dwithin(
            copper.geometry[parts], centre, CENTRED_MM
        ) & (across <= 2 * copper.reach[parts] + CENTRED_MM)
        used = not own.all() or len(board.holes_at(piece)) > 1
        areas = shapely.area(copper.outlines(parts[own]))
        round_ = 2 * copper.reach[parts[own]]
        size = np.where(round_ > 0, round_, 2 * np.sqrt(areas / np.pi)).max(initial=0.0)
        found.append((layer, float(size), used))
    return tuple(found)


def land_diameter(board: Board, hole: int, layer: int) -> float:
    """Of a hole's land on a layer, in mm, of a circle of the same area where it is not round; 0 where there is none."""
    return max((size for on, size, _ in _lands(board, hole) if on == layer), default=0.0)


def used_layers(board: Board, hole: int) -> tuple[int, ...]:
    """Layers on which anything but a land of its own meets a hole: a trace, a pad, an area, another hole's land."""
    return tuple(sorted({layer for layer, _, used in _lands(board, hole) if used}))


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
    bare = _bare_holes(board)
    apart = np.hypot(*(holes.centre[bare] - holes.centre[hole]).T)
    over = apart + holes.diameter[hole] / 2 <= holes.diameter[bare] / 2 + TOUCH_MM
    found: list[int] = bare[over].tolist()
    return found


@shared
def _bare_holes(board: Board) -> NDArray[np.int64]:
    """Holes without plating that do not go through the whole board."""
    holes = board.holes
    return np.flatnonzero(~holes.plated & ((holes.first > 1) | (holes.last < board.layers)))


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
