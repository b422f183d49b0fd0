"""The sides of a net's traces on one layer: how one would walk along them with the trace to the right.

A trace has two sides. Where several meet, a side goes around the corner into the next trace, so that nothing slips
through at a junction; it ends only where the trace itself ends.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from fencepost.frozen import dataclass
from fencepost.signals.runs import Run, joined_runs

LOOK_MM = 0.3
"""How far from a junction the direction of a trace is taken."""


@dataclass(frozen=True, eq=False)
class Side:
    """The left-hand side of a path along traces. `closed` where it leads back to its beginning."""

    path: Run
    closed: bool


@dataclass(frozen=True)
class _Arm:
    """One end of a run at a spot: 0 where the run begins, 1 where it ends."""

    run: int
    end: int


def sides_of(runs: tuple[Run, ...], shortest: float) -> list[Side]:
    """The sides of runs of one net and layer, without dead ends that are no longer than `shortest` (mm).

    Where two dead ends meet in one place with nothing else, they are one path.
    """
    kept = _without_stubs(runs, shortest)
    arms = _by_angle(runs, kept)
    begun = [_Arm(run, end) for run in kept for end in (0, 1)]
    leaves = [arm for arm in begun if len(arms[_spot(runs, arm)]) == 1]
    done: set[_Arm] = set()
    sides = []
    for start in [*leaves, *begun]:
        if start not in done:
            walked, closed = _walk(runs, arms, start)
            done.update(walked)
            sides.append(Side(joined_runs([_leaving(runs, arm) for arm in walked]), closed))
    return sides


def _spot(runs: tuple[Run, ...], arm: _Arm) -> int:
    return runs[arm.run].spots[arm.end]


def _leaving(runs: tuple[Run, ...], arm: _Arm) -> Run:
    """The run as one walks away from this end."""
    return runs[arm.run].backwards if arm.end else runs[arm.run]


def _walk(runs: tuple[Run, ...], arms: dict[int, list[_Arm]], start: _Arm) -> tuple[list[_Arm], bool]:
    """The ends at which one sets off on each run, turning to the left at every junction; whether it is a round."""
    walked = [start]
    while True:
        arrived = _Arm(walked[-1].run, 1 - walked[-1].end)
        around = arms[_spot(runs, arrived)]
        onward = around[around.index(arrived) - 1]
        if onward in (arrived, start):
            return walked, onward != arrived
        walked.append(onward)


def _by_angle(runs: tuple[Run, ...], kept: list[int]) -> dict[int, list[_Arm]]:
    """The ends of runs at each spot, anticlockwise."""
    arms: dict[int, list[_Arm]] = defaultdict(list)
    for run in kept:
        for end in (0, 1):
            arms[runs[run].spots[end]].append(_Arm(run, end))
    for own in arms.values():
        ends = np.array([_leaving(runs, arm).xy[0] for arm in own])
        centre = ends.mean(axis=0)
        look = np.hypot(*(ends - centre).T).max() + LOOK_MM
        away = np.array([_leaving(runs, arm).at(min(look, runs[arm.run].length / 2)) for arm in own]) - centre
        order = np.argsort(np.arctan2(away[:, 1], away[:, 0]), kind="stable")
        own[:] = [own[i] for i in order]
    return arms


def _without_stubs(runs: tuple[Run, ...], shortest: float) -> list[int]:
    """The runs that are left when short dead ends are taken off junctions, the shortest first."""
    kept = list(range(len(runs)))
    while True:
        at: dict[int, list[int]] = defaultdict(list)
        for run in kept:
            for spot in runs[run].spots:
                at[spot].append(run)
        stubs = [stub for run in kept for spot in runs[run].spots if (stub := _stub(runs, at, run, spot))]
        lengths = [round(sum(runs[run].length for run in stub), 6) for stub in stubs]
        if not stubs or min(lengths) > shortest:
            return kept
        gone = set(stubs[lengths.index(min(lengths))])
        kept = [run for run in kept if run not in gone]


def _stub(runs: tuple[Run, ...], at: dict[int, list[int]], run: int, spot: int) -> list[int]:
    """The runs from a dead end at this spot to the junction where it hangs; none if it is no such thing."""
    if len(at[spot]) != 1:
        return []
    stub = [run]
    while True:
        first, last = runs[run].spots
        spot = last if first == spot else first
        if len(at[spot]) != 2:
            return stub if len(at[spot]) > 2 else []
        one, other = at[spot]
        run = other if one == run else one
        stub.append(run)
