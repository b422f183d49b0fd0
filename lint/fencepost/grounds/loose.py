"""Copper that is connected to nothing, and ground copper that is not connected to the rest of its ground."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fencepost.board.model import Board, Copper, HoleKind, NetKind
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.readers.artwork import Kind

APART_ON_PURPOSE = frozenset({"NonConductor", "EtchedComponent", "AntiPad", "Material", "Profile", "FiducialPad"})
"""Aperture functions of copper that is meant to stand alone: text, thieving, printed parts, marks for machines."""

CONDUCTORS = frozenset({"Conductor", "ViaPad", "WasherPad", "ThermalReliefPad", "Other", ""})
"""Aperture functions of copper that takes no pin. What is left of the specification's are pads of pins. From memory:
The Gerber Layer Format Specification, Ucamco, 2024.05, 5.6.10; the section number too."""


@dataclass(frozen=True, eq=False)
class Loose:
    """Pieces that hang together and on nothing else. `holes` are the plated holes among them; none where it is a piece
    by itself that meets no plated hole and has no pad."""

    net: int
    pieces: tuple[int, ...]
    holes: tuple[int, ...]


@shared
def loose_copper(board: Board) -> tuple[Loose, ...]:
    """All loose copper that is labelled with a net, by its first piece. What has no label is taken for graphics."""
    pieces = board.pieces
    named = np.array([*(net.named for net in board.nets), False])[pieces.net]
    held = _with_pad(board)
    held[board.touches[:, 1]] = True
    alone = np.flatnonzero(named & ~held & ~_apart_on_purpose(board))
    found = [Loose(int(pieces.net[piece]), (int(piece),), ()) for piece in alone]
    return tuple(sorted([*found, *_apart(board)], key=lambda one: one.pieces))


def _apart(board: Board) -> list[Loose]:
    """Islands of ground with plated holes and without a pin, besides the one of their net that has most holes."""
    pieces = board.pieces
    count = int(pieces.island.max(initial=-1)) + 1
    holes, first = np.unique(board.touches[:, 0], return_index=True)
    island_of_hole = pieces.island[board.touches[first, 1]]
    drilled = np.bincount(island_of_hole, minlength=count)
    pinned = np.zeros(count, dtype=bool)
    pinned[pieces.island[_with_pin(board)]] = True
    pinned[island_of_hole[board.holes.kind[holes] == HoleKind.COMPONENT]] = True
    net = np.full(count, -1, dtype=np.int32)
    net[pieces.island] = pieces.net

    found = []
    for ground in board.nets_of(NetKind.GROUND).tolist():
        islands = np.flatnonzero((net == ground) & (drilled > 0))
        main = islands[np.lexsort((-drilled[islands], ~pinned[islands]))[:1]]
        for island in islands[~pinned[islands] & ~np.isin(islands, main)]:
            own = np.flatnonzero(pieces.island == island).tolist()
            found.append(Loose(ground, tuple(own), tuple(holes[island_of_hole == island].tolist())))
    return found


def _function_in(copper: Copper, functions: frozenset[str]) -> NDArray[np.bool_]:
    """For each part whether its aperture function, "" for none, is one of these."""
    known = [(value[0] if value else "") in functions for value in copper.artwork.values]
    return np.array([*known, "" in functions], dtype=bool)[copper.artwork.function[copper.feature]]


def _apart_on_purpose(board: Board) -> NDArray[np.bool_]:
    """For each piece whether all of it is."""
    result = np.ones(len(board.pieces), dtype=bool)
    for copper in board.copper:
        result[copper.piece[~_function_in(copper, APART_ON_PURPOSE)]] = False
    return result


def _with_pad(board: Board) -> NDArray[np.bool_]:
    """For each piece whether something of it is a pad: a flash, or what has a pin or the function of a pad."""
    result = _with_pin(board)
    for copper in board.copper:
        flashed = copper.artwork.kind[copper.feature] == Kind.FLASH
        result[copper.piece[flashed & ~_function_in(copper, APART_ON_PURPOSE)]] = True
    return result


def _with_pin(board: Board) -> NDArray[np.bool_]:
    """For each piece whether it takes a pin. Where a file says nothing of a flash, it may."""
    result = np.zeros(len(board.pieces), dtype=bool)
    for copper in board.copper:
        pin = copper.artwork.pin[copper.feature] >= 0
        pin |= ~_function_in(copper, CONDUCTORS | APART_ON_PURPOSE)
        pin |= (copper.artwork.kind[copper.feature] == Kind.FLASH) & _function_in(copper, frozenset({""}))
        result[copper.piece[pin]] = True
    return result
