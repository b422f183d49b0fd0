"""Ties: plated holes whose barrel touches ground copper, and how pieces are joined by those near a place."""

from __future__ import annotations

from collections.abc import Iterable, Set
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import TOUCH_MM, Board, NetKind
from fencepost.board.shared import shared
from fencepost.frozen import dataclass


@dataclass(frozen=True, eq=False)
class Ties:
    """t plated holes that join copper of two layers or more, and the pieces that each of them touches."""

    holes: NDArray[np.int32]
    centre: NDArray[np.float64]
    pieces: tuple[frozenset[int], ...]

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(shapely.points(self.centre))

    def within(self, xy: NDArray[np.float64], distance: float) -> list[int]:
        """The ties, as indices into these columns, whose centre is no farther than `distance` (mm) from a point."""
        near = self._tree.query(shapely.points(xy), "dwithin", distance + TOUCH_MM)
        ties: list[int] = np.sort(near).tolist()
        return ties

    def within_each(self, xy: NDArray[np.float64], distance: NDArray[np.float64]) -> list[list[int]]:
        """The same for points (n, 2), each with a distance of its own (n)."""
        point, tie = self._tree.query(shapely.points(xy), "dwithin", distance + TOUCH_MM)
        order = np.lexsort((tie, point))
        ends = np.cumsum(np.bincount(point, minlength=len(xy)))[:-1]
        return [near.tolist() for near in np.split(tie[order], ends)] if len(xy) else []

    def between(
        self, xy: NDArray[np.float64], left: set[int], right: set[int], times: float = 1.0
    ) -> tuple[list[int], NDArray[np.float64]]:
        """The ties between a piece of one set and one of the other, nearest first, and their distances in mm.

        Those no farther away than so many times the nearest one.
        """
        both, tree = self._joining(frozenset(left), frozenset(right))
        if not len(both):
            return [], np.empty(0)
        point = shapely.points(xy)
        _, nearest = tree.query_nearest(point, return_distance=True, all_matches=False)
        near = both[np.sort(tree.query(point, "dwithin", times * nearest[0] + TOUCH_MM))]
        away = np.hypot(*(self.centre[near] - xy).T)
        order = np.argsort(away, kind="stable")
        order = order[away[order] <= times * away[order[0]]]
        return near[order].tolist(), away[order]

    def nearest_between(self, xy: NDArray[np.float64], left: set[int], right: set[int]) -> tuple[int, float] | None:
        """The nearest of them, and its distance in mm."""
        both, away = self.between(xy, left, right)
        return (both[0], float(away[0])) if both else None

    @cached_property
    def _by_piece(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """The ties of every piece, by piece, and the pieces in that order."""
        piece = np.array([piece for pieces in self.pieces for piece in sorted(pieces)], dtype=np.int64)
        tie = np.repeat(np.arange(len(self.pieces)), [len(pieces) for pieces in self.pieces])
        order = np.argsort(piece, kind="stable")
        return tie[order], piece[order]

    @cached_property
    def _known(self) -> dict[tuple[frozenset[int], frozenset[int]], tuple[NDArray[np.int64], shapely.STRtree]]:
        return {}

    def _joining(self, left: frozenset[int], right: frozenset[int]) -> tuple[NDArray[np.int64], shapely.STRtree]:
        """The ties between two sets of pieces and a tree over them: many places ask for the same two."""
        if (left, right) not in self._known:
            tie, piece = self._by_piece
            one, other = (
                np.concatenate([tie[:0], *(tie[slice(*np.searchsorted(piece, [i, i + 1]))] for i in sorted(own))])
                for own in (left, right)
            )
            both = np.intersect1d(one, other)
            self._known[left, right] = both, shapely.STRtree(shapely.points(self.centre[both]))
        return self._known[left, right]


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
    # Touches are sorted by hole; a hole that touches two layers or more is a tie.
    layer = board.pieces.layer[touching[:, 1]]
    lowest, highest = (side.reduceat(layer, first) if len(first) else first for side in (np.minimum, np.maximum))
    several = np.flatnonzero(lowest < highest)
    pieces = touching[:, 1].tolist()
    return Ties(
        holes[several].astype(np.int32),
        board.holes.centre[holes[several]].reshape(-1, 2),
        tuple(
            frozenset(pieces[i : i + n]) for i, n in zip(first[several].tolist(), count[several].tolist(), strict=True)
        ),
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
