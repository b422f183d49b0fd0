"""Where traces lose the copper that their return current runs on.

A trace's references are followed along it. Where none of those before goes on, the return current has to leave the
trace. It need not where the copper goes on beside the gap, no farther from the edge of the trace than the trace is high
above it: the current is spread about as far as that anyway.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import TOUCH_MM, Board
from fencepost.board.shared import shared
from fencepost.signals.paths import Along, Paths, along, near_own_land, paths_of, references_at
from fencepost.signals.runs import Run
from fencepost.signals.strips import copper_within, part_at, strip_about
from fencepost.signals.transitions import RIM_MM, STEP_MM, Reference

LASTS_MM = 3.0
"""Copper that a trace runs over for less than this is passed on the way, and is no new reference."""

EXACT_MM = 0.001
"""How exactly the ends of a gap are found."""

FIELD_MM = 2.0
"""Gaps of one trace in one piece of copper that follow one another closer than this are one field."""


@dataclass(frozen=True)
class Gap:
    """A stretch of a run, from one station to another, that none of its references before or after covers.

    before   what the return current runs on up to there, sorted by share; empty where the run begins without
    after    the same behind it; empty where the run ends without
    between  pieces that the trace runs over all along the gap
    width    the shortest way across, from copper to copper; None where they lie on different layers or one is none
    height   of the trace above its copper
    Lengths in mm. Where the copper only changes, as from one layer to the next, the gap has no length.
    """

    run: Run
    begin: float
    end: float
    before: tuple[Reference, ...]
    after: tuple[Reference, ...]
    between: frozenset[int]
    width: float | None
    height: float

    @property
    def length(self) -> float:
        return self.end - self.begin

    @property
    def returns(self) -> bool:
        """Whether the copper before it comes back behind it."""
        return bool(pieces_of(self.before) & pieces_of(self.after))


def pieces_of(references: Iterable[Reference]) -> set[int]:
    """The pieces of some references."""
    return {reference.piece for reference in references}


@dataclass(frozen=True)
class _Loss:
    """Samples lo to hi - 1 of a run, none of which has a reference of the sample before, nor of the one behind.

    `before` and `after` tell whether there are such samples in the run.
    """

    run: int
    lo: int
    hi: int
    before: bool
    after: bool


@shared
def gaps_of(board: Board) -> tuple[Gap, ...]:
    """All gaps under all traces of signals, run by run, in the order of their stations."""
    paths, samples = paths_of(board), along(board)
    if not paths.runs:
        return ()
    losses = _beyond_lands(board, paths, samples, list(_losses(samples, len(paths.runs))))
    losses = [loss for loss in losses if not _goes_on(board, paths, samples, loss)]
    return tuple(gap for gap in _measured(board, paths, samples, losses) if gap.begin <= gap.end)


def _losses(samples: Along, runs: int) -> Iterator[_Loss]:
    """All losses, from what is under the samples alone."""
    changes = (np.diff(samples.run) != 0) | (np.diff(samples.reference, axis=0) != 0).any(axis=1)
    first = np.flatnonzero(np.concatenate([[True], changes]))
    last = np.append(first[1:], len(samples.run))
    length = np.add.reduceat(samples.part, first)
    pieces = [frozenset(piece for piece in pair if piece >= 0) for pair in samples.reference[first].tolist()]
    bounds = np.searchsorted(samples.run[first], np.arange(runs + 1))
    for run in range(runs):
        begin, end = int(bounds[run]), int(bounds[run + 1])
        for before, after in _breaks(pieces[begin:end], length[begin:end]):
            lo = first[begin] if before is None else last[begin + before]
            hi = last[end - 1] if after is None else first[begin + after]
            yield _Loss(run, int(lo), int(hi), before is not None, after is not None)


def _breaks(
    pieces: Sequence[frozenset[int]], length: NDArray[np.float64]
) -> list[tuple[int | None, int | None]]:
    """Between which stretches of a run the return current is lost: the last one before and the first one behind.

    The run is given as stretches with the same pieces of copper for references, and their lengths in mm.
    """
    known = [i for i, own in enumerate(pieces) if own]
    if not known:
        return [(None, None)]
    start = next((i for i in known if length[i] >= LASTS_MM), max(known, key=lambda i: float(length[i])))
    behind = [(after, before) for before, after in _ahead(pieces, length, range(start, -1, -1))]
    return [*reversed(behind), *_ahead(pieces, length, range(start, len(pieces)))]


def _ahead(
    pieces: Sequence[frozenset[int]], length: NDArray[np.float64], order: Sequence[int]
) -> list[tuple[int, int | None]]:
    """The breaks that one meets going over stretches in an order, from the first of them on."""
    found: list[tuple[int, int | None]] = []
    here, lost = order[0], False
    for i in order[1:]:
        back = bool(pieces[i] & pieces[here])
        if back or (pieces[i] and length[i] >= LASTS_MM):
            if lost or not back:
                found.append((here, i))
            here, lost = i, False
        else:
            lost = True
    return [*found, (here, None)] if lost else found


def _beyond_lands(board: Board, paths: Paths, samples: Along, losses: list[_Loss]) -> list[_Loss]:
    """Losses that reach beyond the clearance of the net's own pads and holes; `far` becomes the last sample that does.

    What changes for good counts wherever it lies.
    """
    index = np.concatenate([np.empty(0, dtype=np.int64), *(np.arange(loss.lo, loss.hi) for loss in losses)])
    run = samples.run[index]
    net = np.array([paths.runs[i].net for i in run], dtype=np.int32)
    beyond = ~near_own_land(board, paths.layer[run], net, samples.xy[index])
    kept = []
    for loss, own in zip(losses, np.split(beyond, np.cumsum([loss.hi - loss.lo for loss in losses])[:-1]), strict=True):
        far = loss.lo + np.flatnonzero(own)
        if len(far):
            kept.append(replace(loss, far=int(far[-1] if loss.before else far[0])))
        elif loss.before and loss.after and not samples.common(loss):
            kept.append(loss)
    return kept


def _goes_on(board: Board, paths: Paths, samples: Along, loss: _Loss) -> bool:
    """Whether copper of before goes on beside a gap: where the run ends or begins in it, as far as `loss.far`."""
    run = paths.runs[loss.run]
    if not loss.before and not loss.after:
        xy = samples.xy[loss.lo : loss.hi]
        pieces, _ = references_at(board, np.full(len(xy), run.layer, dtype=np.int32), xy, RIM_MM)
        return bool((pieces >= 0).any())
    first, last = loss.lo - 1 if loss.before else loss.far, loss.hi if loss.after else loss.far
    for piece in _kept(samples, loss):
        half = _half(board, run, piece)
        strip = strip_about(run, samples.station[first], samples.station[last], half)
        parts = copper_within(board, piece, strip)
        ends = (part_at(parts, samples.xy[i]) for i in (first, last))
    return False
