"""What the rules of manufacture share: where a hole is, and how many faults alike are said in one line."""

from __future__ import annotations

from collections.abc import Iterable

from fencepost.board.model import Board
from fencepost.checking.finding import Place, Remark
from fencepost.fabrication.folding import SHOWN
from fencepost.fabrication.holes import word


def place_of(board: Board, hole: int) -> Place:
    """A hole's hit in the drill file, and its middle."""
    x, y = board.holes.centre[hole].tolist()
    return Place(board.hole_location(hole), x, y)


def several(board: Board, holes: list[int]) -> str:
    """`540 vias of 0.20 mm`: holes of one tool, by their finished diameter."""
    words = {word(board, hole) for hole in holes}
    said = words.pop() if len(words) == 1 else "hole"
    return f"{len(holes)} {said}s of {board.holes.diameter[holes[0]]:.2f} mm"


def nets_of(board: Board, nets: Iterable[int]) -> tuple[str, ...]:
    """Names of nets, each once, in order."""
    return tuple(sorted({board.nets[net].name for net in nets if net >= 0}))


def others(board: Board, said: Iterable[tuple[int, str]]) -> tuple[Remark, ...]:
    """A remark for each of the first few further holes: the hole, and what is to be said of it."""
    return tuple(Remark(text, place_of(board, hole)) for hole, text in list(said)[: SHOWN - 1])
