"""Two-pin capacitors, and which planes each of them joins close to a place."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from fencepost.board.model import TOUCH_MM, Board, NetKind, Pin
from fencepost.board.shared import shared

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
    centre: NDArray[np.float64]

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
        return [(self.names[i], pieces) for i, pieces in joined if np.hypot(*(self.centre[i] - xy)) <= farthest]

    def _spots(self, distance: float) -> _Spots:
        """Where all terminals come down, as far as it matters for places within `distance` of both."""
        number, piece, xy = [], [], []
        for i, pins in enumerate(self.pins):
            one, other = pins
            # From the centre to the place, from there to where the pin comes down, and from the centre to the pin.
            reach = (AROUND + 1) * distance + float(np.hypot(one.x - other.x, one.y - other.y))
            for side, pin in enumerate(pins):
                pieces, spots = _terminal(self.board, pin, reach)
                number.append(np.full(len(pieces), 2 * i + side))
                piece.append(pieces)
                xy.append(spots)
        return _Spots(np.concatenate(number), np.concatenate(piece), KDTree(np.concatenate(xy)))


@dataclass(frozen=True, eq=False)
class _Spots:
    """Where terminals come down on pieces of copper, n of them: terminal 2 i + side of capacitor i, and the piece."""

    terminal: NDArray[np.int64]
    piece: NDArray[np.int32]
    tree: KDTree

    def joined_near(self, xy: NDArray[np.float64], distance: float) -> Iterator[tuple[int, set[int]]]:
        """The capacitors both of whose terminals come down no farther than this from a place, and on which pieces."""
        near = sorted(self.tree.query_ball_point(xy, distance + TOUCH_MM))
        sides: dict[int, tuple[set[int], set[int]]] = {}
        for terminal, piece in zip(self.terminal[near].tolist(), self.piece[near].tolist(), strict=True):
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
    return Capacitors(board, tuple(names), tuple(both), np.array(centres, dtype=float).reshape(-1, 2))


def _terminal(board: Board, pin: Pin, reach: float) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    """The pieces of copper (k) that a pin reaches, and where it comes down on each of them, (k, 2) in mm.

    The pin's own pad where that lies in the piece, else the nearest plated hole that touches the pad's copper and the
    piece, no farther than `reach` (mm) from the pin.
    """
    plated, tree = _plated_holes(board)
    near = plated[tree.query_ball_point([pin.x, pin.y], reach)]
    begin, end = np.searchsorted(board.touches[:, 0], [near, near + 1])
    count = end - begin
    rows = np.repeat(begin - np.cumsum(count) + count, count) + np.arange(count.sum())
    hole, piece = board.touches[rows].T
    own = np.isin(hole, hole[piece == pin.piece])
    hole, piece = hole[own], piece[own]
    away = np.hypot(*(board.holes.centre[hole] - [pin.x, pin.y]).T)
    nearest = np.lexsort((hole, away))
    pieces, first = np.unique(np.concatenate([[pin.piece], piece[nearest]]), return_index=True)
    return pieces.astype(np.int32), np.vstack([[[pin.x, pin.y]], board.holes.centre[hole[nearest]]])[first]


@shared
def _plated_holes(board: Board) -> tuple[NDArray[np.int64], KDTree]:
    """The plated holes of a board, and a tree over their centres."""
    plated = np.flatnonzero(board.holes.plated)
    return plated, KDTree(board.holes.centre[plated].reshape(-1, 2))
