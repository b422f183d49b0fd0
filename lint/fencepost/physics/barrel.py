"""The impedance of a barrel among its ties, and over its length through the planes.

Lengths in mm, impedances in ohms, inductances and capacitances in henries and farads, a metre where it says so.
The field is that of the barrel and its ties as drilled: give the drilled diameter, the outside of the copper, where
it is known. Losses are left out; a barrel is short.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from fencepost.frozen import dataclass
from fencepost.physics.waves import require
from fencepost.physics.wires import (
    EPSILON,
    ETA,
    MU,
    coaxial_factor,
    geometric_factor,
    positive_lengths,
    potentials,
    thin_potentials,
)


@dataclass(frozen=True)
class BarrelLine:
    """A barrel (or two, driven against each other) and its ties as a transmission line.

    ohms         impedance by the field of the round conductors
    thin_ohms    the same as if every conductor were thin; the two part where conductors are near each other
    inductance   henries a metre, of the loop
    capacitance  farads a metre
    """

    ohms: float
    thin_ohms: float
    inductance: float
    capacitance: float


def barrel_impedance(
    signal_xy: ArrayLike, signal_diameter: float, ties_xy: ArrayLike, tie_diameters: ArrayLike, permittivity: float
) -> BarrelLine:
    """The line that a barrel makes with all ties around it, each where it is.

    `signal_xy` (2), `ties_xy` (n, 2), `tie_diameters` (n) or one for all, in mm; `permittivity` relative.
    Source: the field of `wires.potentials`; two-wire and coaxial lines are its limits.
    Raises ValueError for no ties, conductors that overlap, a size that is not above zero, or a permittivity below 1.
    """
    signals = np.asarray(signal_xy, dtype=np.float64).reshape(1, 2)
    return _line(signals, [signal_diameter], ties_xy, tie_diameters, permittivity, (1.0,))


def pair_impedance(
    signals_xy: ArrayLike,
    signal_diameters: ArrayLike,
    ties_xy: ArrayLike,
    tie_diameters: ArrayLike,
    permittivity: float,
) -> BarrelLine:
    """The differential line of two barrels, `signals_xy` (2, 2), among ties or without any; otherwise as above."""
    signals = np.asarray(signals_xy, dtype=np.float64).reshape(2, 2)
    return _line(signals, signal_diameters, ties_xy, tie_diameters, permittivity, (1.0, -1.0))


def _line(
    signals: ArrayLike,
    signal_diameters: ArrayLike,
    ties_xy: ArrayLike,
    tie_diameters: ArrayLike,
    permittivity: float,
    charges: tuple[float, ...],
) -> BarrelLine:
    require(1 <= permittivity < math.inf, "a relative permittivity", permittivity, "", "must be 1 or more")
    ties = np.asarray(ties_xy, dtype=np.float64).reshape(-1, 2)
    xy = np.concatenate([np.asarray(signals, dtype=np.float64), ties])
    diameters = np.concatenate(
        [np.broadcast_to(np.asarray(own, dtype=np.float64), count)
         for own, count in ((signal_diameters, len(charges)), (tie_diameters, len(ties)))]
    )  # fmt: skip
    factor = geometric_factor(potentials(xy, diameters), charges)
    thin = geometric_factor(thin_potentials(xy, diameters), charges)
    scale = ETA / (2 * math.pi * math.sqrt(permittivity))
    return BarrelLine(
        ohms=scale * factor,
        thin_ohms=scale * thin,
        inductance=1e3 * MU / (2 * math.pi) * factor,
        capacitance=1e3 * 2 * math.pi * EPSILON * permittivity / factor,
    )


def ring_impedance(diameter: float, ties: int, radius: float, tie_diameter: float, permittivity: float) -> float:
    """(60 / sqrt(er)) [ln(R / a) + ln(R / (n b)) / n] ohms: a barrel amid n thin ties on a circle of radius R.

    a and b are half the diameters; 60 stands for 59.96, the wave impedance of the vacuum over 2 pi. n = 1 and n = 4 are
    the two-wire and the five-wire line. Source: line charges; the five-wire line is in Reference Data for Radio
    Engineers. Good to 2 % while every gap is wider than two and a half diameters.
    Raises ValueError for no ties, sizes that are not above zero or do not fit on the circle, a permittivity below 1.
    """
    require(ties >= 1, "a ring", ties, "ties", "needs at least 1")
    positive_lengths(diameter=diameter, radius=radius, tie_diameter=tie_diameter)
    require(1 <= permittivity < math.inf, "a relative permittivity", permittivity, "", "must be 1 or more")
    fits = 2 * radius > diameter + tie_diameter and (ties == 1 or 2 * radius * math.sin(math.pi / ties) > tie_diameter)
    require(fits, "a radius", radius, "mm", f"lets barrels of {diameter:g} and {tie_diameter:g} mm overlap")
    factor = math.log(2 * radius / diameter) + math.log(2 * radius / (ties * tie_diameter)) / ties
    return ETA / (2 * math.pi * math.sqrt(permittivity)) * factor


def coaxial_impedance(inner: float, outer: float, permittivity: float, offset: float = 0.0) -> float:
    """(60 / sqrt(er)) ln(D / d) ohms: a barrel or pad in its round opening, `offset` mm off the centre. Exact.

    Source: `wires.coaxial_factor`. Raises ValueError as that does, and for a permittivity below 1.
    """
    require(1 <= permittivity < math.inf, "a relative permittivity", permittivity, "", "must be 1 or more")
    return ETA / (2 * math.pi * math.sqrt(permittivity)) * coaxial_factor(inner, outer, offset)


def pad_capacitance(pad: float, antipad: float, permittivity: float) -> float:
    """Farads between a thin disc and the sheet around its round opening: 4 e rho [ln(32 rho / w) - 2].

    rho = sqrt(d D) / 2 is the mean radius of the ring-shaped gap and w = (D - d) / 2 its width, for a pad of diameter d
    in an antipad of diameter D, both in mm. The gap is the dual of a thin flat ring of the same outline, whose
    inductance is mu rho [ln(8 rho / r) - 2] with r = w / 4 for a strip at high frequency; the geometric mean is taken
    because inversion turns the inside of the gap into its outside. Never less than 4 e d, a disc on its own. Sources:
    H. G. Booker, J. IEE 93 IIIA, 1946, p. 620, for the duality; F. W. Grover, Inductance Calculations, 1946, for the
    ring (both from memory). Within 3 % of the field's exact value for d / D of 0.3 and more, 10 % for any.

    For an endless sheet with nothing near: planes nearby take charge from the gap, so it is an upper estimate where
    they are closer than the gap is wide. Raises ValueError for sizes that are not above zero, or pad >= antipad.
    """
    positive_lengths(pad=pad, antipad=antipad)
    require(pad < antipad, "a pad", pad, "mm", f"must be smaller than its antipad of {antipad:g} mm")
    require(1 <= permittivity < math.inf, "a relative permittivity", permittivity, "", "must be 1 or more")
    middle, width = math.sqrt(pad * antipad) / 2, (antipad - pad) / 2
    ring = 4 * middle * (math.log(32 * middle / width) - 2)
    return EPSILON * permittivity * max(ring, 4 * pad)


@dataclass(frozen=True)
class Section:
    """A stretch of a barrel: its length (mm), inductance (H) and capacitance (F), in all."""

    length: float
    inductance: float
    capacitance: float


@dataclass(frozen=True)
class Passage:
    """A barrel over its whole length: effective impedance (ohms) and delay (s)."""

    ohms: float
    delay: float


def between_planes(line: BarrelLine, length: float) -> Section:
    """The section of a barrel among its ties between two planes `length` mm apart."""
    positive_lengths(length=length)
    return Section(length, line.inductance * length * 1e-3, line.capacitance * length * 1e-3)


def through_plane(inner: float, antipad: float, thickness: float, permittivity: float, offset: float = 0.0) -> Section:
    """The section of a barrel in a plane of `thickness` mm: a coaxial line, and the field that bulges out of its gap.

    `inner` is the diameter of the pad on that plane, or of the barrel where it has none; `offset` mm between the
    centres of hole and antipad changes the coaxial part alone. Sources: `wires.coaxial_factor`, `pad_capacitance`.
    Raises ValueError as those do, and for a thickness that is not above zero.
    """
    positive_lengths(thickness=thickness)
    factor = coaxial_factor(inner, antipad, offset)
    inside = 2 * math.pi * EPSILON * permittivity / factor * thickness
    bulge = pad_capacitance(inner, antipad, permittivity)
    return Section(thickness, MU / (2 * math.pi) * factor * thickness, inside + bulge)


def cascade(sections: Sequence[Section]) -> Passage:
    """Effective impedance sqrt(sum L / sum C) and delay sqrt(sum L sum C) of sections one after the other.

    It is the image impedance of the whole where the sections follow each other evenly and the whole is short: within
    2 % up to an eighth of a wavelength. Source: a periodically loaded line at low frequency, D. M. Pozar, Microwave
    Engineering, ch. 8 (from memory). Raises ValueError for no sections.
    """
    if not sections:
        raise ValueError("0 sections: a barrel needs at least 1")
    inductance = sum(section.inductance for section in sections)
    capacitance = sum(section.capacitance for section in sections)
    return Passage(math.sqrt(inductance / capacitance), math.sqrt(inductance * capacitance))
