"""Where no ground via fits: what is in the way, and the smallest move that makes room.

A move takes one trace or one via straight away from a spot, until the spot is legal. Whether there is room where it
then lies is not looked at: that is for whoever moves it.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import TOUCH_MM, Board, HoleKind
from fencepost.board.shared import shared
from fencepost.placement.need import Need
from fencepost.placement.spots import Looks, best_spot, look_at, looked_at, nets_for, tied, window_of
from fencepost.placement.tiles import tiles_of
from fencepost.placement.via import CENTRED_MM, ViaModel
from fencepost.placement.window import (
    EDGE,
    HOLES,
    MARGIN_MM,
    PLACED,
    ROUGH_CHORDS,
    Obstacles,
    Placed,
    grown_box,
    polygonal,
)
from fencepost.readers.artwork import Kind
from fencepost.source import Location

DIRECTIONS = ("right", "upper right", "top", "upper left", "left", "lower left", "bottom", "lower right")
"""By eighths of a turn, anticlockwise from the x axis."""

SMALLEST_MM2 = 1e-8
"""Smaller areas are crumbs of rounding."""

TRIES = 8
"""Lengthenings of a move, where a trace bends towards the spot."""

NAMED = 3
"""Things in the way that are named where no single move helps."""


@dataclass(frozen=True)
class InTheWay:
    """A trace, via or anything else that a via would come too near to, in words, and where it stands."""

    words: str
    location: Location | None
    x: float
    y: float


@dataclass(frozen=True)
class Move:
    """What moves, by how much (mm), and the place for a via that this opens."""

    what: InTheWay
    dx: float
    dy: float
    spot: tuple[float, float]

    @property
    def length(self) -> float:
        return math.hypot(self.dx, self.dy)

    @property
    def direction(self) -> str:
        """As one sees it with y upwards."""
        return DIRECTIONS[round(math.degrees(math.atan2(self.dy, self.dx)) / 45) % 8]


@dataclass(frozen=True)
class NoRoom:
    """Why no via fits. `blocking` is in order of what it takes; none where the ground copper itself is too narrow."""

    blocking: tuple[InTheWay, ...]
    move: Move | None = None
    refilled: tuple[float, float] | None = None
    """Where a via fits once the pours of `blocking` are filled anew around it."""


@dataclass(frozen=True, eq=False)
class _Unit:
    """Obstacles that move together, as rows of Obstacles, and where the centre of a via cannot be for them."""

    rows: NDArray[np.int64]
    area: BaseGeometry


def no_room(
    board: Board, model: ViaModel, need: Need, placed: Sequence[Placed] = (), looks: Looks | None = None
) -> NoRoom:
    """Why `best_spot` found nothing. A pour gives way most easily: it need only be filled anew."""
    looks = {} if looks is None else looks
    if not model.through_pours:
        through = best_spot(board, replace(model, through_pours=True), need, placed, looks)
        if through is not None:
            return NoRoom(tuple(_pours_at(board, model, through)), refilled=(through.x, through.y))
    found = [_for_net(board, model, looked_at(need), net, placed, looks) for net in nets_for(board, need)]
    moves = [one for one in found if one.move]
    if moves:
        return min(moves, key=lambda one: one.move.length if one.move else math.inf)
    return max(found, key=lambda one: len(one.blocking), default=NoRoom(()))


def _pours_at(board: Board, model: ViaModel, via: Placed) -> Iterator[InTheWay]:
    """The pours that a via would go through."""
    point = shapely.Point(via.x, via.y)
    for copper in board.copper:
        tiles = tiles_of(board, copper.layer)
        near = tiles.near(grown_box((via.x, via.y, via.x, via.y), model.off_copper))
        near = near[tiles.pour[near] & (tiles.net[near] != via.net)]
        away = shapely.distance(tiles.geometry[near], point) - tiles.reach[near]
        for tile in near[np.argsort(away, kind="stable")][: int((away < model.off_copper).any())].tolist():
            name = board.nets[int(tiles.net[tile])].name
            location = copper.location_near(int(tiles.part[tile]), via.x, via.y)
            yield InTheWay(f"the pour of {name} on L{copper.layer}", location, via.x, via.y)


def _for_net(board: Board, model: ViaModel, need: Need, net: int, placed: Sequence[Placed], looks: Looks) -> NoRoom:
    window = window_of(board, need)
    region = tied(board, model.radius, need, net, window, ROUGH_CHORDS)
    if region.area <= SMALLEST_MM2:
        return NoRoom(())
    look = look_at(board, model, need, net, placed, looks)
    obstacles = (look.others if model.through_pours else look.others.with_(look.pours)).near(window)
    of = [_unit_of(board, int(layer), int(row)) for layer, row in zip(obstacles.layer, obstacles.row, strict=True)]
    rows: dict[Hashable, list[int]] = {}
    for row, (key, _) in enumerate(of):
        rows.setdefault(key, []).append(row)
    fixed = np.array([not moves for _, moves in of], dtype=np.bool_)
    stays = obstacles.take(np.flatnonzero(fixed))
    rest = tied(board, model.radius, need, net, stays.roughly_legal(window))
    opened = [] if fixed.all() else _alone(obstacles, rows, fixed, stays.legal(rest))
    moves = [move for unit, alone in opened if (move := _move(board, obstacles, unit, alone))]
    if moves:
        best = min(moves, key=lambda move: round(move.length, 6))
        return NoRoom((best.what,), best)
    largest = _largest(obstacles, list(rows.values()), region)
    return NoRoom(tuple(_named(board, obstacles, np.array(own), need.at) for own in largest))


def _alone(
    obstacles: Obstacles, rows: Mapping[Hashable, list[int]], fixed: NDArray[np.bool_], rest: BaseGeometry
) -> Iterator[tuple[_Unit, BaseGeometry]]:
    """What can be moved, and what of the rest that stays free it alone blocks."""
    if rest.area <= SMALLEST_MM2:
        return
    areas = shapely.intersection(obstacles.grown(), rest)
    blocks = ~fixed & (shapely.area(areas) > 0)
    movable = [kept for own in rows.values() if len(kept := np.array(own)[blocks[own]])]
    units = [_Unit(own, shapely.union_all([polygonal(area) for area in areas[own]])) for own in movable]
    own = np.array([unit.area for unit in units], dtype=object)
    left, right = shapely.STRtree(own).query(own, predicate="intersects")
    once = left < right
    twice = shapely.union_all([polygonal(area) for area in shapely.intersection(own[left[once]], own[right[once]])])
    for unit in units:
        # Where edges coincide, rounding leaves crumbs.
        parts = shapely.get_parts(polygonal(shapely.difference(unit.area, twice)))
        parts = parts[shapely.area(parts) > SMALLEST_MM2]
        if len(parts):
            yield unit, shapely.multipolygons(parts)


def _largest(obstacles: Obstacles, units: Sequence[list[int]], region: BaseGeometry) -> list[list[int]]:
    """The units that cover most of a region, by areas with few chords; of those only that need be looked at for it."""
    shapely.prepare(region)
    met = shapely.dwithin(region, obstacles.geometry, obstacles.keep)
    areas = np.full(len(met), shapely.Polygon(), dtype=object)
    areas[met] = shapely.intersection(obstacles.take(np.flatnonzero(met)).grown(ROUGH_CHORDS), region)
    most = np.array([shapely.area(areas[own]).sum() for own in units])
    covered: list[tuple[float, int]] = []
    for i in np.argsort(-most, kind="stable").tolist():
        if most[i] <= 0 or (len(covered) >= NAMED and most[i] < sorted(covered)[-NAMED][0]):
            break
        covered.append((shapely.union_all([polygonal(area) for area in areas[units[i]]]).area, -i))
    return [units[-i] for _, i in sorted(covered, reverse=True)[:NAMED]]


def _unit_of(board: Board, layer: int, row: int) -> tuple[Hashable, bool]:
    """What an obstacle belongs to, and whether that can be moved: traces of one net and layer, vias with their pads."""
    if layer == HOLES:
        return ("hole", row), int(board.holes.kind[row]) == HoleKind.VIA
    if layer in (EDGE, PLACED):
        return ("fixed", layer, row), False
    copper = board.copper[layer - 1]
    hole = int(_vias_of_pads(board, layer)[row])
    if hole >= 0:
        return ("hole", hole), True
    if _is_trace(board, layer)[row]:
        return ("trace", layer, int(board.pieces.net[copper.piece[row]])), True
    return ("copper", layer, row), False


@shared
def _is_trace(board: Board, layer: int) -> NDArray[np.bool_]:
    """Which parts of a layer are strokes of traces, and not of a pour's edge."""
    copper, tiles = board.copper[layer - 1], tiles_of(board, layer)
    strokes: NDArray[np.bool_] = (copper.artwork.kind[copper.feature] == Kind.STROKE) & (copper.reach > 0)
    strokes[tiles.part[tiles.pour]] = False
    return strokes


