"""All runs of a board at once: points along them, and what they run over there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.readers.artwork import Kind
from fencepost.signals.cover import cover, weights
from fencepost.signals.leavings import SKIP_MM, STEP_MM
from fencepost.signals.runs import paths_of
from fencepost.signals.transitions import SMALLEST_SHARE

TOGETHER = 8
"""Points along a run that are looked at as one line first."""


@dataclass(frozen=True, eq=False)
class Along:
    """n points along the runs, in order, each the middle of a part of its run no longer than STEP_MM. Lengths in mm.

    run        int64 (n)
    station    float64 (n)
    part       float64 (n)     how much of the run the point stands for
    xy         float64 (n, 2)
    reference  int32 (n, 2)    the pieces above and below that carry the return current, -1 for none
    share      float64 (n, 2)  how much of it
    """

    run: NDArray[np.int64]
    station: NDArray[np.float64]
    part: NDArray[np.float64]
    xy: NDArray[np.float64]
    reference: NDArray[np.int32]
    share: NDArray[np.float64]

    def pieces(self, i: int) -> frozenset[int]:
        """The references of one point."""
        return frozenset(piece for piece in self.reference[i].tolist() if piece >= 0)


@shared
def along(board: Board) -> Along:
    """Points over the whole length of all runs."""
    paths = paths_of(board)
    count = np.maximum(1, np.ceil(paths.length / STEP_MM - 1e-6)).astype(np.int64)
    run = np.repeat(np.arange(len(count)), count)
    index = np.arange(len(run)) - np.repeat(np.cumsum(count) - count, count)
    part = (paths.length / count)[run]
    station = (index + 0.5) * part
    xy = paths.at(run, station)
    stretches = np.ceil(count / TOGETHER).astype(np.int64)
    stretch = (np.cumsum(stretches) - stretches)[run] + index * stretches[run] // count[run]
    reference, share = references_at(board, paths.layer[run], xy, stretch=stretch)
    return Along(run, station, part, xy, reference, share)


def references_at(
    board: Board,
    layer: NDArray[np.int32],
    xy: NDArray[np.float64],
    margin: float = 0.0,
    stretch: NDArray[np.int64] | None = None,
) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    """The pieces above and below points (n, 2) of traces that carry SMALLEST_SHARE of the return or more, else -1.

    And their shares; both (n, 2). `margin` and `stretch` are those of `cover`.
    """
    pieces = cover(board, layer, xy, margin, stretch)
    share = weights(board, layer, pieces)
    return np.where(share >= SMALLEST_SHARE, pieces, -1).astype(np.int32), share


def near_own_land(
    board: Board, layer: NDArray[np.int32], net: NDArray[np.int32], xy: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Whether points (n, 2) of traces lie within SKIP_MM of a pad or a hole of their own net, where planes keep off."""
    points: NDArray[np.object_] = shapely.points(xy)
    near = np.zeros(len(points), dtype=bool)
    for one in np.unique(layer):
        chosen = np.flatnonzero(layer == one)
        lands = _lands_on(board, int(one))
        point, land = lands.tree.query(points[chosen])
        point, land = (pairs[net[chosen[point]] == lands.net[land]] for pairs in (point, land))
        touched = shapely.dwithin(lands.geometry[land], points[chosen[point]], lands.reach[land] + SKIP_MM)
        near[chosen[point[touched]]] = True
    return near


@dataclass(frozen=True, eq=False)
class _Lands:
    """Pads and plated holes on one layer, and a tree over their boxes, grown by SKIP_MM."""

    geometry: NDArray[np.object_]
    reach: NDArray[np.float64]
    net: NDArray[np.int32]
    tree: shapely.STRtree


@shared
def _lands_on(board: Board, layer: int) -> _Lands:
    copper, holes = board.copper[layer - 1], board.holes
    artwork = copper.artwork
    pads = np.flatnonzero((artwork.kind[copper.feature] == Kind.FLASH) | (artwork.pin[copper.feature] >= 0))
    here = np.flatnonzero(holes.plated & (holes.first <= layer) & (holes.last >= layer) & (holes.net >= 0))
    geometry = np.concatenate([copper.geometry[pads], holes.geometry[here]])
    reach = np.concatenate([copper.reach[pads], holes.diameter[here] / 2])
    net = np.concatenate([board.pieces.net[copper.piece[pads]], holes.net[here]])
    grow = (reach + SKIP_MM)[:, None] * np.array([-1.0, -1.0, 1.0, 1.0])
    return _Lands(geometry, reach, net, shapely.STRtree(shapely.box(*(shapely.bounds(geometry) + grow).T)))
