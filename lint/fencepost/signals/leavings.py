"""What of a trace lies close to the hole that it leaves, followed along all its branches; for many holes at once.

Every hole's node spreads along the segments that meet it, one segment further at a time and all holes together, until
no node is left that is nearer by a new way or within reach.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fencepost.frozen import dataclass
from fencepost.ranges import from_zero
from fencepost.signals.traces import Traces

STEP_MM = 0.1
"""Between samples along a trace."""

SKIP_MM = 0.4
"""Of trace from the rim of the hole on that says nothing: there the planes have their antipads."""

LOOK_MM = 3.0
"""Of trace beyond it over which references are looked for."""

AT_ONCE = 5_000
"""Holes that are followed together,"""

SAMPLES = 300_000
"""and samples that are handed on together, so that memory stays small on a large board."""


@dataclass(frozen=True, eq=False)
class Leavings:
    """The traces that leave k nodes, and n samples along them and their branches, in the order of the nodes.

    first    int64 (k)       the first segment of copper from each node on, -1 where no trace leaves it
    owner    int32 (n)       which of the nodes a sample belongs to
    stretch  int32 (n)       samples of one number lie on one straight segment; ascending
    xy       float64 (n, 2)  in mm
    """

    first: NDArray[np.int64]
    owner: NDArray[np.int32]
    stretch: NDArray[np.int32]
    xy: NDArray[np.float64]


def leavings_of(traces: Traces, node: NDArray[np.integer], radius: NDArray[np.float64]) -> list[Leavings]:
    """Follow the traces from nodes (k), in which holes of these radii (k, in mm) stand; some nodes after the other.

    Samples begin SKIP_MM beyond the hole; where all of a trace ends before that, it is sampled over its whole length.
    """
    done, open_ = list[Leavings](), list[Leavings]()
    for low in range(0, len(node), AT_ONCE):
        open_.append(_some(traces, node[low : low + AT_ONCE], radius[low : low + AT_ONCE] + SKIP_MM))
        if sum(len(part.owner) for part in open_) > SAMPLES:
            done.append(_joined(open_))
            open_ = []
    return [*done, _joined(open_)] if open_ else done


def _joined(parts: list[Leavings]) -> Leavings:
    nodes = np.cumsum([0, *(len(part.first) for part in parts)], dtype=np.int32)
    stretches = np.cumsum([0, *(int(part.stretch.max(initial=-1)) + 1 for part in parts)], dtype=np.int32)
    return Leavings(
        np.concatenate([part.first for part in parts]),
        np.concatenate([part.owner + by for part, by in zip(parts, nodes, strict=False)]),
        np.concatenate([part.stretch + by for part, by in zip(parts, stretches, strict=False)]),
        np.concatenate([part.xy for part in parts]),
    )


def _some(traces: Traces, node: NDArray[np.integer], begin: NDArray[np.float64]) -> Leavings:
    """Leavings, as samples from `begin` (k) on along the traces."""
    owner, here, away = _reached(traces, node, begin + LOOK_MM)
    state, segment = traces.segments_at_each(here)
    copper = (traces.feature[segment] >= 0) & (traces.length[segment] > 0)
    state, segment = state[copper], segment[copper]
    # A segment is sampled from the end that is reached first.
    order = np.lexsort((here[state], away[state], segment, owner[state]))
    state, segment = state[order], segment[order]
    new = np.ones(len(order), dtype=bool)
    new[1:] = (segment[1:] != segment[:-1]) | (owner[state[1:]] != owner[state[:-1]])
    state, segment = state[new], segment[new]

    first = np.full(len(node), -1, dtype=np.int64)
    nearest = np.lexsort((segment, here[state], away[state], owner[state]))[::-1]
    first[owner[state[nearest]]] = segment[nearest]

    length = traces.length[segment]
    count = np.where(length > STEP_MM, np.ceil((length - STEP_MM / 2) / STEP_MM), 1).astype(np.int64)
    row = np.repeat(np.arange(len(segment)), count)
    index = from_zero(count)
    spot = np.where(length[row] > STEP_MM, STEP_MM / 2 + STEP_MM * index, length[row] / 2)
    along = away[state[row]] + spot
    of = owner[state[row]]
    far = (along >= begin[of]) & (along <= begin[of] + LOOK_MM)
    seen = np.bincount(of[far], minlength=len(node)) > 0
    kept = np.where(seen[of], far, along < begin[of])
    row, spot, of = row[kept], spot[kept], of[kept]
    start = here[state[row]]
    end = np.where(traces.ends[segment[row], 0] == start, traces.ends[segment[row], 1], traces.ends[segment[row], 0])
    xy = traces.xy[start] + (traces.xy[end] - traces.xy[start]) * (spot / length[row])[:, None]
    return Leavings(first, of.astype(np.int32), row.astype(np.int32), xy)


def _reached(
    traces: Traces, node: NDArray[np.integer], reach: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
    """Which nodes lie nearer than `reach` (k) along the traces to each of some nodes (k), and how far: three columns.

    The first names the node that is left, from 0 to k - 1.
    """
    nodes = len(traces.xy)
    known = np.arange(len(node)) * nodes + node
    away = np.zeros(len(node))
    key, distance = known, away
    while len(key):
        owner, here = np.divmod(key, nodes)
        state, segment = traces.segments_at_each(here)
        other = traces.ends[segment].sum(axis=1, dtype=np.int64) - here[state]
        onward = distance[state] + traces.length[segment]
        near = onward < reach[owner[state]]
        key, onward = owner[state[near]] * nodes + other[near], onward[near]
        order = np.lexsort((onward, key))
        key, onward = key[order], onward[order]
        new = np.diff(key, prepend=-1) != 0
        key, onward = key[new], onward[new]
        at = np.searchsorted(known, key)
        there = at < len(known)
        there[there] = known[at[there]] == key[there]
        nearer = ~there
        nearer[there] = onward[there] < away[at[there]]
        away[at[there & nearer]] = onward[there & nearer]
        known, away = np.insert(known, at[~there], key[~there]), np.insert(away, at[~there], onward[~there])
        key, distance = key[nearer], onward[nearer]
    return *np.divmod(known, nodes), away
