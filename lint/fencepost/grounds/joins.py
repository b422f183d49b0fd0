"""Which pieces of ground copper are tied to one another, and where."""

from __future__ import annotations

from collections.abc import Collection
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fencepost.board.connect import components
from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.grounds.areas import extents_of, ground_pieces

SMALL = 0.25
"""Of a limit on distances: holes that meet in copper no larger across than this act as one tie."""


@dataclass(frozen=True, eq=False)
class Joins:
    """t plated holes that touch ground copper, and the pieces that each of them ties.

    holes   int32 (t)       indices into Board.holes
    centre  float64 (t, 2)  mm
    member  bool            one row for each hole, one column for each entry of `pieces`
    """

    holes: NDArray[np.int32]
    centre: NDArray[np.float64]
    pieces: NDArray[np.int32]
    member: NDArray[np.bool_]

    def between(self, left: Collection[int], right: Collection[int]) -> NDArray[np.int64]:
        """The rows of holes that tie a piece of one collection to a piece of the other."""
        return np.flatnonzero(self._touching(left) & self._touching(right))

    def of_piece(self, piece: int) -> NDArray[np.int64]:
        """The rows of holes that tie a piece to any other."""
        return np.flatnonzero(self._touching([piece]) & self._several)

    def _touching(self, pieces: Collection[int]) -> NDArray[np.bool_]:
        touching = np.zeros(len(self.holes), dtype=bool)
        for piece in pieces:
            if piece in self._column:
                touching |= self.member[:, self._column[piece]]
        return touching

    @cached_property
    def _several(self) -> NDArray[np.bool_]:
        """Whether each hole ties more than one piece."""
        return np.asarray(self.member.sum(axis=1) > 1)

    @cached_property
    def _column(self) -> dict[int, int]:
        return {piece: column for column, piece in enumerate(self.pieces.tolist())}


@shared
def joins_of(board: Board, small: float) -> Joins:
    """What ties the ground copper of a board.

    Holes that meet in one piece no larger than `small` mm, as stacked and staggered blind vias do in their lands, tie
    what all of them touch. Pieces no larger than that are not among those tied.
    """
    ground = ground_pieces(board)
    touches = board.touches[np.isin(board.touches[:, 1], ground)]
    holes, row = np.unique(touches[:, 0], return_inverse=True)
    large = extents_of(board, ground) > small
    column = np.searchsorted(ground, touches[:, 1])

    within = ~large[column]
    links = np.stack([row[within], len(holes) + column[within]])
    together = components(len(holes) + len(ground), links)[: len(holes)]
    pieces = ground[large]
    member = np.zeros((int(together.max(initial=-1)) + 1, len(pieces)), dtype=bool)
    member[together[row[~within]], np.searchsorted(pieces, touches[~within, 1])] = True
    # Asked column by column.
    by_piece = np.asfortranarray(member[together])
    return Joins(holes.astype(np.int32), board.holes.centre[holes].reshape(-1, 2), pieces, by_piece)
