"""The net that is meant for each part of copper: what its file says, else what the netlist says of its island."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.board.shared import shared


@shared
def meant(board: Board) -> tuple[NDArray[np.int32], ...]:
    """Layer by layer the net meant for every part, int32 (n); -1 for copper without a label on labelled islands."""
    labelled = np.zeros(int(board.pieces.island.max(initial=-1)) + 1, dtype=bool)
    for copper in board.copper:
        labelled[board.pieces.island[copper.piece[copper.label >= 0]]] = True
    by_island = np.where(labelled[board.pieces.island], -1, board.pieces.net)
    return tuple(
        np.where(copper.label >= 0, copper.label, by_island[copper.piece]).astype(np.int32) for copper in board.copper
    )
