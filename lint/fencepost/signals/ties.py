"""Ties: plated holes whose barrel touches ground copper, and how pieces are joined by those near a place."""

from __future__ import annotations

from collections.abc import Iterable, Set
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from fencepost.board.model import TOUCH_MM, Board, NetKind
from fencepost.board.shared import shared


@dataclass(frozen=True, eq=False)
class Ties:
    """t plated holes that join copper of two layers or more, and the pieces that each of them touches."""

    holes: NDArray[np.int32]
    centre: NDArray[np.float64]
    pieces: tuple[frozenset[int], ...]

    @cached_property
    def _tree(self) -> KDTree:
        return KDTree(self.centre)

    def within(self, xy: NDArray[np.float64], distance: float) -> list[int]:
        """The ties, as indices into these columns, whose centre is no farther than `distance` (mm) from a point."""
        return sorted(self._tree.query_ball_point(xy, distance + TOUCH_MM))

    def between(
        self, xy: NDArray[np.float64], left: set[int], right: set[int]
    ) -> tuple[list[int], NDArray[np.float64]]:
        """The ties between a piece of one set and one of the other, nearest first, and their distances in mm."""
        both = np.array([i for i, pieces in enumerate(self.pieces) if pieces & left and pieces & right], dtype=np.int64)
        away = np.hypot(*(self.centre[both] - xy).T)
        order = np.argsort(away, kind="stable")
        return both[order].tolist(), away[order]

    def nearest_between(self, xy: NDArray[np.float64], left: set[int], right: set[int]) -> tuple[int, float] | None:
        """The nearest of them, and its distance in mm."""
        both, away = self.between(xy, left, right)
        return (both[0], float(away[0])) if both else None


@shared
def ties_of(board: Board) -> Ties:
    """All ties of a board."""
    ground = np.array([*(net.kind is NetKind.GROUND for net in board.nets), False])
    return _joining(board, ground)


@shared
def plane_ties_of(board: Board) -> Ties:
    """Plated holes that touch ground or power copper on two layers: ties, and what ties two pieces of a power net."""
    solid = np.array([*(net.kind is not NetKind.SIGNAL for net in board.nets), False])
    return _joining(board, solid)


def _joining(board: Board, wanted: NDArray[np.bool_]) -> Ties:
    touching = board.touches[wanted[board.pieces.net[board.touches[:, 1]]]]
    holes, first, count = np.unique(touching[:, 0], return_index=True, return_counts=True)
    pieces = [frozenset(touching[i : i + n, 1].tolist()) for i, n in zip(first, count, strict=True)]
    layers = [len(set(board.pieces.layer[list(touched)].tolist())) for touched in pieces]
    several = [i for i, number in enumerate(layers) if number > 1]
    return Ties(
        holes[several].astype(np.int32),
        board.holes.centre[holes[several]].reshape(-1, 2),
        tuple(pieces[i] for i in several),
    )


def joined(joins: Iterable[Set[int]], left: Iterable[int], right: Iterable[int]) -> bool:
    """Whether these joins, one after another if need be, lead from a piece of `left` to a piece of `right`.

    A join is the set of pieces that one tie or one capacitor connects.
    """
    reached, goal = set(left), set(right)
    open_ = list(joins)
    grown = True
    while grown and not reached & goal:
        touching = [pieces for pieces in open_ if pieces & reached]
        open_ = [pieces for pieces in open_ if not pieces & reached]
        grown = bool(touching)
        reached.update(*touching)
    return bool(reached & goal)
