"""Holes as the fabricator drills them, and how they are called."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import spans
from fencepost.board.model import Board, HoleKind
from fencepost.board.stackup import Stackup

_WORDS = {HoleKind.VIA: "via", HoleKind.COMPONENT: "component hole", HoleKind.MECHANICAL: "hole"}

Tool = tuple[int, float, int, int]
"""A drill file, the finished diameter in mm, and the first and last copper layer."""


def drilled(board: Board, plating: float) -> NDArray[np.float64]:
    """Diameters as drilled, float64 (n), mm: finished ones, and `plating` more where the hole is plated."""
    return board.holes.diameter + plating * board.holes.plated


def tool_of(board: Board, hole: int) -> Tool:
    """What drills a hole: holes alike in this are one entry of a drill file."""
    holes = board.holes
    diameter = round(float(holes.diameter[hole]), 4)
    return int(holes.hits[hole]), diameter, int(holes.first[hole]), int(holes.last[hole])


def depth(stackup: Stackup, first: int, last: int) -> float:
    """What a hole from layer to layer goes through, both coppers included, in mm."""
    if first == last:
        return stackup.copper[first - 1]
    return stackup.height(first, last) + stackup.copper[first - 1] + stackup.copper[last - 1]


def boxes(board: Board, holes: NDArray[np.integer[Any]], grow: NDArray[np.float64]) -> NDArray[np.object_]:
    """Boxes around the centre lines of holes (n), `grow` (n) mm larger on every side, for trees."""
    return spans(shapely.bounds(board.holes.geometry[holes]), grow)


def word(board: Board, hole: int) -> str:
    """`via`, `blind via`, `component hole`, `plated slot`, `hole`: what the user calls it."""
    holes = board.holes
    first, last, plated = int(holes.first[hole]), int(holes.last[hole]), bool(holes.plated[hole])
    if (holes.start[hole] != holes.end[hole]).any():
        return "plated slot" if plated else "unplated slot"
    said = _WORDS[HoleKind(holes.kind[hole])] if plated else "unplated hole"
    if not plated or (first == 1 and last == board.layers):
        return said
    return f"blind {said}" if first == 1 or last == board.layers else f"buried {said}"


def net_name(board: Board, net: int) -> str:
    """A net's name; "" for none."""
    return board.nets[net].name if net >= 0 else ""


def called(board: Board, hole: int) -> str:
    """`the via of GND`, `the unplated hole`."""
    name = net_name(board, int(board.holes.net[hole]))
    return f"the {word(board, hole)} of {name}" if name else f"the {word(board, hole)}"
