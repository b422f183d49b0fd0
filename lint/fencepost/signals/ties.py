"""Ties: plated holes whose barrel touches ground copper, and how pieces are joined by those near a place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from fencepost.board.model import Board, NetKind
from fencepost.board.shared import shared


@dataclass(frozen=True, eq=False)
class Ties:
    """t plated holes that touch ground copper on two layers or more, and a tree over their centres."""

    holes: NDArray[np.int32]
    tree: KDTree

    def within(self, xy: NDArray[np.float64], distance: float) -> NDArray[np.int32]:
        """The ties whose centre is no farther than `distance` (mm) from a point, nearest first."""
        found = np.array(sorted(self.tree.query_ball_point(xy, distance + 1e-9)), dtype=np.int64)
        away = np.hypot(*(self.tree.data[found] - xy).T)
        return self.holes[found[np.argsort(away, kind="stable")]]


@shared
def ties_of(board: Board) -> Ties:
    """All ties of a board."""
    ground = np.array([*(net.kind is NetKind.GROUND for net in board.nets), False])
    touching = board.touches[ground[board.pieces.net[board.touches[:, 1]]]]
    pairs = np.unique(np.column_stack([touching[:, 0], board.pieces.layer[touching[:, 1]]]), axis=0)
    holes, layers = np.unique(pairs[:, 0], return_counts=True)
    holes = holes[layers > 1].astype(np.int32)
    return Ties(holes, KDTree(board.holes.centre[holes].reshape(-1, 2)))


def joined_by(board: Board, ties: Iterable[int], left: Iterable[int], right: Iterable[int]) -> bool:
    """Whether these ties, one after another if need be, join a piece of `left` to a piece of `right`."""
    reached, goal = set(left), set(right)
    open_ = [set(board.pieces_at(tie).tolist()) for tie in ties]
    grown = True
    while grown and not reached & goal:
        touching = [pieces for pieces in open_ if pieces & reached]
        open_ = [pieces for pieces in open_ if not pieces & reached]
        grown = bool(touching)
        reached.update(*touching)
    return bool(reached & goal)
