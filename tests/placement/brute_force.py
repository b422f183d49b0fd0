"""What is tried on each random board: shared by the tests and the benchmark."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boards import board_of, settings_of
from fencepost.board.model import Board
from fencepost.placement.need import Need
from fencepost.placement.spots import best_spot
from fencepost.placement.via import via_model
from placement.random_boards import CENTRE, LIMIT, Sizes, around, legal, random_board

STEP_MM = 0.01
SLACK_MM = 0.002
"""Round shapes are chords in the sketch and in the engine, and files round places."""

SIZES = Sizes()


@dataclass(frozen=True)
class Trial:
    """`spot` is what was suggested, None for no room; `nearer` are legal samples that are nearer to the centre."""

    spot: tuple[float, float] | None
    is_legal: bool
    nearer: np.ndarray


def need_on(board: Board) -> Need:
    """A tie of any ground on L2 to any on L3, as near as can be to the centre."""
    gnd = board.net_index["GND"]
    ground = [
        tuple(np.flatnonzero((board.pieces.layer == layer) & (board.pieces.net == gnd)).tolist()) for layer in (2, 3)
    ]
    return Need(CENTRE, tuple(ground), ((*CENTRE, LIMIT),))


def trial(seed: int) -> Trial:
    """Place one via on a random board, and look for a better place at every 10 µm."""
    sketch = random_board(seed)
    settings = settings_of(SIZES.settings)
    board = board_of(sketch, settings)
    found = best_spot(board, via_model(board, settings), need_on(board))
    spot = None if found is None else (found.x, found.y)
    good = spot is None or bool(legal(sketch, SIZES, np.array([spot]), -SLACK_MM)[0])
    radius = LIMIT if spot is None else float(np.hypot(spot[0] - CENTRE[0], spot[1] - CENTRE[1])) - STEP_MM
    samples = around(radius, STEP_MM) if radius > 0 else np.empty((0, 2))
    return Trial(spot, good, samples[legal(sketch, SIZES, samples, SLACK_MM)])