@shared
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


def _move(board: Board, obstacles: Obstacles, unit: _Unit, alone: BaseGeometry) -> Move | None:
    """The smallest move of a unit that opens a spot which nothing else blocks: that is at a corner of such an area."""
    geometry, keep = obstacles.geometry[unit.rows], obstacles.keep[unit.rows] + MARGIN_MM
    others = obstacles.take(np.delete(np.arange(len(obstacles.keep)), unit.rows))
    corners = shapely.get_coordinates(alone)
    points: NDArray[np.object_] = shapely.points(corners)
    lack = (keep - shapely.distance(points[:, None], geometry[None, :])).max(axis=1)
    # Where edges coincide, rounding leaves spikes, whose ends other things block.
    free = (
        i for i in np.argsort(lack, kind="stable") if not shapely.dwithin(others.geometry, points[i], others.keep).any()
    )
    for corner in islice(free, TRIES):
        way = _way(geometry, keep, points[corner], float(lack[corner]))
        if way is not None:
            spot = (float(corners[corner, 0]), float(corners[corner, 1]))
            return Move(_named(board, obstacles, unit.rows, spot), *way, spot)
    return None


def _way(
    geometry: NDArray[np.object_], keep: NDArray[np.float64], spot: BaseGeometry, lack: float
) -> tuple[float, float] | None:
    """How shapes must be moved straight away from a spot, so that all of them keep off it."""
    nearest = geometry[int(np.argmin(shapely.distance(geometry, spot) - keep))]
    foot = shapely.get_point(shapely.shortest_line(spot, nearest), 1)
    away = np.array([foot.x - spot.x, foot.y - spot.y])
    distance = float(np.hypot(*away))
    if distance < 1e-6:
        return None
    away, length = away / distance, max(lack, TOUCH_MM)
    for _ in range(TRIES):
        moved = shapely.transform(geometry, lambda xy, by=away * length: xy + by)
        missing = float((keep - shapely.distance(moved, spot)).max())
        if missing <= 1e-9:
            return float(away[0] * length), float(away[1] * length)
        length += missing
    return None


