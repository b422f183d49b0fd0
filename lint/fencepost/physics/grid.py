"""The endless fence: equal posts at one pitch, a plane wave square on to it, in closed form."""

from __future__ import annotations

import math

from fencepost.physics.waves import check_grid, require, wavelength

THIN = 1 / 8
"""Diameter against pitch up to which the closed form is no more than 0.4 dB above the truth."""

HIGHEST_DB = 100.0
"""No fence is said to isolate more: by then the wave finds other ways round it."""

_TERMS = 1000


def shunt_reactance(pitch: float, diameter: float, frequency: float, permittivity: float) -> float:
    """X / Z of a grid of thin posts: (p/l) [ln(p / (2 pi a)) + sum over m > 0 of 1/sqrt(m^2 - (p/l)^2) - 1/m].

    Pitch p and diameter 2a in mm, frequency in Hz, l the wavelength in the dielectric, Z the wave impedance. Source:
    N. Marcuvitz, Waveguide Handbook, 1951, gratings of round posts. The posts answer with one harmonic only, so that X
    reaches 0 at 2a/p = 1/pi, which a fence of real posts does not.
    """
    length = check_grid(pitch, diameter, frequency, permittivity)
    s = pitch / length
    series = sum(1 / math.sqrt(m * m - s * s) - 1 / m for m in range(1, _TERMS))
    rest = s * s / (2 * _TERMS - 1) ** 2
    return s * (math.log(pitch / (math.pi * diameter)) + series + rest)


def thin_isolation(pitch: float, diameter: float, frequency: float, permittivity: float) -> float:
    """-20 log10 |T| in dB, T = 2jX / (Z + 2jX) with the reactance X of `shunt_reactance`, at most HIGHEST_DB.

    Source: N. Marcuvitz, Waveguide Handbook, 1951. Above the truth by 0.35 dB at 2a/p = 1/8 and by 4 dB at 1/4. Raises
    ValueError for posts thicker than 1/4 of the pitch. At er 4 and with posts of 0.254 mm, 2.032 mm at 9.221 GHz gives
    12.8 dB, 6.35 mm at 2.4 GHz 8.2 dB.
    """
    reactance = shunt_reactance(pitch, diameter, frequency, permittivity)
    require(diameter <= pitch / 4, "a diameter", diameter, "mm", f"must be at most 1/4 of the pitch, {pitch:g} mm")
    return isolation_of(2 * reactance / math.hypot(1.0, 2 * reactance))


def endless_isolation(pitch: float, diameter: float, frequency: float, permittivity: float) -> float:
    """Isolation of an endless fence in dB: by the closed form for thin posts, else solved with their thickness.

    Pitch and diameter in mm, frequency in Hz. Sources: `thin_isolation` and `fencepost.physics.lattice`.
    """
    if is_thin(pitch, diameter):
        return thin_isolation(pitch, diameter, frequency, permittivity)
    from fencepost.physics.lattice import grid_waves  # the closed form must not wait for the solver's libraries

    return isolation_of(abs(grid_waves(pitch, diameter, frequency, permittivity)[1]))


def is_thin(pitch: float, diameter: float) -> bool:
    """Whether the closed form does for posts of this diameter: up to THIN of the pitch."""
    return diameter <= THIN * pitch * (1 + 1e-9)


def isolation_of(transmission: float) -> float:
    """-20 log10 of a field's magnitude behind a fence against that without it, at most HIGHEST_DB."""
    return -20 * math.log10(max(transmission, 10 ** (-HIGHEST_DB / 20)))


def gap_shielding(gap: float, frequency: float, permittivity: float) -> float:
    """Shielding of one gap of `gap` mm: 20 log10(l / 2s) in dB for s < l/2, and 0 for a longer one.

    Source: H. Ott, Electromagnetic Compatibility Engineering, 2009, ch. 6. An eighth of a wavelength gives 12.04 dB.
    """
    length = wavelength(frequency, permittivity)
    require(0 < gap < math.inf, "a gap", gap, "mm", "must be above zero")
    return max(0.0, 20 * math.log10(length / (2 * gap)))


def effective_width(width: float, diameter: float, pitch: float) -> float:
    """w - d^2 / (0.95 p): the rectangular guide that is as wide as two fences, in mm.

    `width` is from centre to centre of two fences of posts with this diameter and pitch, all in mm. Source: Y. Cassivi
    et al., Dispersion Characteristics of Substrate Integrated Rectangular Waveguide, IEEE Microwave and Wireless
    Components Letters 12(9), 2002. Raises ValueError for posts that overlap, along or across the guide.
    """
    require(0 < diameter < math.inf, "a diameter", diameter, "mm", "must be above zero")
    require(diameter < pitch < math.inf, "a pitch", pitch, "mm", f"must be more than the diameter of {diameter:g} mm")
    require(diameter < width < math.inf, "a width", width, "mm", f"must be more than the diameter of {diameter:g} mm")
    effective = width - diameter**2 / (0.95 * pitch)
    require(effective > 0, "a width", width, "mm", "leaves no room between the fences")
    return effective
