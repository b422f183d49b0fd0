"""Samples along the traces that leave a hole: where they begin and end, worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fencepost.signals.leavings import LOOK_MM, SKIP_MM, STEP_MM, Leavings, leavings_of
from fencepost.signals.traces import Traces

RADIUS = 0.2


def network(xy: list[tuple[float, float]], ends: list[tuple[int, int]], links: tuple[int, ...] = ()) -> Traces:
    """Segments between points; `links` are those without copper."""
    count = len(ends)
    feature = np.arange(count, dtype=np.int32)
    feature[list(links)] = -1
    one = np.ones(count, dtype=np.int32)
    return Traces(
        one, one, one, np.array(ends, dtype=np.int32), np.full(count, 0.1), feature, np.array(xy, dtype=float),
        np.array([[0, 1, 0]], dtype=np.int32),
    )  # fmt: skip


def left(traces: Traces, nodes: tuple[int, ...] = (0,)) -> Leavings:
    (found,) = leavings_of(traces, np.array(nodes), np.full(len(nodes), RADIUS))
    return found


@pytest.mark.parametrize("chords", [1, 7, 100])
def test_a_long_trace_is_sampled_beyond_the_antipad_only(chords: int) -> None:
    """From 0.2 + 0.4 mm to 3 mm farther on, a sample each 0.1 mm and no more than half a step longer over a corner."""
    spots = [(float(x), 0.0) for x in np.linspace(0, 10, chords + 1)]
    found = left(network(spots, [(i, i + 1) for i in range(chords)]))
    x = np.sort(found.xy[:, 0])
    begin, end = RADIUS + SKIP_MM, RADIUS + SKIP_MM + LOOK_MM
    assert begin <= x[0] < begin + STEP_MM
    assert end - STEP_MM < x[-1] <= end
    assert np.diff(x).max() <= 1.5 * STEP_MM * (1 + 1e-9)
    assert found.first.tolist() == [0]


def test_a_short_trace_is_sampled_over_its_whole_length() -> None:
    found = left(network([(0, 0), (0.3, 0)], [(0, 1)]))
    assert found.xy[:, 0] == pytest.approx([0.05, 0.15, 0.25])


def test_all_branches_are_followed_and_each_hole_has_its_own() -> None:
    """A trace of 1 mm from either hole to a junction, and 5 mm on from there: 2.6 mm of these count for each."""
    found = left(network([(0, 0), (1, 0), (2, 0), (1, 5)], [(0, 1), (2, 1), (1, 3)]), (0, 2))
    up = [found.xy[(found.owner == one) & (found.xy[:, 1] > 0), 1] for one in (0, 1)]
    assert up[0].max() == pytest.approx(2.55)
    assert up[1] == pytest.approx(up[0])
    assert found.first.tolist() == [0, 1]


def test_around_a_loop_a_segment_is_sampled_once() -> None:
    """A square of 1 mm: whichever way one walks, no spot comes twice, and the far side is reached from both."""
    found = left(network([(0, 0), (1, 0), (1, 1), (0, 1)], [(0, 1), (1, 2), (2, 3), (3, 0)]))
    assert len(np.unique(found.xy.round(6), axis=0)) == len(found.xy)
    assert {(1.0, 0.95), (0.05, 1.0), (0.95, 1.0)} & set(map(tuple, found.xy.round(6).tolist()))


def test_a_link_has_no_copper_but_leads_on() -> None:
    found = left(network([(0, 0), (0.5, 0), (3, 0)], [(0, 1), (1, 2)], links=(0,)))
    assert found.first.tolist() == [1]
    assert found.xy[:, 0].min() > RADIUS + SKIP_MM


def test_where_nothing_leaves_there_is_no_sample() -> None:
    found = left(network([(0, 0), (5, 0), (6, 0)], [(1, 2)]))
    assert found.first.tolist() == [-1]
    assert not len(found.xy)
