"""Wavelength, pitch and bandwidth against values that do not come from here."""

from __future__ import annotations

import math

import numpy as np
import pytest
import skrf

from fencepost.physics.waves import SPEED_OF_LIGHT, edge_bandwidth, frequency_for, pitch_for, wavelength


def test_the_speed_of_light_is_the_one_that_defines_the_metre() -> None:
    """SI Brochure, BIPM, 9th edition, 2019: 299 792 458 m/s, exact."""
    assert SPEED_OF_LIGHT == 299_792_458_000


@pytest.mark.parametrize(
    ("frequency", "permittivity", "expected"),
    [
        (299.792458e6, 1.0, 1000.0),  # by the definition of the metre
        (299.792458e6, 4.0, 500.0),  # and half of it at er 4
        (1420.405751768e6, 1.0, 211.061140542),  # hydrogen line: the wavelength that goes with it, from memory
    ],
)
def test_wavelength(frequency: float, permittivity: float, expected: float) -> None:
    assert wavelength(frequency, permittivity) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("permittivity", [1.0, 2.2, 4.2, 10.2])
def test_wavelength_agrees_with_a_plane_wave_of_scikit_rf(permittivity: float) -> None:
    """scikit-rf, media.Freespace: the phase constant of a plane wave is 2 pi / wavelength."""
    frequency = skrf.Frequency.from_f([0.868e9, 9.37e9, 77e9], unit="hz")
    phase_constant = skrf.media.Freespace(frequency, ep_r=permittivity).gamma.imag
    ours = [wavelength(f, permittivity) for f in frequency.f]
    assert np.allclose(ours, 2 * math.pi / phase_constant * 1000, rtol=1e-6)


@pytest.mark.parametrize(("pitch", "gigahertz"), [(2.0, 9.37), (0.5, 37.5)])
def test_highest_frequency_of_a_pitch_at_an_eighth_of_a_wavelength(pitch: float, gigahertz: float) -> None:
    """At er 4; common practice, no source."""
    assert frequency_for(pitch, 4.0) / 1e9 == pytest.approx(gigahertz, abs=0.005 if pitch > 1 else 0.05)


def test_a_20_ghz_fence_on_laminate_of_er_3() -> None:
    """Worked by hand: 299.792458 / 20 = 14.98962 mm in vacuum, / 1.7320508 = 8.65426 mm, / 8 = 1.08178 mm."""
    assert pitch_for(20e9, 3.0) == pytest.approx(1.08178, abs=5e-6)
    assert pitch_for(20e9, 3.0, fraction=20) == pytest.approx(0.432713, abs=5e-7)


@pytest.mark.parametrize("permittivity", [1.0, 4.3])
@pytest.mark.parametrize("fraction", [1.0, 8.0, 20.0])
def test_pitch_and_frequency_undo_one_another(permittivity: float, fraction: float) -> None:
    assert frequency_for(pitch_for(5e9, permittivity, fraction), permittivity, fraction) == pytest.approx(5e9)


def test_bandwidth_of_an_edge() -> None:
    """1 ns stands for 350 MHz (textbook relation); the response of an RC gives ln 9 / 2 pi / t, 0.1 % less."""
    assert edge_bandwidth(1e-9) == pytest.approx(350e6)
    decay = 1 / (2 * math.pi * 350e6)
    time = np.linspace(0, 10e-9, 1_000_001)
    response = 1 - np.exp(-time / decay)
    rise = time[np.searchsorted(response, 0.9)] - time[np.searchsorted(response, 0.1)]
    assert edge_bandwidth(rise) == pytest.approx(350e6, rel=2e-3)


@pytest.mark.parametrize(
    ("function", "arguments", "said"),
    [
        (wavelength, (0.0, 4.0), "a frequency of 0 Hz must be above zero"),
        (wavelength, (-1e9, 4.0), "a frequency of -1e+09 Hz must be above zero"),
        (wavelength, (math.nan, 4.0), "a frequency of nan Hz"),
        (wavelength, (math.inf, 4.0), "a frequency of inf Hz"),
        (wavelength, (1e9, 0.99), "a relative permittivity of 0.99 must be 1 or more"),
        (wavelength, (1e9, math.nan), "a relative permittivity of nan"),
        (pitch_for, (1e9, 4.0, 0.0), "a fraction of 0 must be above zero"),
        (frequency_for, (0.0, 4.0), "a pitch of 0 mm must be above zero"),
        (frequency_for, (2.0, 0.5), "a relative permittivity of 0.5"),
        (edge_bandwidth, (0.0,), "a rise time of 0 s must be above zero"),
        (edge_bandwidth, (math.inf,), "a rise time of inf s"),
    ],
)
def test_what_makes_no_sense_is_refused_with_value_and_unit(function, arguments, said: str) -> None:
    with pytest.raises(ValueError, match=said.replace("+", r"\+")):
        function(*arguments)
