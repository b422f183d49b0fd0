"""Where traces lose the copper that their return current runs on.

A trace's references are followed along it. Where none of those before goes on, the return current has to leave the
trace. It need not where the copper goes on beside the gap, no farther from the edge of the trace than the trace is high
above it: the current is spread about as far as that anyway.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import TOUCH_MM, Board
from fencepost.board.shared import shared
from fencepost.signals.paths import Along, along, near_own_land, references_at
from fencepost.signals.runs import Paths, Run, paths_of
from fencepost.signals.strips import copper_within, part_at, strip_about
from fencepost.signals.transitions import RIM_MM, Reference

AWAY_MM = 3.0
"""Copper that comes back no farther on than this has a gap; where it stays away longer the reference has changed."""

LASTS_MM = 1.0
"""Copper that a trace runs over for less than this is passed on the way, and is no new reference."""

EXACT_MM = 0.001
"""How exactly the ends of a gap are found."""


@dataclass(frozen=True)
class Gap:
    """A stretch of a run, from one station to another, that none of its references before or behind covers.

    before   what the return current runs on up to there, sorted by share; empty where the run begins without
    after    the same behind it; empty where the run ends without
    between  pieces that the trace runs over all along the gap
    width    the shortest way across, from copper to copper; None where they lie on different layers or one is none
    height   of the trace above its copper, 0 where there is none
    Lengths in mm. Where only the layer of the copper changes the gap has no length.
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
        """Whether copper of before comes back behind it."""
        return bool(pieces_of(self.before) & pieces_of(self.after))


def pieces_of(references: Iterable[Reference]) -> set[int]:
    """The pieces of some references."""
    return {reference.piece for reference in references}


@shared
def gaps_of(board: Board) -> tuple[Gap, ...]:
    """All gaps under all traces of signals, run by run, in the order of their stations."""
    paths = paths_of(board)
    if not len(paths):
        return ()
    samples = along(board)
    losses = [loss for loss in _beyond_lands(board, paths, samples) if not _goes_on(board, paths, samples, loss)]
    return tuple(gap for gap in _measured(board, paths, samples, losses) if gap.begin <= gap.end)


@dataclass(frozen=True)
class _Loss:
    """Samples `lo` to `hi` - 1 of a run: none has a reference of the sample before them, nor of the one behind them.

    `before` and `after` are the pieces that these two have, empty where the run begins or ends with the loss. `kept`
    are the pieces that the return current ran on before and runs on behind, each with its last sample before and its
    first one behind; where the run begins or ends, all those of the other side, and that sample is the farthest.
    """

    run: int
    lo: int
    hi: int
    before: frozenset[int]
    after: frozenset[int]
    kept: tuple[tuple[int, int, int], ...]


def _losses(samples: Along, runs: int) -> Iterator[_Loss]:
    """All losses, from what is under the samples alone."""
    changes = (np.diff(samples.run) != 0) | (np.diff(samples.reference, axis=0) != 0).any(axis=1)
    first = np.flatnonzero(np.concatenate([[True], changes]))
    last = np.append(first[1:], len(samples.run))
    length = np.add.reduceat(samples.part, first)
    pieces = [samples.pieces(i) for i in first.tolist()]
    bounds = np.searchsorted(samples.run[first], np.arange(runs + 1))
    for run, (begin, end) in enumerate(pairwise(bounds.tolist())):
        known = [i for i in range(begin, end) if pieces[i]]
        if not known:
            yield _Loss(run, int(first[begin]), int(last[end - 1]), frozenset(), frozenset(), ())
            continue
        start = next((i for i in known if length[i] >= LASTS_MM), max(known, key=lambda i: float(length[i])))
        for here, back, seen in _breaks(pieces, length, range(start, begin - 1, -1)):
            lo = int(first[begin] if back is None else last[back])
            kept = tuple((piece, lo - (back is not None), int(first[i])) for piece, i in seen.items())
            yield _Loss(run, lo, int(first[here]), frozenset() if back is None else pieces[back], pieces[here], kept)
        for here, on, seen in _breaks(pieces, length, range(start, end)):
            hi = int(last[end - 1] if on is None else first[on])
            kept = tuple((piece, int(last[i]) - 1, hi - (on is None)) for piece, i in seen.items())
            yield _Loss(run, int(last[here]), hi, pieces[here], frozenset() if on is None else pieces[on], kept)


