"""The way of a signal through a barrel as sections of a line: between planes, and through their openings.

What was read off the board is kept as plain numbers, so that wider antipads or nearer ties can be tried.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import field, replace

import numpy as np
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.frozen import dataclass
from fencepost.physics.barrel import (
    BarrelLine,
    Passage,
    Section,
    barrel_impedance,
    between_planes,
    cascade,
    pad_capacitance,
    through_plane,
)
from fencepost.physics.wires import EPSILON, coaxial_factor
from fencepost.signals.barrels import antipad_diameter, land_diameter, stubs_of, ties_about


@dataclass(frozen=True, eq=False)
class Stretch:
    """A barrel from a layer to the one below it: length (mm), er, and its ties, (n, 2) from its middle, and (n), mm."""

    layer: int
    length: float
    permittivity: float
    ties: NDArray[np.int32]
    ties_xy: NDArray[np.float64]
    tie_diameters: NDArray[np.float64]


@dataclass(frozen=True)
class Opening:
    """A barrel on a layer: its land or bare barrel, and its antipad, both as diameters in mm; er about it.

    `thickness` is that of the copper; 0 where no copper surrounds the barrel on this layer itself: then the antipad is
    that of the nearest layer where some does.
    """

    layer: int
    inner: float
    antipad: float
    thickness: float
    permittivity: float


@dataclass(frozen=True, eq=False)
class Surroundings:
    """Everything about a barrel between two layers, and about its unused lengths beyond them.

    `diameter` as drilled, mm; `lines` keeps the lines of its stretches, by their ties, in a dielectric of 1.
    """

    diameter: float
    stretches: tuple[Stretch, ...]
    openings: tuple[Opening, ...]
    unused_stretches: tuple[Stretch, ...] = ()
    unused_openings: tuple[Opening, ...] = ()
    lines: dict[bytes, BarrelLine] = field(default_factory=dict)

    def with_antipads(self, scale: float) -> Surroundings:
        """Every gap between land and antipad made so many times as wide."""

        def wider(openings: tuple[Opening, ...]) -> tuple[Opening, ...]:
            return tuple(replace(one, antipad=one.inner + (one.antipad - one.inner) * scale) for one in openings)

        return replace(self, openings=wider(self.openings), unused_openings=wider(self.unused_openings))

    def idle_lands(self) -> tuple[int, ...]:
        """Layers between the first and the last one, and unused ones, on which the barrel has a land."""
        used = {self.stretches[0].layer, self.stretches[-1].layer + 1}
        every = (*self.openings, *self.unused_openings)
        return tuple(sorted(one.layer for one in every if one.layer not in used and one.inner > self.diameter))

    def without_lands(self, layers: Collection[int]) -> Surroundings:
        """The bare barrel on these layers."""

        def bare(openings: tuple[Opening, ...]) -> tuple[Opening, ...]:
            return tuple(replace(one, inner=self.diameter) if one.layer in layers else one for one in openings)

        return replace(self, openings=bare(self.openings), unused_openings=bare(self.unused_openings))

    def with_ties(self, scale: float) -> Surroundings:
        """Every tie so many times as far away."""

        def farther(stretches: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
            return tuple(replace(one, ties_xy=one.ties_xy * scale) for one in stretches)

        stretches, unused = farther(self.stretches), farther(self.unused_stretches)
        return replace(self, stretches=stretches, unused_stretches=unused, lines={})

    def line(self, stretch: Stretch) -> BarrelLine:
        """What the barrel makes with the ties of a stretch. Raises ValueError where there are none."""
        key = stretch.ties.tobytes()
        if key not in self.lines:
            origin = (0.0, 0.0)
            self.lines[key] = barrel_impedance(origin, self.diameter, stretch.ties_xy, stretch.tie_diameters, 1.0)
        bare, er = self.lines[key], stretch.permittivity
        return replace(
            bare,
            ohms=bare.ohms / math.sqrt(er),
            thin_ohms=bare.thin_ohms / math.sqrt(er),
            capacitance=bare.capacitance * er,
        )


def surroundings_of(board: Board, hole: int, first: int, last: int, plating: float, reach: float) -> Surroundings:
    """What a signal passes in a hole between two layers. Ties count up to `reach` mm away."""
    stubs = [(one.used, one.end) for one in stubs_of(board, hole)]
    unused = [(end, used) for used, end in stubs if end < used == first]
    unused += [(used, end) for used, end in stubs if end > used == last]
    inside = set(range(first, last + 1))
    beyond = {layer for low, high in unused for layer in range(low, high + 1)} - inside
    openings = _openings(board, hole, sorted(inside | beyond), plating)
    return Surroundings(
        diameter=float(board.holes.diameter[hole]) + plating,
        stretches=tuple(_stretch(board, hole, layer, plating, reach) for layer in range(first, last)),
        openings=tuple(one for one in openings if one.layer in inside),
        unused_stretches=tuple(
            _stretch(board, hole, layer, plating, reach) for low, high in unused for layer in range(low, high)
        ),
        unused_openings=tuple(one for one in openings if one.layer in beyond),
    )


def _stretch(board: Board, hole: int, layer: int, plating: float, reach: float) -> Stretch:
    """From a layer to the one below it."""
    gap = board.stackup.gaps[layer - 1]
    ties = ties_about(board, hole, layer, layer + 1, reach)
    away = board.holes.centre[ties] - board.holes.centre[hole]
    return Stretch(layer, gap.thickness, gap.permittivity, ties, away, board.holes.diameter[ties] + plating)


def _openings(board: Board, hole: int, layers: list[int], plating: float) -> list[Opening]:
    antipads = {layer: antipad_diameter(board, hole, layer) for layer in layers}
    surrounded = [layer for layer in layers if antipads[layer] > 0]
    openings = []
    for layer in layers if surrounded else ():
        land = land_diameter(board, hole, layer)
        nearest = min(surrounded, key=lambda other: (abs(other - layer), other))
        thickness = board.stackup.copper[layer - 1] if layer == nearest else 0.0
        inner = max(land, float(board.holes.diameter[hole]) + plating)
        if thickness > 0 or 0 < land < antipads[nearest]:
            openings.append(Opening(layer, inner, antipads[nearest], thickness, _permittivity_about(board, layer)))
    return openings


def _permittivity_about(board: Board, layer: int) -> float:
    """The mean of what lies above and below a layer; outside of the board that is air."""
    er = [1.0, *(gap.permittivity for gap in board.stackup.gaps), 1.0]
    return (er[layer - 1] + er[layer]) / 2


@dataclass(frozen=True)
class BarrelPassage:
    """A signal's way through a barrel.

    whole     impedance and delay with everything about it
    line      its longest stretch between planes by itself, among its ties
    openings  the share of the whole capacitance that lands in antipads have, from 0 to 1
    unused    likewise the share of unused lengths
    """

    whole: Passage
    line: BarrelLine
    openings: float
    unused: float


def passage_through(around: Surroundings) -> BarrelPassage:
    """The cascade of all sections. Of unused lengths only the capacitance counts: no current leaves by their end.

    Raises ValueError for a stretch without any tie, and for sizes that no barrel can have.
    """
    between = [between_planes(around.line(one), one.length) for one in around.stretches]
    through = [_through(one) for one in around.openings]
    tied = [one for one in around.unused_stretches if len(one.ties)]
    hanging = [between_planes(around.line(one), one.length) for one in tied]
    hanging += [_through(one) for one in around.unused_openings]
    openings = {one.layer: one for one in (*around.openings, *around.unused_openings)}
    shared = _counted_twice(around, around.stretches, openings)
    lands = _capacitance(through) - shared
    unused = _capacitance(hanging) - _counted_twice(around, tied, openings)
    whole = cascade([*between, *through, Section(0.0, 0.0, unused - shared)])
    total = _capacitance(between) + lands + unused
    longest = max(around.stretches, key=lambda one: one.length)
    return BarrelPassage(whole, around.line(longest), lands / total, unused / total)


def _capacitance(sections: Sequence[Section]) -> float:
    return sum(section.capacitance for section in sections)


def _through(one: Opening) -> Section:
    if one.thickness > 0:
        return through_plane(one.inner, one.antipad, one.thickness, one.permittivity)
    return Section(0.0, 0.0, pad_capacitance(one.inner, one.antipad, one.permittivity))


def _counted_twice(around: Surroundings, stretches: Sequence[Stretch], openings: Mapping[int, Opening]) -> float:
    """Capacitance (F) between planes so near one another that the fields of their openings are one.

    Between two openings there cannot be more than if land and plane went on, each up to half of the height: a coaxial
    line, since conductors that grow only add to a capacitance.
    """
    excess = 0.0
    for one in stretches:
        ends = [openings[layer] for layer in (one.layer, one.layer + 1) if layer in openings]
        if len(ends) == 2:
            er = one.permittivity
            counted = around.line(one).capacitance * one.length * 1e-3
            counted += sum(pad_capacitance(end.inner, end.antipad, er) / 2 for end in ends)
            most = sum(math.pi * EPSILON * er * one.length / coaxial_factor(end.inner, end.antipad) for end in ends)
            excess += max(0.0, counted - most)
    return excess


def reflection(ohms: float, delay: float, line: float, frequency: float) -> float:
    """The share of a wave, from 0 to 1, that a line of `ohms` and `delay` (s) in one of `line` ohms sends back.

    |S11| = |x| / sqrt(1 + x^2) with x = (z - 1/z) sin(2 pi f T) / 2, z = Z / Z0: exact for a lossless line between two
    alike; D. M. Pozar, Microwave Engineering, ch. 4, from its ABCD matrix. Beyond a quarter of a wave, where it would
    fall again, it stays at its greatest.
    """
    turn = min(2 * math.pi * frequency * delay, math.pi / 2)
    ratio = ohms / line
    x = (ratio - 1 / ratio) / 2 * math.sin(turn)
    return abs(x) / math.hypot(1.0, x)
