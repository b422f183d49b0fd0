"""The ground via that a layer change lacks."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from fencepost.board.model import Board, NetKind
from fencepost.board.shared import shared
from fencepost.placement.need import Need


def ground_of(board: Board, pieces: Iterable[int]) -> tuple[int, ...]:
    """Those of these pieces that are ground, ascending."""
    return tuple(sorted(_all_ground(board).intersection(pieces)))


@shared
def _all_ground(board: Board) -> frozenset[int]:
    ground = np.isin(board.pieces.net, board.nets_of(NetKind.GROUND))
    return frozenset(np.flatnonzero(ground).tolist())


def groups_of(board: Board, before: Iterable[int], after: Iterable[int]) -> tuple[tuple[int, ...], ...]:
    """The ground of two sets of pieces that a via could tie: of nets that both have, else nothing."""
    first, second = ground_of(board, before), ground_of(board, after)
    nets = set(board.pieces.net[list(first)].tolist()) & set(board.pieces.net[list(second)].tolist())
    groups = tuple(tuple(p for p in own if int(board.pieces.net[p]) in nets) for own in (first, second))
    return groups if all(groups) else ()


def transition_need(
    board: Board, hole: int, before: Iterable[int], after: Iterable[int], limit: float
) -> tuple[Need, ...]:
    """A via no farther than `limit` (mm) from a signal's hole, between the pieces before and after its change of layer.

    Empty where no ground via can join them.
    """
    groups = groups_of(board, before, after)
    x, y = board.holes.centre[hole].tolist()
    if not groups:
        return ()
    then = "the nearest tie is {:.2f} mm away"
    return (Need((x, y), groups, ((x, y, limit),), anchors=((x, y),), then=then, hole=hole),)