def _breaks(
    pieces: Sequence[frozenset[int]], length: NDArray[np.float64], order: Sequence[int]
) -> Iterator[tuple[int, int | None, dict[int, int]]]:
    """Between which stretches the return current is lost, going over some of them in an order.

    Over a stretch its references stay the same: `pieces`, over `length` mm. Yields the last stretch before, the first
    one behind or None, and pieces that are there before and behind, or before only, with the last stretch before.
    """
    if len(order) == 1:
        return
    own = [pieces[i] for i in order]
    end = np.cumsum(length[list(order)])
    begin = end - length[list(order)]
    lasting = [n for n in range(len(own)) if own[n] and length[order[n]] >= LASTS_MM]
    here, seen = 0, dict.fromkeys(own[0], 0)
    while here + 1 < len(own):
        held = {piece: n for piece, n in seen.items() if end[here] - end[n] <= AWAY_MM}
        near = range(here + 1, int(np.searchsorted(begin, end[here] + AWAY_MM, side="right")))
        on = next((n for n in near if not own[n].isdisjoint(held)), None)
        on = next((n for n in lasting if n > here), None) if on is None else on
        kept = {piece: order[n] for piece, n in held.items() if on is None or piece in own[on]}
        if on is None:
            yield order[here], None, kept
            return
        if on > here + 1 or own[on].isdisjoint(own[here]):
            yield order[here], order[on], kept
        seen = {**(seen if kept else {}), **dict.fromkeys(own[on], on)}
        here = on


def _beyond_lands(board: Board, paths: Paths, samples: Along) -> Iterator[_Loss]:
    """Losses, cut off at a run's end to what lies beyond the clearance of the net's own pads and holes.

    Those that lie within it are none, unless the copper behind is other copper than before.
    """
    losses = list(_losses(samples, len(paths)))
    index = np.concatenate([np.empty(0, dtype=np.int64), *(np.arange(loss.lo, loss.hi) for loss in losses)])
    run = samples.run[index]
    beyond = np.zeros(len(samples.run), dtype=bool)
    beyond[index] = ~near_own_land(board, paths.layer[run], paths.net[run], samples.xy[index])
    for loss in losses:
        spots = loss.lo + np.flatnonzero(beyond[loss.lo : loss.hi])
        if not len(spots):
            if loss.before and loss.after and not loss.kept:
                yield loss
        elif loss.before and loss.after:
            yield loss
        else:
            lo, hi = (loss.lo, int(spots[-1]) + 1) if loss.before else (int(spots[0]), loss.hi)
            kept = ((piece, *((i, hi - 1) if loss.before else (lo, j))) for piece, i, j in loss.kept)
            yield replace(loss, lo=lo, hi=hi, kept=tuple(kept))


def _goes_on(board: Board, paths: Paths, samples: Along, loss: _Loss) -> bool:
    """Whether a piece of copper from before goes on beside a loss; where there is none, whether any is near it."""
    run = paths.run(loss.run)
    if not loss.before and not loss.after:
        inside = slice(loss.lo, loss.hi)
        pieces, _ = references_at(board, paths.layer[samples.run[inside]], samples.xy[inside], RIM_MM)
        return bool((pieces >= 0).any()) or samples.part[inside].sum() <= RIM_MM
    for piece, first, last in loss.kept:
        begin, end = float(samples.station[first]), float(samples.station[last])
        half = _half(board, run, begin, end, piece)
        parts = copper_within(board, piece, strip_about(run, begin, end, half))
        known, other = (first, last) if loss.before else (last, first)
        part = part_at(parts, samples.xy[known])
        reached = TOUCH_MM if loss.before and loss.after else half
        if part is not None and shapely.distance(parts[part], shapely.Point(samples.xy[other])) <= reached:
            return True
    return False


def _half(board: Board, run: Run, begin: float, end: float, piece: int) -> float:
    """Half the width (mm) of the strip that the return current takes: half the trace's and its height over a piece."""
    legs = run.leg(np.array([begin, end]))
    widest = float(run.width[legs[0] : legs[1] + 1].max())
    return widest / 2 + board.stackup.height(run.layer, int(board.pieces.layer[piece]))


