"""Two-pin capacitors, and which planes each of them joins close to a place."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import TOUCH_MM, Board, NetKind, Pin
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.ranges import ranges

_CAPACITOR = re.compile(r"C\d+\w*")
"""Reference designators of capacitors: class letter C (IEEE 315 and common practice; from memory)."""

AROUND = 4
"""Of the distance within which both terminals come down: the capacitor itself is no farther away than this."""


@dataclass(frozen=True, eq=False)
class Capacitors:
    """All two-pin capacitors that are fitted, between two nets that are ground or power."""

    board: Board
    names: tuple[str, ...]
    pins: tuple[tuple[Pin, Pin], ...]
    centre: tuple[tuple[float, float], ...]

    @cached_property
    def _known(self) -> dict[float, _Spots]:
        return {}

    def near(self, xy: NDArray[np.float64], distance: float) -> list[tuple[str, set[int]]]:
        """Name and joined pieces of every capacitor both of whose terminals come down within `distance`."""
        if not len(self.names):
            return []
        if distance not in self._known:
            self._known[distance] = self._spots(distance)
        joined = self._known[distance].joined_near(xy, distance)
        farthest = AROUND * distance
        return [(self.names[i], pieces) for i, pieces in joined if math.dist(self.centre[i], xy) <= farthest]

    def _spots(self, distance: float) -> _Spots:
        """Where all terminals come down, as far as it matters for places within `distance` of both."""
        pins = [pin for both in self.pins for pin in both]
        xy = np.array([(pin.x, pin.y) for pin in pins])
        apart = np.hypot(*(xy[::2] - xy[1::2]).T)
        # From the centre to the place, from there to where the pin comes down, and from the centre to the pin.
        reach = (AROUND + 1) * distance + np.repeat(apart, 2)
        return _terminals(self.board, np.array([pin.piece for pin in pins], dtype=np.int32), xy, reach)


@dataclass(frozen=True, eq=False)
class _Spots:
    """Which terminals, 2 i + side of capacitor i, come down on which pieces of copper; a tree over the places."""

    comes_down: list[tuple[int, int]]
    tree: shapely.STRtree

    def joined_near(self, xy: NDArray[np.float64], distance: float) -> Iterator[tuple[int, set[int]]]:
        """The capacitors both of whose terminals come down no farther than this from a place, and on which pieces."""
        near = np.sort(self.tree.query(shapely.points(xy), "dwithin", distance + TOUCH_MM))
        sides: dict[int, tuple[set[int], set[int]]] = {}
        for terminal, piece in (self.comes_down[i] for i in near.tolist()):
            sides.setdefault(terminal // 2, (set(), set()))[terminal % 2].add(piece)
        yield from ((i, first | second) for i, (first, second) in sides.items() if first and second)


@shared
def capacitors_of(board: Board) -> Capacitors:
    """The capacitors of a board, as its components tell."""
    solid = [net.kind is not NetKind.SIGNAL for net in board.nets]
    names, both, centres = [], [], []
    for component in board.components:
        if not _CAPACITOR.fullmatch(component.name):
            continue
        pins = {pin.number: pin for pin in component.pins}
        fitted = component.attributes.get("populate", ()) != ("false",)
        if len(pins) != 2 or not fitted:
            continue
        a, b = pins.values()
        if a.net == b.net or min(a.net, b.net) < 0 or not (solid[a.net] and solid[b.net]):
            continue
        names.append(component.name)
        both.append((a, b))
        centres.append(((a.x + b.x) / 2, (a.y + b.y) / 2))
    return Capacitors(board, tuple(names), tuple(both), tuple(centres))


def _terminals(board: Board, own: NDArray[np.int32], xy: NDArray[np.float64], reach: NDArray[np.float64]) -> _Spots:
    """The pieces of copper that pins (n) reach, and where they come down on each of them.

    The pin's own pad, at xy (n, 2), where that lies in the piece, else the nearest plated hole that touches the pad's
    copper `own` (n) and the piece, no farther than `reach` (n) mm from the pin.
    """
    tree = shapely.STRtree(shapely.points(board.holes.centre))
    pin, hole = tree.query(shapely.points(xy), "dwithin", reach)
    touches = board.touches.astype(np.int64) @ [len(board.pieces), 1]
    touching = (own[pin] >= 0) & np.isin(hole * len(board.pieces) + own[pin], touches)
    pin, hole = pin[touching], hole[touching]
    begin, end = np.searchsorted(board.touches[:, 0], [hole, hole + 1])
    count = end - begin
    link = np.repeat(np.arange(len(hole)), count)
    pin, hole = pin[link], hole[link]
    piece = board.touches[ranges(begin, count), 1]

    pins = np.arange(len(own))
    spot = np.concatenate([xy, board.holes.centre[hole]])
    terminal, copper = np.concatenate([pins, pin]), np.concatenate([own, piece])
    away = np.hypot(*(spot - xy[terminal]).T)
    away[: len(own)] = -1.0  # The pad itself comes before a hole in it.
    order = np.lexsort((np.concatenate([pins, hole]), away, copper, terminal))
    first = order[(np.diff(terminal[order], prepend=-1) > 0) | (np.diff(copper[order], prepend=-1) != 0)]
    comes_down = list(zip(terminal[first].tolist(), copper[first].tolist(), strict=True))
    return _Spots(comes_down, shapely.STRtree(shapely.points(spot[first])))
