"""Inductance of barrels and of the loops that they make with ties, and what it does to an edge.

Lengths in mm, inductances in henries, impedances in ohms, times in seconds.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from fencepost.physics.waves import require
from fencepost.physics.wires import MU, geometric_factor, positive_lengths, potentials, two_wire_factor

MM_PER_INCH = 25.4


def loop_inductance(height: float, spacing: float, diameter: float, other: float | None = None) -> float:
    """(mu0 h / pi) acosh(s / d) henries: a barrel and one tie between two planes h apart, centres s apart.

    With `other`, the tie's own diameter: (mu0 h / 2 pi) acosh((4 s^2 - d1^2 - d2^2) / (2 d1 d2)). All in mm. Exact for
    two parallel round wires; source: `wires.two_wire_factor`. What it leaves out is said at `detour_inductance`.
    Raises ValueError for a length that is not above zero, or barrels that touch.
    """
    positive_lengths(height=height)
    return MU * height / (2 * math.pi) * two_wire_factor(spacing, diameter, diameter if other is None else other)


def barrel_inductance(height: float, diameter: float) -> float:
    """5.08 h [ln(4 h / d) + 1] nH, h and d in inches: the partial inductance of one barrel, here from mm, in henries.

    A height of 0.063 in and a diameter of 0.016 in give 1.2 nH. Source: H. Johnson and M. Graham, High-Speed Digital
    Design, 1993, ch. 7. Raises ValueError for a length that is not above zero, or a barrel so much wider than high that
    the formula does not hold (d of 4 e h and more, where it is not above zero).
    """
    positive_lengths(height=height, diameter=diameter)
    shape = math.log(4 * height / diameter) + 1
    require(shape > 0, "a height", height, "mm", f"is too small for this formula at a diameter of {diameter:g} mm")
    return 5.08e-9 * (height / MM_PER_INCH) * shape


def detour_inductance(
    signal_xy: ArrayLike, signal_diameter: float, ties_xy: ArrayLike, tie_diameters: ArrayLike, height: float
) -> float:
    """Henries of the loop that a barrel makes with all ties around it, between two planes `height` mm apart.

    `signal_xy` (2), `ties_xy` (n, 2), `tie_diameters` (n) or one for all, in mm. The return current divides among the
    ties so that the voltage along each is the same, which makes its energy least: the nearest tie takes most, one in
    the shadow of another little. One tie gives `loop_inductance`; n thin ties on a circle of radius R give
    (mu0 h / 2 pi) [ln(R / a) + ln(R / (n b)) / n]. Source: the field of `wires.potentials`, with the crowding of
    current on near conductors.

    The planes mirror the barrels into endless wires, so the height does not enter the field. Left out: the antipads,
    planes that end near by, other planes between the two (each of them only needs its own ties), and any capacitor.
    Raises ValueError for no ties, conductors that overlap, or a size that is not above zero.
    """
    positive_lengths(height=height)
    ties = np.asarray(ties_xy, dtype=np.float64).reshape(-1, 2)
    xy = np.concatenate([np.asarray(signal_xy, dtype=np.float64).reshape(1, 2), ties])
    sizes = np.broadcast_to(np.asarray(tie_diameters, dtype=np.float64), len(ties))
    return MU * height / (2 * math.pi) * geometric_factor(potentials(xy, np.append(signal_diameter, sizes)), (1.0,))


def edge_reflection(inductance: float, impedance: float, rise_time: float) -> float:
    """The part of an edge that a series inductance in a line sends back: (T / t)(1 - exp(-t / T)), T = L / (2 Z0).

    `inductance` in H, `impedance` of the line on both sides in ohms, `rise_time` in s of a straight ramp; exact for
    them. For t of 4 T and more it is the textbook's L / (2 Z0 t) to within 2 %; for faster edges that one overshoots
    and passes 1 at t = T, while this one tends to 1. Source of the approximation: Johnson and Graham, High-Speed
    Digital Design, 1993 (from memory). Raises ValueError for a value that is not above zero.
    """
    require(0 < inductance < math.inf, "an inductance", inductance, "H", "must be above zero")
    require(0 < impedance < math.inf, "an impedance", impedance, "ohm", "must be above zero")
    require(0 < rise_time < math.inf, "a rise time", rise_time, "s", "must be above zero")
    ratio = 2 * impedance * rise_time / inductance
    return -math.expm1(-ratio) / ratio
