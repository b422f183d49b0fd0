"""Where traces lose the copper that their return current runs on.

A trace's references are followed along it. Where none of those before goes on, the return current has to leave the
trace. It need not where the copper goes on beside the gap, no farther from the edge of the trace than the trace is high
above it: the current is spread about as far as that anyway.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import accumulate, pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import TOUCH_MM, Board
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.ranges import ranges
from fencepost.signals.paths import LASTS_MM, Along, along, near_own_land, references_at
from fencepost.signals.runs import Paths, Run, paths_of
from fencepost.signals.strips import Strips, copper_within
from fencepost.signals.transitions import RIM_MM, Reference

AWAY_MM = 3.0
"""Copper that comes back no farther on than this has a gap; where it stays away longer the reference has changed."""

EXACT_MM = 0.001
"""How exactly the ends of a gap are found."""

COARSE = 8
"""Chords of a quarter circle where it is only asked whether copper goes on: its edge is 0.5 % of the radius off."""

AT_ONCE = 4
"""Halvings between two looks at what is under the places that they may lead to."""


@dataclass(frozen=True)
class Gap:
    """A stretch of a run, from one station to another, that none of its references before or behind covers.

    before   what the return current runs on up to there, sorted by share; empty where the run begins without
    after    the same behind it; empty where the run ends without
    between  pieces that the trace runs over all along the gap
    width    the shortest way across, from copper to copper, where a piece comes back behind it; else None
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
    if not len(samples.run):
        return ()
    losses = list(_beyond_lands(board, paths, samples))
    goes_on = _goes_on(board, paths, samples, losses).tolist()
    lost = [loss for loss, on in zip(losses, goes_on, strict=True) if not on]
    return tuple(gap for gap in _measured(board, paths, samples, lost) if gap.begin <= gap.end)


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


def _losses(samples: Along) -> Iterator[_Loss]:
    """All losses, from what is under the samples alone."""
    changes = (np.diff(samples.run) != 0) | (np.diff(samples.reference, axis=0) != 0).any(axis=1)
    first = np.flatnonzero(np.concatenate([[True], changes]))
    last = np.append(first[1:], len(samples.run))
    length = np.add.reduceat(samples.part, first).tolist()
    pieces = [frozenset(pair) - {-1} for pair in samples.reference[first].tolist()]
    runs = samples.run[first].tolist()
    bounds = np.flatnonzero(np.diff(runs, prepend=-1, append=-1)).tolist()
    for begin, end in pairwise(bounds):
        run = runs[begin]
        known = [i for i in range(begin, end) if pieces[i]]
        if not known:
            yield _Loss(run, int(first[begin]), int(last[end - 1]), frozenset(), frozenset(), ())
            continue
        start = next((i for i in known if length[i] >= LASTS_MM), max(known, key=lambda i: length[i]))
        for here, back, seen in _breaks(pieces, length, range(start, begin - 1, -1)):
            lo = int(first[begin] if back is None else last[back])
            kept = tuple((piece, lo - (back is not None), int(first[i])) for piece, i in seen.items())
            yield _Loss(run, lo, int(first[here]), frozenset() if back is None else pieces[back], pieces[here], kept)
        for here, on, seen in _breaks(pieces, length, range(start, end)):
            hi = int(last[end - 1] if on is None else first[on])
            kept = tuple((piece, int(last[i]) - 1, hi - (on is None)) for piece, i in seen.items())
            yield _Loss(run, int(last[here]), hi, pieces[here], frozenset() if on is None else pieces[on], kept)


def _breaks(
    pieces: Sequence[frozenset[int]], length: Sequence[float], order: Sequence[int]
) -> Iterator[tuple[int, int | None, dict[int, int]]]:
    """Between which stretches the return current is lost, going over some of them in an order.

    Over a stretch its references stay the same: `pieces`, over `length` mm. Yields the last stretch before, the first
    one behind or None, and pieces that are there before and behind, or before only, with the last stretch before.
    """
    if len(order) == 1:
        return
    own = [pieces[i] for i in order]
    end = list(accumulate(length[i] for i in order))
    begin = [0.0, *end]
    here, seen = 0, dict.fromkeys(own[0], 0)
    while here + 1 < len(own):
        if not own[here].isdisjoint(own[here + 1]):
            here += 1
            seen |= dict.fromkeys(own[here], here)
            continue
        held = {piece: n for piece, n in seen.items() if end[here] - end[n] <= AWAY_MM}
        near = range(here + 1, bisect_right(begin, end[here] + AWAY_MM, hi=len(own)))
        on = next((n for n in near if not own[n].isdisjoint(held)), None)
        if on is None:
            on = next((n for n in range(here + 1, len(own)) if own[n] and length[order[n]] >= LASTS_MM), None)
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
    losses = list(_losses(samples))
    index, _ = _inside(losses)
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


