"""When a check is done by several processes."""

from __future__ import annotations

from fencepost.board.model import Board
from fencepost.parallel import can_fork

FEW_PARTS, MANY_PARTS = 5_000, 500_000
"""Of copper: below, it is done before a copy has begun; above, what each process computes for itself takes too much
memory."""


def copies_pay(board: Board) -> bool:
    """Whether copies of this process are worth their while on a board."""
    return can_fork() and _parts(board) >= FEW_PARTS and not is_large(board)


def is_large(board: Board) -> bool:
    """Whether memory counts for more than time on a board: what rules share is then computed by each for itself."""
    return _parts(board) > MANY_PARTS


def _parts(board: Board) -> int:
    return sum(map(len, board.copper))
