"""Blind and buried holes that would tie two references of a transition, if they only went on to the second one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.signals.cover import planes_of
from fencepost.signals.transitions import Reference, Transition


@dataclass(frozen=True)
class ShortTie:
    """A plated hole that touches a reference on one side of a transition and ends before that of the other side.

    `touches` is the layer of the first, `ends` the layer where the hole ends, `missed` the layer of the reference that
    it does not reach, `short` what is between the two in mm. `away`, in mm, is from centre to centre of the two holes.
    """

    hole: int
    touches: int
    ends: int
    missed: int
    short: float
    away: float


def short_ties(board: Board, transition: Transition, distance: float) -> tuple[ShortTie, ...]:
    """The short ties of a transition no farther than `distance` (mm) from its hole, by their distance to 1 um,
    those equally near from left to right and from below.

    The hole must touch a reference of one side; one of the other side, of the same net, must lie beyond the hole's end
    and cover the place where the hole would come through it.
    """
    holes = _inner_holes(board)
    away = np.hypot(*(board.holes.centre[holes] - board.holes.centre[transition.hole]).T)
    near = holes[away <= distance + 1e-9].tolist()
    sides = (transition.before.references, transition.after.references)
    found: dict[int, ShortTie] = {}
    for hole in near:
        for own, other in (sides, sides[::-1]):
            for one in _short(board, transition, hole, own, other):
                found.setdefault(hole, one)
    return tuple(sorted(found.values(), key=lambda one: (round(one.away, 3), *_place(board, one.hole))))


def _place(board: Board, hole: int) -> tuple[float, float]:
    """Where a hole stands, to 1 um: of two that are equally near, files in inches and in mm must give the same one."""
    x, y = board.holes.centre[hole].tolist()
    return round(x, 3), round(y, 3)


def _short(
    board: Board, transition: Transition, hole: int, own: Iterable[Reference], other: Iterable[Reference]
) -> Iterator[ShortTie]:
    """What a hole that touches one of `own` misses of `other`."""
    first, last = int(board.holes.first[hole]), int(board.holes.last[hole])
    centre = board.holes.centre[hole]
    touched = set(board.pieces_at(hole).tolist())
    for near, far in product((reference for reference in own if reference.piece in touched), other):
        if first <= far.layer <= last or board.pieces.net[near.piece] != board.pieces.net[far.piece]:
            continue
        margin = float(board.holes.diameter[hole]) / 2
        if planes_of(board, far.layer).piece_at(shapely.points(centre[None, :]), margin)[0] == far.piece:
            end = first if far.layer < first else last
            away = float(np.hypot(*(centre - board.holes.centre[transition.hole])))
            yield ShortTie(hole, near.layer, end, far.layer, board.stackup.height(end, far.layer), away)


@shared
def _inner_holes(board: Board) -> NDArray[np.intp]:
    """Plated holes that do not go through the whole board."""
    holes = board.holes
    return np.flatnonzero(holes.plated & ((holes.first > 1) | (holes.last < board.layers)))
