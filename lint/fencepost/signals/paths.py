"""The runs of a board at once: points along them, and what they run over there."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import spans
from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.ranges import from_zero
from fencepost.readers.artwork import Kind
from fencepost.signals.cover import ABOVE, BELOW, OTHER, Lines, cover, cover_towards, planes_of, smallest_share, weights
from fencepost.signals.leavings import SKIP_MM, STEP_MM
from fencepost.signals.runs import Paths, paths_of
from fencepost.signals.transitions import SMALLEST_SHARE

TOGETHER = 12
"""Points along a run that are looked at as one line first."""

LASTS_MM = 1.0
"""Copper that a trace runs over for less than this is passed on the way, and is no new reference."""


@dataclass(frozen=True, eq=False)
class Along:
    """n points along some runs, in order, each the middle of a part of its run no longer than STEP_MM. Lengths in mm.

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
    """Points over the whole length of the runs that may lose their reference copper.

    The copper on one side of a run is looked up first. Where that is enough, the run is left out.
    """
    paths = paths_of(board)
    count = np.maximum(1, np.ceil(paths.length / STEP_MM - 1e-6)).astype(np.int64)
    run = np.repeat(np.arange(len(count)), count)
    index = from_zero(count)
    part = (paths.length / count)[run]
    station = (index + 0.5) * part
    xy = paths.at(run, station)
    stretches = np.ceil(count / TOGETHER).astype(np.int64)
    stretch = (np.cumsum(stretches) - stretches)[run] + index * stretches[run] // count[run]

    kept = np.zeros(len(count), dtype=bool)
    pieces = np.full((len(run), 2), -1, dtype=np.int32)
    for layer in np.unique(paths.layer).tolist():
        rows = np.flatnonzero((paths.layer == layer)[run])
        side, beside = _fuller_side(board, layer)
        if beside is not None:
            lines = Lines.through(xy[rows], stretch[rows])
            pieces[rows, side] = planes_of(board, beside).pieces_along(xy[rows], lines.shape, lines.of)
            kept[run[rows]] = _keeps(board, paths, run[rows], part[rows], xy[rows], pieces[rows, side])
            rows = rows[~kept[run[rows]]]
        for one, beyond in ((side, beside), (OTHER[side], layer)):
            open_ = rows[pieces[rows, one] < 0]
            if beyond is not None:
                lines = Lines.through(xy[open_], stretch[open_])
                pieces[open_, one] = cover_towards(board, beyond, one, xy[open_], lines)
    left = np.flatnonzero(~kept[run])
    reference, share = _carrying(board, paths.layer[run[left]], pieces[left])
    return Along(run[left], station[left], part[left], xy[left], reference, share)


def _fuller_side(board: Board, layer: int) -> tuple[int, int | None]:
    """The side of a layer (1-based) on which the next one has more ground and power copper, and that layer."""
    beside = {ABOVE: layer - 1, BELOW: layer + 1}
    areas = {
        side: float(shapely.area(planes_of(board, other).areas.geometry).sum())
        for side, other in beside.items()
        if 1 <= other <= board.layers
    }
    side = max(areas, key=lambda one: areas[one], default=ABOVE)
    return side, beside[side] if areas else None


def _keeps(
    board: Board,
    paths: Paths,
    run: NDArray[np.int64],
    part: NDArray[np.float64],
    xy: NDArray[np.float64],
    piece: NDArray[np.int32],
) -> NDArray[np.bool_]:
    """Whether the run of each point keeps one reference; `piece` (n) is what covers all points of runs on one side.

    It is the piece at the middle of the run, where it carries enough whatever is on the other side. It may be missing
    over less than LASTS_MM in all, near the net's own pads and holes.
    """
    begins = np.diff(run, prepend=-1) != 0
    first, of = np.flatnonzero(begins), np.cumsum(begins) - 1
    main = piece[first + np.diff(first, append=len(run)) // 2]
    off = np.flatnonzero(piece != main[of])
    missing = np.bincount(of[off], part[off], minlength=len(first))
    kept = (main >= 0) & (missing < LASTS_MM)
    kept[kept] = smallest_share(board, paths.layer[run[first[kept]]], main[kept]) >= SMALLEST_SHARE
    off = off[kept[of[off]]]
    near = near_own_land(board, paths.layer[run[off]], paths.net[run[off]], xy[off])
    kept[of[off[~near]]] = False
    of_each: NDArray[np.bool_] = kept[of]
    return of_each


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
    return _carrying(board, layer, cover(board, layer, xy, margin, stretch))


def _carrying(
    board: Board, layer: NDArray[np.int32], pieces: NDArray[np.int32]
) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    """Of pieces above and below points (n, 2) those that carry enough, and the shares of all."""
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
    boxes = spans(shapely.bounds(geometry), reach + SKIP_MM)
    return _Lands(geometry, reach, net, shapely.STRtree(boxes))
