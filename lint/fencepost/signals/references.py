"""Over which ground and power copper the traces of each layer run, and how much of them."""

from __future__ import annotations

import numpy as np

from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.ranges import from_zero
from fencepost.signals.cover import cover, weights
from fencepost.signals.traces import traces_of
from fencepost.signals.transitions import SMALLEST_SHARE

STEP_MM = 0.5
"""Longest stretch of trace that one sample stands for."""


@dataclass(frozen=True)
class Over:
    """Copper that traces run over or under: net, layer (1-based), and over how much of their length, from 0 to 1."""

    net: int
    layer: int
    share: float


@dataclass(frozen=True)
class LayerReferences:
    """The signal traces of one layer: their length in mm, their references by share, and the share without any.

    A stripline has references on both sides, so that the shares may add up to more than 1.
    """

    layer: int
    length: float
    over: tuple[Over, ...]
    none: float


@shared
def references_of(board: Board) -> tuple[LayerReferences, ...]:
    """The references of each layer that has signal traces, from the top.

    At every sample the nearest copper above and below counts where it carries at least SMALLEST_SHARE of the return.
    """
    traces = traces_of(board)
    drawn = np.flatnonzero(traces.feature >= 0)
    if not len(drawn):
        return ()
    count = np.maximum(1, np.ceil(traces.length[drawn] / STEP_MM)).astype(np.int64)
    segment = np.repeat(drawn, count)
    number = from_zero(count)
    part = (number + 0.5) / np.repeat(count, count)
    start, end = (traces.xy[traces.ends[segment, i]] for i in (0, 1))
    layer, length = traces.layer[segment], traces.length[segment] / np.repeat(count, count)

    pieces = cover(board, layer, start + (end - start) * part[:, None])
    counts = weights(board, layer, pieces) >= SMALLEST_SHARE
    sample, side = np.nonzero(counts)
    found = pieces[sample, side]
    keys = np.column_stack([layer[sample], board.pieces.net[found], board.pieces.layer[found]])
    kinds, which = np.unique(keys, axis=0, return_inverse=True)
    covered = np.bincount(which.ravel(), length[sample], minlength=len(kinds))
    total = np.bincount(layer, length, minlength=board.layers + 1)
    bare = np.bincount(layer, np.where(counts.any(axis=1), 0.0, length), minlength=board.layers + 1)
    over: dict[int, list[Over]] = {int(own): [] for own in np.flatnonzero(total)}
    for (own, net, other), mm in zip(kinds.tolist(), covered.tolist(), strict=True):
        over[own].append(Over(net, other, mm / float(total[own])))
    return tuple(
        LayerReferences(
            own, float(total[own]), tuple(sorted(by, key=lambda one: -one.share)), float(bare[own] / total[own])
        )
        for own, by in over.items()
    )
