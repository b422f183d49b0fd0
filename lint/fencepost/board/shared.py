"""What several rules need of one board is computed once, on first use, also where several threads ask at once."""

from __future__ import annotations

from collections.abc import Callable
from functools import update_wrapper
from threading import RLock
from typing import Concatenate, ParamSpec, TypeVar

from fencepost.board.model import Board

P = ParamSpec("P")
R = TypeVar("R")


def shared(function: Callable[Concatenate[Board, P], R]) -> Callable[Concatenate[Board, P], R]:
    """Keep a function's result with the board; further arguments must be hashable."""

    def kept(board: Board, /, *args: P.args, **kwargs: P.kwargs) -> R:
        key = (function, args, tuple(sorted(kwargs.items())))
        if key not in board.cache:
            with board.cache.setdefault((kept, *key), RLock()):
                if key not in board.cache:
                    board.cache[key] = function(board, *args, **kwargs)
        result: R = board.cache[key]
        return result

    update_wrapper(kept, function)
    return kept