def _named(board: Board, obstacles: Obstacles, rows: NDArray[np.int64], spot: tuple[float, float]) -> InTheWay:
    """What obstacles that move together are, in words, by the one that comes nearest to a spot."""
    lack = obstacles.keep[rows] - shapely.distance(obstacles.geometry[rows], shapely.Point(spot))
    row = int(rows[np.argmax(lack)])
    layer, own = int(obstacles.layer[row]), int(obstacles.row[row])
    point = obstacles.geometry[row].centroid
    x, y = (point.x, point.y) if not point.is_empty else spot
    key, movable = _unit_of(board, layer, own)
    if isinstance(key, tuple) and key[0] == "hole":
        return _hole_named(board, int(key[1]))
    if layer == EDGE:
        return InTheWay("the edge of the board", None, x, y)
    if layer == PLACED:
        return InTheWay("a ground via suggested before", None, x, y)
    copper = board.copper[layer - 1]
    net = board.nets[int(board.pieces.net[copper.piece[own]])].name
    pad = tiles_of(board, layer).solder[tiles_of(board, layer).part == own].any()
    what = "the trace" if movable else "a pad" if pad else "copper"
    return InTheWay(f"{what} of {net} on L{layer}", copper.location_near(own, *spot), x, y)


def _hole_named(board: Board, hole: int) -> InTheWay:
    holes = board.holes
    words = {HoleKind.VIA: "the via", HoleKind.COMPONENT: "a component's hole", HoleKind.MECHANICAL: "a hole"}
    net = int(holes.net[hole])
    of = f" of {board.nets[net].name}" if net >= 0 else ""
    x, y = holes.centre[hole].tolist()
    return InTheWay(f"{words[HoleKind(int(holes.kind[hole]))]}{of}", board.hole_location(hole), x, y)


def words_of(reasons: Sequence[InTheWay]) -> str:
    """`the via of A, copper of B on L2 and the edge of the board`."""
    names = list(dict.fromkeys(reason.words for reason in reasons))
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def said_of(reason: NoRoom, model: ViaModel) -> Iterator[str]:
    """Why there is no room, as a sentence's parts: without a full stop."""
    if not reason.blocking:
        yield f"the ground copper has no room for a pad of {model.pad:.2f} mm there"
    elif reason.refilled is not None:
        yield f"{words_of(reason.blocking)} {_verb(reason)} in the way"
        yield f"filled anew around a via, it leaves room at ({reason.refilled[0]:.3f}, {reason.refilled[1]:.3f})"
    elif reason.move is None:
        yield f"{words_of(reason.blocking)} {_verb(reason)} in the way, and no single move makes room"
    else:
        move = reason.move
        yield f"{move.what.words} is in the way"
        yield (
            f"moved by {math.ceil(move.length * 1000 - 1e-6)} µm to the {move.direction}, "
            f"({move.dx:+.3f}, {move.dy:+.3f}) mm, it makes room at ({move.spot[0]:.3f}, {move.spot[1]:.3f})"
        )


def _verb(reason: NoRoom) -> str:
    return "is" if len({one.words for one in reason.blocking}) == 1 else "are"
