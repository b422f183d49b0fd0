"""The endless fence with posts as thick as they are: every post answers alike, and lattice sums add up the others."""

from __future__ import annotations

from math import factorial

import numpy as np

from fencepost.physics.cylindrical import orders
from fencepost.physics.waves import check_grid

MOST_ORDER = 24
SETTLED = 1e-8
STATIC = 1e-3
"""Pitch against wavelength below which the field between two posts is static, to 1 part in 10^6."""

_TERMS = 1000


def grid_waves(pitch: float, diameter: float, frequency: float, permittivity: float) -> tuple[complex, complex]:
    """Reflection and transmission of a plane wave square on to an endless fence, both at the plane of its centres.

    Pitch and diameter in mm, frequency in Hz. c_n J_n(k a) + b_n H_n(k a) + J_n(k a) sum over m of b_m S_(m-n) = 0 with
    the lattice sums S of H(2): V. Twersky, On the Scattering of Waves by an Infinite Grating, IRE Transactions on
    Antennas and Propagation 4, 1956. Harmonics are added until the transmission changes by less than 10^-8, or by less
    than 10^-4 of itself. Raises ValueError as `check_grid` does.
    """
    s = pitch / check_grid(pitch, diameter, frequency, permittivity)
    near = max(s, STATIC)
    before = _waves(diameter / pitch, near, 1)
    for order in range(2, MOST_ORDER + 1):
        reflected, passed = _waves(diameter / pitch, near, order)
        if abs(passed - before[1]) <= SETTLED + 1e-4 * abs(passed):
            break
        before = reflected, passed
    else:
        raise ValueError(f"a diameter of {diameter:g} mm is too close to the pitch of {pitch:g} mm to be solved")
    if s < STATIC:
        # A static field between the posts is a shunt reactance in proportion to the frequency: T / (1 - T) = 2j X / Z.
        ratio = passed / (1 - passed) * (s / near)
        passed = ratio / (1 + ratio)
        reflected = passed - 1
    return reflected, passed


def _waves(thickness: float, s: float, order: int) -> tuple[complex, complex]:
    """Reflection and transmission with harmonics up to `order`, for diameter / pitch and s = pitch / wavelength."""
    import scipy

    n = orders(order)
    radius = np.pi * s * thickness
    regular, singular = scipy.special.jv(n, radius), scipy.special.hankel2(n, radius)
    shift = n[None, :] - n[:, None]
    even = [lattice_sum(2 * half, s) for half in range(order + 1)]
    sums = np.where(shift % 2 == 0, np.array(even)[np.abs(shift) // 2], 0.0)
    matrix = np.eye(len(n)) + regular[:, None] * sums / singular
    sign = (-1.0) ** n
    answer = np.linalg.solve(matrix, -regular * sign) / singular
    forward = 1 / (np.pi * s)
    return complex(forward * answer.sum()), complex(1 + forward * (answer * sign).sum())


def lattice_sum(order: int, s: float) -> complex:
    """2 sum over m > 0 of H(2)_order(2 pi m s), for an even order and 0 < s < 1: what all other posts send to one.

    Closed form: C. M. Linton, The Green's Function for the Two-Dimensional Helmholtz Equation in Periodic Domains,
    Journal of Engineering Mathematics 33, 1998 (from memory; the tests hold it against the sum itself).
    """
    import scipy

    half = order // 2
    m = np.arange(1, _TERMS)
    root = np.sqrt(m * m - s * s)
    if half == 0:
        rest = s * s / (2 * _TERMS - 1) ** 2
        total = 1 / (np.pi * s) - 1 - 2j / np.pi * (np.euler_gamma + np.log(s / 2) + (1 / root - 1 / m).sum() + rest)
        return complex(np.conj(total))
    evanescent = ((s / (m + root)) ** order / root).sum()
    if half == 1:
        evanescent += 2 * (s / (2 * _TERMS - 1)) ** 2 / 4
    polynomial = 1 / half
    numbers = scipy.special.bernoulli(order)
    for q in range(1, half + 1):
        weight = factorial(half + q - 1) / (factorial(2 * q) * factorial(half - q))
        polynomial += (-1) ** q * weight * numbers[2 * q] * (2 / s) ** (2 * q)
    return complex(1 / (np.pi * s) + 1j / np.pi * ((-1) ** half * 2 * evanescent - polynomial))
