"""Where no ground via fits: what is in the way, and the smallest move that makes room.

A move takes one trace or one via straight away from a spot, until the spot is legal. Whether there is room where it
then lies is not looked at: that is for whoever moves it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import TOUCH_MM, Board, HoleKind
from fencepost.frozen import dataclass
from fencepost.placement.need import Need
from fencepost.placement.obstacles import (
    CHORDS,
    EDGE,
    MARGIN_MM,
    PLACED,
    ROUGH_CHORDS,
    Obstacles,
    grown_box,
    polygonal,
)
from fencepost.placement.spots import Looks, best_spot, look_at, looked_at, nets_for
from fencepost.placement.tiles import tiles_of
from fencepost.placement.tying import tied
from fencepost.placement.units import HOLE, index_of, kind_of
from fencepost.placement.via import ViaModel
from fencepost.placement.window import Placed
from fencepost.source import Location

DIRECTIONS = ("right", "upper right", "top", "upper left", "left", "lower left", "bottom", "lower right")
"""By eighths of a turn, anticlockwise from the x axis."""

SMALLEST_MM2 = 1e-8
"""Smaller areas are crumbs of rounding."""

ALIKE = 6
"""Digits after the point, of mm², to which areas that are the same are told alike: the rest is rounding."""

TRIES = 8
"""Lengthenings of a move, where a trace bends towards the spot."""

NAMED = 3
"""Things in the way that are named where no single move helps."""

Rows = NDArray[np.int64]
"""Some of several obstacles."""


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
    look = look_at(board, model, need, net, placed, looks)
    region = tied(board, model.radius, net, look.groups, look.window, ROUGH_CHORDS)
    if region.area <= SMALLEST_MM2:
        return NoRoom(())
    obstacles = look.others if model.through_pours else look.obstacles
    stays = obstacles.take(np.flatnonzero(~obstacles.moves))
    rest = polygonal(shapely.intersection(look.if_all_moved, region))
    if not model.through_pours:
        rest = look.pours.roughly_legal(rest)
    rest = look.within(tied(board, model.radius, net, look.groups, rest))
    opened = _alone(obstacles, stays.legal(rest)) if obstacles.moves.any() else ()
    moves = [move for rows, alone in opened if (move := _move(board, obstacles, rows, alone))]
    if moves:
        best = min(moves, key=lambda move: round(move.length, 6))
        return NoRoom((best.what,), best)
    return NoRoom(tuple(_named(board, obstacles, rows, need.at) for rows in _largest(obstacles, region)))


def _alone(obstacles: Obstacles, rest: BaseGeometry) -> Iterator[tuple[Rows, BaseGeometry]]:
    """What can be moved, as rows that move together, and what of the rest that stays free it alone blocks."""
    if rest.area <= SMALLEST_MM2:
        return
    rows = np.flatnonzero(obstacles.moves)
    # With few chords each is a little too small, so that none that blocks a place alone is lost.
    rough = [near for near, _ in _blocked_once(obstacles, rows, rest, ROUGH_CHORDS)]
    if not rough:
        return
    wanted = obstacles.unit[np.concatenate(rough)]
    yield from (
        (near, area) for near, area in _blocked_once(obstacles, rows, rest, CHORDS) if obstacles.unit[near[0]] in wanted
    )


def _blocked_once(
    obstacles: Obstacles, rows: Rows, rest: BaseGeometry, chords: int
) -> Iterator[tuple[Rows, BaseGeometry]]:
    shapely.prepare(rest)
    rows = rows[shapely.dwithin(rest, obstacles.geometry[rows], obstacles.away[rows])]
    areas = shapely.intersection(obstacles.grown(rows, chords), rest)
    blocks = shapely.area(areas) > 0
    rows, areas = rows[blocks], areas[blocks]
    units = _by_unit(obstacles.unit[rows])
    own = np.array([shapely.union_all([polygonal(area) for area in areas[unit]]) for unit in units], dtype=object)
    twice = _covered_twice(own, rest)
    for unit, alone in zip(units, shapely.difference(own, twice), strict=True):
        # Where edges coincide, rounding leaves crumbs.
        parts = shapely.get_parts(polygonal(alone))
        parts = parts[shapely.area(parts) > SMALLEST_MM2]
        if len(parts):
            yield rows[unit], shapely.multipolygons(parts)


def _covered_twice(areas: NDArray[np.object_], rest: BaseGeometry) -> BaseGeometry:
    """What more than one of some areas within the rest covers; not looked at further once that is all of it."""
    once = twice = shapely.Polygon()
    for area in areas[np.argsort(-shapely.area(areas), kind="stable")]:
        twice = polygonal(shapely.union(twice, polygonal(shapely.intersection(once, area))))
        if rest.area - twice.area <= SMALLEST_MM2:
            break
        once = shapely.union(once, area)
    return twice


def _by_unit(unit: NDArray[np.int64]) -> list[Rows]:
    """The rows of each unit, in the order in which units first come."""
    _, first, which = np.unique(unit, return_index=True, return_inverse=True)
    order = np.argsort(first[which], kind="stable")
    return np.split(order, np.flatnonzero(np.diff(first[which][order])) + 1)


def _largest(obstacles: Obstacles, region: BaseGeometry) -> list[Rows]:
    """The units that cover most of a region, by areas with few chords; of those only that need be looked at for it."""
    shapely.prepare(region)
    met = np.flatnonzero(shapely.dwithin(region, obstacles.geometry, obstacles.keep))
    areas = shapely.intersection(obstacles.grown(met, ROUGH_CHORDS), region)
    units = _by_unit(obstacles.unit[met])
    most = np.round([shapely.area(areas[own]).sum() for own in units], ALIKE)
    covered: list[tuple[float, int]] = []
    for i in np.argsort(-most, kind="stable").tolist():
        if most[i] <= 0 or (len(covered) >= NAMED and most[i] < sorted(covered)[-NAMED][0]):
            break
        own = areas[units[i]]
        whole = own[0] if len(own) == 1 else shapely.union_all(list(map(polygonal, own)))
        covered.append((round(whole.area, ALIKE), -i))
    return [met[units[-i]] for _, i in sorted(covered, reverse=True)[:NAMED]]


def _move(board: Board, obstacles: Obstacles, rows: Rows, alone: BaseGeometry) -> Move | None:
    """The smallest move of obstacles that opens a spot which nothing else blocks: at a corner of such an area."""
    geometry, keep = obstacles.geometry[rows], obstacles.keep[rows] + MARGIN_MM
    others = obstacles.take(np.delete(np.arange(len(obstacles.keep)), rows))
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
            return Move(_named(board, obstacles, rows, spot), *way, spot)
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
    """What obstacles that move together are, in words, and where the one that is most in the way of a spot is nearest
    to it."""
    wanted = shapely.Point(spot)
    lack = obstacles.keep[rows] - shapely.distance(obstacles.geometry[rows], wanted)
    row = int(rows[np.argmax(lack)])
    layer, own = int(obstacles.layer[row]), int(obstacles.row[row])
    point = shapely.get_point(shapely.shortest_line(obstacles.geometry[row], wanted), 0)
    x, y = (point.x, point.y) if point is not None else spot
    if kind_of(int(obstacles.unit[row])) == HOLE:
        return _hole_named(board, index_of(int(obstacles.unit[row])))
    if layer == EDGE:
        return InTheWay("the edge of the board", None, x, y)
    if layer == PLACED:
        return InTheWay("a ground via suggested before", None, x, y)
    copper = board.copper[layer - 1]
    net = board.nets[int(board.pieces.net[copper.piece[own]])].name
    pad = tiles_of(board, layer).solder[tiles_of(board, layer).part == own].any()
    what = "the trace" if obstacles.moves[row] else "a pad" if pad else "copper"
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
