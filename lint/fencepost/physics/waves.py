"""Wavelength, the pitch that a frequency asks for, and the bandwidth of an edge."""

from __future__ import annotations

import math

SPEED_OF_LIGHT = 299_792_458e3
"""Millimetres a second, exact: SI Brochure, BIPM, 9th edition, 2019."""


def require(holds: bool, quantity: str, value: float, unit: str, must: str) -> None:
    """Raise ValueError with the value and the unit in its text unless `holds`."""
    if not holds:
        raise ValueError(f"{quantity} of {value:g}{' ' if unit else ''}{unit} {must}")


def wavelength(frequency: float, permittivity: float) -> float:
    """c / (f sqrt(er)), in mm, of a plane wave in a dielectric.

    `frequency` in Hz, `permittivity` relative. Source: SI Brochure, BIPM, for c; any text on waves for the rest.
    Raises ValueError for a frequency that is not above zero, or a permittivity below 1.
    """
    require(0 < frequency < math.inf, "a frequency", frequency, "Hz", "must be above zero")
    require(1 <= permittivity < math.inf, "a relative permittivity", permittivity, "", "must be 1 or more")
    return SPEED_OF_LIGHT / (frequency * math.sqrt(permittivity))


def pitch_for(frequency: float, permittivity: float, fraction: float = 8) -> float:
    """The largest pitch of a fence at a frequency: wavelength / fraction, in mm (common practice, no source)."""
    require(0 < fraction < math.inf, "a fraction", fraction, "", "must be above zero")
    return wavelength(frequency, permittivity) / fraction


def frequency_for(pitch: float, permittivity: float, fraction: float = 8) -> float:
    """The highest frequency (Hz) of a fence of this pitch (mm): c / (fraction p sqrt(er)). Common practice, no source.

    2.0 mm at er 4 gives 9.37 GHz at an eighth of a wavelength, 0.5 mm gives 37.5 GHz.
    """
    require(0 < pitch < math.inf, "a pitch", pitch, "mm", "must be above zero")
    return pitch_for(1.0, permittivity, fraction) / pitch


def edge_bandwidth(rise_time: float) -> float:
    """0.35 / t, in Hz: the -3 dB bandwidth of a single-pole response that rises from 10 to 90 % in t seconds.

    ln(9) / (2 pi) = 0.3497, rounded as textbooks do.
    """
    require(0 < rise_time < math.inf, "a rise time", rise_time, "s", "must be above zero")
    return 0.35 / rise_time


def check_grid(pitch: float, diameter: float, frequency: float, permittivity: float) -> float:
    """The wavelength in mm of what a grid is solved for: pitch and diameter in mm, frequency in Hz.

    Raises ValueError unless 0 < diameter < pitch < wavelength: a longer pitch sends waves in several directions.
    """
    length = wavelength(frequency, permittivity)
    require(0 < pitch < length, "a pitch", pitch, "mm", f"must be above zero and below a wavelength, {length:.4g} mm")
    require(0 < diameter < pitch, "a diameter", diameter, "mm", f"must be above zero and below the pitch, {pitch:g} mm")
    return length
