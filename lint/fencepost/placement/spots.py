"""The best legal place for a ground via: the nearest one to where it is wanted."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import TOUCH_MM, Board, NetKind
from fencepost.frozen import dataclass
from fencepost.placement.need import Need
from fencepost.placement.obstacles import MARGIN_MM, Obstacles, grown_box, polygonal
from fencepost.placement.tiles import tiles_of
from fencepost.placement.tying import Group, groups_about, tied
from fencepost.placement.via import ViaModel
from fencepost.placement.window import Placed, obstacles_in

FARTHEST_MM = 5.0
"""From where a via is wanted, where the need names no distance."""

FARTHER_MM = (0.2, 1.0)
"""Than the nearest point that may be legal, that one is looked for which is."""

AROUND = 1.01
"""Wider than that, so that its chords leave nothing out."""

DISC_CHORDS = 64

WIDER_MM = 0.001
"""How far a window that is looked at reaches at most beyond what is allowed: it has fewer corners."""

LOOK_MM = 2.5
"""Radius within which a place is looked for before all of what is allowed is looked at."""

MUCH = 1.5
"""Times that radius: what is allowed is not looked at twice where it reaches no farther."""


@dataclass(frozen=True, eq=False)
class Look:
    """What a via keeps off in a window about a place where it is wanted, and what that roughly leaves of the window.

    The window is wider than what the need allows by up to WIDER_MM.
    """

    window: BaseGeometry
    obstacles: Obstacles
    need: Need
    groups: tuple[Group, ...]

    @cached_property
    def _allowed(self) -> BaseGeometry:
        return polygonal(shapely.intersection_all(list(_limits(self.need, rough=False))))

    def within(self, region: BaseGeometry) -> BaseGeometry:
        """What the need allows of a region of the window."""
        return region if region.is_empty else polygonal(shapely.intersection(region, self._allowed))

    @cached_property
    def others(self) -> Obstacles:
        """All but the pours."""
        return self.obstacles.take(np.flatnonzero(~self.obstacles.pour))

    @cached_property
    def pours(self) -> Obstacles:
        return self.obstacles.take(np.flatnonzero(self.obstacles.pour))

    @cached_property
    def if_all_moved(self) -> BaseGeometry:
        """What is left by what cannot be moved; of pours nothing is asked."""
        return self.others.take(np.flatnonzero(~self.others.moves)).roughly_legal(self.window)

    @cached_property
    def through_pours(self) -> BaseGeometry:
        """What all but the pours leave."""
        return self.others.take(np.flatnonzero(self.others.moves)).roughly_legal(self.if_all_moved)

    @cached_property
    def beside_pours(self) -> BaseGeometry:
        """What all of it leaves."""
        return self.pours.roughly_legal(self.through_pours)


Looks = dict[tuple[Need, int], Look]
"""By need and net, so that what is asked about one need several times is looked at once."""


def best_spot(
    board: Board, model: ViaModel, need: Need, placed: Sequence[Placed] = (), looks: Looks | None = None
) -> Placed | None:
    """The legal place nearest to where a via is wanted, rounded to 1 µm and legal as rounded; None for no room.

    `looks` belong to one model, whatever it says of pours, and to what was placed.
    """
    looks = {} if looks is None else looks
    spots = [spot for net in nets_for(board, need) if (spot := _spot(board, model, need, net, placed, looks))]
    return min(spots, key=lambda spot: (round(math.dist((spot.x, spot.y), need.at), 6), spot.net), default=None)


def already_met(need: Need, placed: Sequence[Placed]) -> Placed | None:
    """A via placed before that meets this need as well."""
    for via in placed:
        tied = all(via.pieces.intersection(group) for group in need.ties) if need.ties else len(via.pieces) > 1
        inside = not need.area or shapely.Polygon(need.area).covers(shapely.Point(via.x, via.y))
        if tied and inside and need.covers(via.x, via.y):
            return via
    return None


def nets_for(board: Board, need: Need) -> list[int]:
    """The ground nets of which a via could meet a need: those that every group has copper of."""
    nets = set(board.nets_of(NetKind.GROUND).tolist())
    for group in need.ties:
        nets &= set(board.pieces.net[list(group)].tolist())
    return sorted(nets)


def _spot(board: Board, model: ViaModel, need: Need, net: int, placed: Sequence[Placed], looks: Looks) -> Placed | None:
    """Looked for near the wanted place first: whatever is found within a circle is nearer than what lies outside."""
    near = looked_at(need)
    found = _spot_in(board, model, near, net, placed, looks)
    return found if found is not None or near is need else _spot_in(board, model, need, net, placed, looks)


def looked_at(need: Need) -> Need:
    """The same need about the place where a via is wanted."""
    return narrowed(need, LOOK_MM) if reach_of(need) > MUCH * LOOK_MM else need


def reach_of(need: Need) -> float:
    """No place that meets a need is farther from where it is wanted, in mm."""
    if need.area and not need.within:
        return max(math.dist(corner, need.at) for corner in need.area)
    discs = need.within or ((*need.at, FARTHEST_MM),)
    return min(math.dist(disc[:2], need.at) + disc[2] for disc in discs)


def narrowed(need: Need, radius: float) -> Need:
    """The same need, no farther than `radius` (mm) from where it is wanted."""
    return replace(need, within=(*need.within, (*need.at, radius)))


def _spot_in(
    board: Board, model: ViaModel, need: Need, net: int, placed: Sequence[Placed], looks: Looks
) -> Placed | None:
    look = look_at(board, model, need, net, placed, looks)
    through = model.through_pours
    obstacles, left = (look.others, look.through_pours) if through else (look.obstacles, look.beside_pours)
    region = look.within(tied(board, model.radius, net, look.groups, left))
    point = _nearest_legal(obstacles, region, need.at)
    return None if point is None else placed_at(board, model, net, *point)


def look_at(board: Board, model: ViaModel, need: Need, net: int, placed: Sequence[Placed], looks: Looks) -> Look:
    """What is about a place, looked at once."""
    if (need, net) not in looks:
        window = window_of(board, need)
        obstacles = obstacles_in(board, model, net, window, placed)
        looks[need, net] = Look(window, obstacles, need, groups_about(board, net, need.ties, window))
    return looks[need, net]


def _nearest_legal(obstacles: Obstacles, region: BaseGeometry, at: tuple[float, float]) -> tuple[float, float] | None:
    """The legal point of a region nearest to a place: looked for no farther around than it must be."""
    if region.is_empty:
        return None
    near = region.distance(shapely.Point(at))
    for more in FARTHER_MM:
        around = shapely.Point(at).buffer((near + more) * AROUND)
        found = nearest_in(obstacles.legal(polygonal(shapely.intersection(region, around))), at)
        if found is not None and math.dist(found, at) <= near + more:
            return found
    return nearest_in(obstacles.legal(region), at)


def nearest_in(region: BaseGeometry, at: tuple[float, float]) -> tuple[float, float] | None:
    """The point of a region nearest to a place, to 1 µm; None where the region has no area."""
    parts = shapely.get_parts(region)
    parts = parts[shapely.area(parts) > 0] if len(parts) else parts
    if not len(parts):
        return None
    point = shapely.Point(at)
    nearest = parts[int(np.argmin(shapely.distance(parts, point)))]
    if not nearest.covers(point):
        point = shapely.get_point(shapely.shortest_line(nearest, point), 0)
    return round(point.x, 3) + 0.0, round(point.y, 3) + 0.0


def placed_at(board: Board, model: ViaModel, net: int, x: float, y: float) -> Placed:
    """A via there, with the copper of its net that its pads touch."""
    point = shapely.Point(x, y)
    pieces: set[int] = set()
    for layer in range(1, board.layers + 1):
        tiles = tiles_of(board, layer)
        near = tiles.near(grown_box((x, y, x, y), model.radius + TOUCH_MM))
        near = near[tiles.net[near] == net]
        apart = shapely.distance(tiles.geometry[near], point) - tiles.reach[near]
        pieces.update(tiles.piece[near[apart <= model.radius + TOUCH_MM]].tolist())
    return Placed(x, y, net, frozenset(pieces))


def window_of(board: Board, need: Need) -> BaseGeometry:
    """What a need allows of the board, and a little more."""
    window = polygonal(shapely.intersection_all(list(_limits(need, rough=True))))
    return polygonal(shapely.intersection(window, board.profile))


def _limits(need: Need, rough: bool) -> Iterator[BaseGeometry]:
    """The areas that a need allows all of; roughly, by up to WIDER_MM more."""
    if need.area:
        yield shapely.Polygon(need.area)
    discs = need.within if need.within or need.area else ((*need.at, FARTHEST_MM),)
    for x, y, radius in discs:
        yield _disc(x, y, max(radius - MARGIN_MM, 0.0), rough)


def _disc(x: float, y: float, radius: float, rough: bool) -> BaseGeometry:
    """Chords within a circle; roughly, fewer that lie about it."""
    if not rough:
        return shapely.Point(x, y).buffer(radius, quad_segs=DISC_CHORDS)
    chords = min(math.ceil(math.pi / 4 / math.acos(radius / (radius + WIDER_MM))), DISC_CHORDS)
    return shapely.Point(x, y).buffer(radius / math.cos(math.pi / 4 / chords), quad_segs=chords)
