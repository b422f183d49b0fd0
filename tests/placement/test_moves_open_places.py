"""In pockets crowded by chance: what one move is said to make room for is legal once the thing is gone.

What is legal is measured from the sketch itself, by plain distances.
"""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
import shapely

from boards import board_of, settings_of
from fencepost.placement.room import InTheWay, no_room
from fencepost.placement.spots import best_spot
from fencepost.placement.via import via_model
from placement.brute_force import SIZES, SLACK_MM, need_on
from placement.random_boards import CENTRE, legal, shorted
from sketch import Sketch
from sketch.items import Trace

SEEDS = range(16)


def pocket(seed: int) -> Sketch:
    """A frame of another net about the centre, too thick to fit beyond, and in it short traces on L1 and L4."""
    rng = random.Random(seed)
    board = Sketch(layers=4, size=(10.0, 10.0))
    board.via("GND", (1.0, 9.0))
    low, high, thick = 4.2, 5.8, 0.45
    for x0, y0, x1, y1 in ((low - thick, low, low, high), (high, low, high + thick, high)):
        board.copper("WALL", 1, shapely.box(x0, y0, x1, y1))
        board.copper("WALL", 1, shapely.box(y0 - thick, x0, y1 + thick, x1))
    for i in range(9):
        x, y = (at + rng.uniform(-0.7, 0.7) for at in CENTRE)
        turn, length = rng.uniform(0, 2 * math.pi), rng.uniform(0.1, 0.6)
        end = (x + length * math.cos(turn), y + length * math.sin(turn))
        board.trace(f"N{i}", rng.choice((1, 4, 4)), [(round(x, 3), round(y, 3)) for x, y in ((x, y), end)], 0.1)
        if shorted(board):
            board.remove(board.items[-1])
    for layer in (2, 3):
        board.pour("GND", layer, clearance=0.1)
    return board


def moved(sketch: Sketch) -> tuple[InTheWay, tuple[float, float]] | None:
    """What is to be moved, and the place that this opens; None where a via fits or no single move helps."""
    settings = settings_of(SIZES.settings)
    board = board_of(sketch, settings)
    model, need = via_model(board, settings), need_on(board)
    move = None if best_spot(board, model, need) else no_room(board, model, need).move
    return None if move is None else (move.what, move.spot)


@pytest.mark.parametrize("seed", SEEDS)
def test_without_the_trace_that_is_to_move_the_place_is_legal(seed: int) -> None:
    sketch = pocket(seed)
    found = moved(sketch)
    if found is not None:
        what, spot = found
        gone = [one for one in sketch.find(Trace) if what.words == f"the trace of {one.net} on L{one.layer}"]
        assert len(gone) == 1, what
        sketch.remove(gone[0])
        assert legal(sketch, SIZES, np.array([spot]), -SLACK_MM)[0], (what, spot)


def test_the_pockets_are_such_that_moves_are_tried() -> None:
    assert sum(moved(pocket(seed)) is not None for seed in SEEDS) >= len(SEEDS) // 3