def _inside(losses: Sequence[_Loss]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The samples in losses, and in which of them each one is."""
    lo, hi = (np.array([getattr(loss, end) for loss in losses], dtype=np.int64) for end in ("lo", "hi"))
    which = np.repeat(np.arange(len(losses)), hi - lo)
    return ranges(lo, hi - lo), which


def _goes_on(board: Board, paths: Paths, samples: Along, losses: Sequence[_Loss]) -> NDArray[np.bool_]:
    """Whether a piece of copper from before goes on beside each loss; where there is none, whether any is near it."""
    going = np.zeros(len(losses), dtype=bool)
    bare = [i for i, loss in enumerate(losses) if not loss.before and not loss.after]
    index, which = _inside([losses[i] for i in bare])
    pieces, _ = references_at(board, paths.layer[samples.run[index]], samples.xy[index], RIM_MM)
    near = np.bincount(which, (pieces >= 0).any(axis=1), minlength=len(bare)) > 0
    going[bare] = near | (np.bincount(which, samples.part[index], minlength=len(bare)) <= RIM_MM)

    rows = [
        (i, piece, first, last, *((first, last) if loss.before else (last, first)), bool(loss.before and loss.after))
        for i, loss in enumerate(losses)
        for piece, first, last in loss.kept
    ]
    if not rows:
        return going
    owner, piece, first, last, known, other, comes_back = np.array(rows, dtype=np.int64).T
    station = samples.station
    strips = Strips.about(board, paths, samples.run[first], station[first], station[last], piece)
    parts = copper_within(board, piece, strips.shape, COARSE).at(samples.xy[known])
    away = shapely.distance(parts, shapely.points(samples.xy[other]))
    going[owner[away <= np.where(comes_back, TOUCH_MM, strips.half)]] = True
    return going


def _measured(board: Board, paths: Paths, samples: Along, losses: Sequence[_Loss]) -> list[Gap]:
    """The gaps of losses, their ends found to EXACT_MM. Where several pieces come back it is the shortest of theirs."""
    edges, ends = [], [_ends(loss) for loss in losses]
    for loss, (first, last, back) in zip(losses, ends, strict=True):
        edges += [(first, first + 1, back or loss.before)] if loss.before else []
        edges += [(last, last - 1, back or loss.after)] if loss.after else []
    found = iter(_edges(board, paths, samples, edges))
    runs = {i: paths.run(i) for i in {loss.run for loss in losses}}
    gaps = []
    for loss, (first, last, _) in zip(losses, ends, strict=True):
        run = runs[loss.run]
        begin = next(found) if loss.before else 0.0
        end = next(found) if loss.after else run.length
        before = _references(board, samples, first) if loss.before else ()
        after = _references(board, samples, last) if loss.after else ()
        inside = [samples.pieces(i) for i in range(loss.lo, loss.hi)]
        between = frozenset.intersection(*inside) if inside else frozenset()
        gap = Gap(run, begin, end, before, after, between, None, 0.0)
        gaps.append(replace(gap, height=board.stackup.height(run.layer, _main(gap).layer)) if before or after else gap)
    returning = [i for i, gap in enumerate(gaps) if gap.returns and gap.begin <= gap.end]
    if returning:
        own = np.array([(losses[i].run, *ends[i][:2], _main(gaps[i]).piece) for i in returning], dtype=np.int64)
        span = np.array([(gaps[i].begin, gaps[i].end) for i in returning])
        for i, width in zip(returning, _widths(board, paths, samples, own, span).tolist(), strict=True):
            gaps[i] = replace(gaps[i], width=width if width >= 0 else None)
    return gaps


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


def _main(gap: Gap) -> Reference:
    """The reference that a gap is told of: one that comes back, else one on a layer that does, else the first."""
    back, layers = pieces_of(gap.after), {reference.layer for reference in gap.after}
    return min(gap.before or gap.after, key=lambda one: (one.piece not in back, one.layer not in layers))


def _edges(board: Board, paths: Paths, samples: Along, edges: list[tuple[int, int, frozenset[int]]]) -> list[float]:
    """At which stations, by bisection, these pieces end: (a sample with one of them, the next one without, pieces)."""
    inside, outside = (np.array([edge[i] for edge in edges], dtype=np.int64) for i in (0, 1))
    wanted = np.array([[*edge[2], *edge[2]][:2] for edge in edges], dtype=np.int64).reshape(-1, 1, 1, 2)
    with_, without = samples.station[inside], samples.station[outside]
    every, layer = np.arange(len(edges)), paths.layer[samples.run[inside]]
    while (farthest := np.abs(with_ - without).max(initial=0.0)) > EXACT_MM:
        # All places that some halvings may come to are looked up together.
        halvings = min(AT_ONCE, int(np.ceil(np.log2(farthest / EXACT_MM))))
        places = 2**halvings
        station = with_[:, None] + (without - with_)[:, None] * (np.arange(places + 1) / places)
        edge = np.repeat(every, places + 1)
        xy = paths.at(samples.run[inside[edge]], station.ravel())
        reference, _ = references_at(board, layer[edge], xy, stretch=edge)
        there = (reference.reshape(*station.shape, 2, 1) == wanted).any(axis=(2, 3))
        low, high = np.zeros(len(edges), dtype=np.int64), np.full(len(edges), places)
        for _ in range(halvings):
            middle = (low + high) // 2
            yes = there[every, middle]
            low, high = np.where(yes, middle, low), np.where(yes, high, middle)
        with_, without = station[every, low], station[every, high]
    stations: list[float] = with_.tolist()
    return stations


def _widths(
    board: Board, paths: Paths, samples: Along, own: NDArray[np.int64], span: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The width (n) of gaps over `span` (n, 2), stations; not a number where it is unknown.

    `own` (n, 4) has the run of each, the last sample before it and the first one behind it, and the piece.
    """
    (run, first, last, piece), (begin, end) = own.T, span.T
    parts = copper_within(board, piece, Strips.about(board, paths, run, begin, end, piece).shape)
    width: NDArray[np.float64] = shapely.distance(*(parts.at(samples.xy[sample]) for sample in (first, last)))
    return width + TOUCH_MM
