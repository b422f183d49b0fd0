"""Arcs: which centre, how far round, and the chords that stand for them.

G75 and the deprecated G74 as in The Gerber Layer Format Specification, Ucamco, 2024.05.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fencepost.frozen import dataclass
from fencepost.ranges import ranges
from fencepost.readers.artwork import SAGITTA_MM

_TURN = 2 * np.pi
_FEWEST_CHORDS_A_TURN = 16
_RADIUS_SLACK = 0.01
_RADIUS_SLACK_STEPS = 4.0


@dataclass(frozen=True, eq=False)
class Arcs:
    """k arcs. Lengths in mm, angles in radians; a clockwise sweep is negative.

    centre      float64 (k, 2)
    radius      float64 (k, 2)  at the start and at the end; they differ by rounding only where `sound`
    angle       float64 (k)     at the start
    sweep       float64 (k)     where start and end are one point, 0 in single and a turn in multi quadrant mode
    sound       bool (k)        there is a centre that fits both ends
    """

    centre: NDArray[np.float64]
    radius: NDArray[np.float64]
    angle: NDArray[np.float64]
    sweep: NDArray[np.float64]
    sound: NDArray[np.bool_]

    def chords(self) -> NDArray[np.int64]:
        """How many chords keep each arc within SAGITTA_MM, at least 1."""
        radius = self.radius.max(axis=1)
        step = 4 * np.arcsin(np.sqrt(np.minimum(SAGITTA_MM / (2 * np.maximum(radius, SAGITTA_MM)), 0.5)))
        step = np.minimum(step, _TURN / _FEWEST_CHORDS_A_TURN)
        chords: NDArray[np.int64] = np.maximum(np.ceil(np.abs(self.sweep) / step - 1e-9), 1).astype(np.int64)
        return chords

    def points(self, chords: NDArray[np.int64]) -> NDArray[np.float64]:
        """The ends of all chords, (sum(chords), 2); the last of each arc is its end but for rounding."""
        arc = np.repeat(np.arange(len(chords)), chords)
        nth = ranges(np.ones_like(chords), chords)
        part = nth / chords[arc]
        angle = self.angle[arc] + self.sweep[arc] * part
        radius = self.radius[arc, 0] + (self.radius[arc, 1] - self.radius[arc, 0]) * part
        points: NDArray[np.float64] = self.centre[arc] + np.stack(
            [radius * np.cos(angle), radius * np.sin(angle)], axis=1
        )
        return points


def arcs_of(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    to_centre: NDArray[np.float64],
    clockwise: NDArray[np.bool_],
    single_quadrant: NDArray[np.bool_],
    resolution_mm: float,
) -> Arcs:
    """Arcs from `start` to `end`, (k, 2), with the offset I, J from the start to the centre, (k, 2).

    In single quadrant mode I and J have no sign: of the four candidates the one is taken whose arc is at most 90
    degrees and whose radii agree best. Radii may differ by 4 steps of the coordinates or by 1 %: common practice, no
    source.
    """
    arcs = _arcs_about(start + to_centre, start, end, clockwise, resolution_mm)
    if not single_quadrant.any():
        return arcs
    misfit = np.where(single_quadrant, np.inf, 0.0)
    same_point = (start == end).all(axis=1)
    for signs in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
        candidate = _arcs_about(start + np.abs(to_centre) * signs, start, end, clockwise, resolution_mm)
        candidate.sweep[same_point] = 0.0
        slack = _RADIUS_SLACK_STEPS * resolution_mm / np.maximum(candidate.radius.max(axis=1), resolution_mm)
        difference = np.abs(candidate.radius[:, 1] - candidate.radius[:, 0])
        difference = np.where(np.abs(candidate.sweep) <= np.pi / 2 + slack, difference, np.inf)
        better = difference < misfit
        misfit[better] = difference[better]
        for name in ("centre", "radius", "angle", "sweep", "sound"):
            getattr(arcs, name)[better] = getattr(candidate, name)[better]
    arcs.sound[misfit == np.inf] = False
    return arcs


def _arcs_about(
    centre: NDArray[np.float64],
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    clockwise: NDArray[np.bool_],
    resolution_mm: float,
) -> Arcs:
    from_centre, to_centre = start - centre, end - centre
    angle = np.arctan2(from_centre[:, 1], from_centre[:, 0])
    last = np.arctan2(to_centre[:, 1], to_centre[:, 0])
    sweep = np.where(clockwise, -((angle - last) % _TURN), (last - angle) % _TURN)
    whole = (start == end).all(axis=1)
    sweep[whole] = np.where(clockwise[whole], -_TURN, _TURN)
    radius = np.stack([np.hypot(*from_centre.T), np.hypot(*to_centre.T)], axis=1)
    sweep[radius[:, 0] == 0] = 0.0
    return Arcs(centre, radius, angle, sweep, np.abs(radius[:, 1] - radius[:, 0]) <= _slack(radius, resolution_mm))


def _slack(radius: NDArray[np.float64], resolution_mm: float) -> NDArray[np.float64]:
    slack: NDArray[np.float64] = np.maximum(_RADIUS_SLACK_STEPS * resolution_mm, _RADIUS_SLACK * radius.max(axis=1))
    return slack
