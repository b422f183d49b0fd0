"""Points along a path, and the ground that the trace runs over there."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fencepost.board.model import Board, NetKind
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.signals.cover import SIDES, Lines, planes_of, weights
from fencepost.signals.runs import Run
from fencepost.signals.transitions import SMALLEST_SHARE

STEP_MM = 0.1

TOGETHER = 12
"""Points that are looked at as one line first."""


@dataclass(frozen=True, eq=False)
class Samples:
    """n points at equal distances along a path, each standing for STEP_MM of it or a little less. Lengths in mm.

    station    float64 (n)
    xy         float64 (n, 2)
    left       float64 (n, 2)  the unit vector to the left
    width      float64 (n)     of the trace
    reference  int32 (n, 2)    the ground pieces above and below that the trace runs over, -1 for none
    """

    station: NDArray[np.float64]
    xy: NDArray[np.float64]
    left: NDArray[np.float64]
    width: NDArray[np.float64]
    reference: NDArray[np.int32]


def samples_along(board: Board, path: Run) -> Samples:
    """Samples over the whole length of a path."""
    station = _stations(path)
    xy, leg = path.at(station), path.leg(station)
    step = np.diff(path.xy, axis=0)[leg]
    left = np.column_stack([-step[:, 1], step[:, 0]]) / np.hypot(*step.T)[:, None]
    return Samples(station, xy, left, path.width[leg], _references(board, path.layer, xy))


def permittivity_along(board: Board, layer: int, runs: tuple[Run, ...]) -> float:
    """The highest relative permittivity between traces of a layer and their references: that of the shortest wave.

    The highest on the board where there are none.
    """
    xy = np.concatenate([np.empty((0, 2)), *(run.at(_stations(run)) for run in runs)])
    pieces = _references(board, layer, xy)
    others = np.unique(board.pieces.layer[pieces[pieces >= 0]])
    found = [board.stackup.permittivity(layer, int(other)) for other in others]
    return max(found, default=board.stackup.highest_permittivity)


def is_ground(board: Board, piece: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Whether each of these pieces is ground; -1, no piece, is not."""
    chosen: NDArray[np.bool_] = (piece >= 0) & _ground_pieces(board)[piece]
    return chosen


@shared
def _ground_pieces(board: Board) -> NDArray[np.bool_]:
    """For each piece whether it is ground, and False for no piece at the end."""
    ground = np.array([*(net.kind is NetKind.GROUND for net in board.nets), False])
    return np.append(ground[board.pieces.net], False)


def _stations(path: Run) -> NDArray[np.float64]:
    """The middles of equal parts of a path."""
    count = max(1, int(np.ceil(path.length / STEP_MM - 1e-6)))
    return (np.arange(count) + 0.5) * path.length / count


def _references(board: Board, layer: int, xy: NDArray[np.float64]) -> NDArray[np.int32]:
    """The nearest ground above and below each point, int32 (n, 2); -1 where it would carry too little of the return."""
    found = np.full((len(xy), 2), -1, dtype=np.int32)
    for side, others in zip(SIDES, (range(layer - 1, 0, -1), range(layer + 1, board.layers + 1)), strict=True):
        for other in others:
            open_ = np.flatnonzero(found[:, side] < 0)
            lines = Lines.through(xy[open_], np.arange(len(open_)) // TOGETHER)
            piece = planes_of(board, other).pieces_along(xy[open_], lines.shape, lines.of)
            found[open_, side] = np.where(is_ground(board, piece), piece, -1)
    share = weights(board, np.full(len(xy), layer, dtype=np.int32), found)
    return np.where(share >= SMALLEST_SHARE, found, -1).astype(np.int32)
