"""Two-pin capacitors, and which planes each of them joins close to a place."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from fencepost.board.model import TOUCH_MM, Board, NetKind, Pin
from fencepost.board.shared import shared

_CAPACITOR = re.compile(r"C\d+\w*")
"""Reference designators of capacitors: class letter C (IEEE 315 and common practice; from memory)."""


@dataclass(frozen=True, eq=False)
class Terminal:
    """One pin of a capacitor: the pieces of copper that it reaches, and where it comes down on each of them.

    `pieces` (k) are indices into Board.pieces; `xy` (k, 2) in mm: the pin's own pad where that lies in the piece, else
    the nearest plated hole that touches the pad's copper and the piece.
    """

    pieces: NDArray[np.int32]
    xy: NDArray[np.float64]

    def within(self, xy: NDArray[np.float64], distance: float) -> set[int]:
        """The pieces that it comes down on no farther than `distance` (mm) from a place."""
        near = np.hypot(*(self.xy - xy).T) <= distance + TOUCH_MM
        return set(self.pieces[near].tolist())


@dataclass(frozen=True, eq=False)
class Capacitors:
    """All two-pin capacitors that are fitted, between two nets that are ground or power."""

    names: tuple[str, ...]
    terminals: tuple[tuple[Terminal, Terminal], ...]
    centre: NDArray[np.float64]

    @cached_property
    def _tree(self) -> KDTree:
        return KDTree(self.centre)

    def near(self, xy: NDArray[np.float64], distance: float) -> list[tuple[str, set[int]]]:
        """Name and joined pieces of every capacitor both of whose terminals come down within `distance`."""
        if not len(self.names):
            return []
        found = []
        for i in sorted(self._tree.query_ball_point(xy, 4 * distance)):
            first, second = (terminal.within(xy, distance) for terminal in self.terminals[i])
            if first and second:
                found.append((self.names[i], first | second))
        return found


@shared
def capacitors_of(board: Board) -> Capacitors:
    """The capacitors of a board, as its components tell."""
    solid = [net.kind is not NetKind.SIGNAL for net in board.nets]
    names, terminals, centres = [], [], []
    for component in board.components:
        pins = {pin.number: pin for pin in component.pins}
        fitted = component.attributes.get("populate", ()) != ("false",)
        if len(pins) != 2 or not fitted or not _CAPACITOR.fullmatch(component.name):
            continue
        a, b = pins.values()
        if a.net == b.net or min(a.net, b.net) < 0 or not (solid[a.net] and solid[b.net]):
            continue
        names.append(component.name)
        terminals.append((_terminal(board, a), _terminal(board, b)))
        centres.append(((a.x + b.x) / 2, (a.y + b.y) / 2))
    return Capacitors(tuple(names), tuple(terminals), np.array(centres, dtype=float).reshape(-1, 2))


def _terminal(board: Board, pin: Pin) -> Terminal:
    holes = board.holes_at(pin.piece)
    centre = board.holes.centre[holes]
    nearest = np.argsort(np.hypot(*(centre - [pin.x, pin.y]).T), kind="stable")
    touched = [board.pieces_at(int(hole)) for hole in holes[nearest]]
    through = np.repeat(centre[nearest], [len(pieces) for pieces in touched], axis=0)
    pieces, first = np.unique(np.concatenate([[pin.piece], *touched]), return_index=True)
    return Terminal(pieces.astype(np.int32), np.vstack([[[pin.x, pin.y]], through])[first])