def _measured(board: Board, paths: Paths, samples: Along, losses: list[_Loss]) -> Iterator[Gap]:
    """The gaps of losses, their ends found to EXACT_MM. Where several pieces come back it is the shortest of theirs."""
    edges = []
    for loss in losses:
        first, last, back = _ends(loss)
        edges += [(first, first + 1, back or loss.before)] if loss.before else []
        edges += [(last, last - 1, back or loss.after)] if loss.after else []
    found = iter(_edges(board, paths, samples, edges))
    runs = {i: paths.run(i) for i in {loss.run for loss in losses}}
    for loss in losses:
        run = runs[loss.run]
        first, last, _ = _ends(loss)
        begin = next(found) if loss.before else 0.0
        end = next(found) if loss.after else run.length
        before = _references(board, samples, first) if loss.before else ()
        after = _references(board, samples, last) if loss.after else ()
        inside = [samples.pieces(i) for i in range(loss.lo, loss.hi)]
        between = frozenset.intersection(*inside) if inside else frozenset()
        yield _sized(board, samples, (first, last), Gap(run, begin, end, before, after, between, None, 0.0))


def _ends(loss: _Loss) -> tuple[int, int, frozenset[int]]:
    """The last sample before a gap and the first one behind it, and the piece that it is in if one comes back."""
    if not loss.before or not loss.after or not loss.kept:
        return loss.lo - 1, loss.hi, frozenset()
    piece, first, last = min(loss.kept, key=lambda kept: kept[2] - kept[1])
    return first, last, frozenset({piece})


def _references(board: Board, samples: Along, i: int) -> tuple[Reference, ...]:
    found = [
        Reference(int(piece), int(board.pieces.layer[piece]), float(share))
        for piece, share in zip(samples.reference[i], samples.share[i], strict=True)
        if piece >= 0
    ]
    return tuple(sorted(found, key=lambda reference: (-reference.share, reference.layer, reference.piece)))


def _edges(board: Board, paths: Paths, samples: Along, edges: list[tuple[int, int, frozenset[int]]]) -> list[float]:
    """At which stations, by bisection, these pieces end: (a sample with one of them, the next one without, pieces)."""
    inside, outside = (np.array([edge[i] for edge in edges], dtype=np.int64) for i in (0, 1))
    run = samples.run[inside]
    with_, without = samples.station[inside], samples.station[outside]
    while np.abs(with_ - without).max(initial=0.0) > EXACT_MM:
        middle = (with_ + without) / 2
        reference, _ = references_at(board, paths.layer[run], paths.at(run, middle))
        there = np.array([not edge[2].isdisjoint(pair) for edge, pair in zip(edges, reference.tolist(), strict=True)])
        with_, without = np.where(there, middle, with_), np.where(there, without, middle)
    stations: list[float] = with_.tolist()
    return stations


def _sized(board: Board, samples: Along, ends: tuple[int, int], gap: Gap) -> Gap:
    """A gap with its height and width; `ends` are the last sample before it and the first one behind."""
    if not gap.before and not gap.after:
        return gap
    pairs = [(one, other) for one in gap.before for other in gap.after if one.layer == other.layer]
    pairs.sort(key=lambda pair: pair[0].piece != pair[1].piece)
    main = pairs[0] if pairs else (gap.before or gap.after)[:1]
    gap = replace(gap, height=board.stackup.height(gap.run.layer, main[0].layer))
    if not pairs:
        return gap
    half = _half(board, gap.run, gap.begin, gap.end, main[0].piece)
    strip = strip_about(gap.run, gap.begin, gap.end, half)
    parts = {one.piece: copper_within(board, one.piece, strip) for one in main}
    found = [(parts[one.piece], part_at(parts[one.piece], samples.xy[i])) for one, i in zip(main, ends, strict=True)]
    sides = [shapes[part] for shapes, part in found if part is not None]
    return replace(gap, width=float(shapely.distance(*sides)) + TOUCH_MM) if len(sides) == 2 else gap
