"""Quarter-wave stubs."""

from __future__ import annotations

import math

import pytest
import skrf
from scipy.constants import c

from fencepost.physics.stub import stub_length, stub_resonance


def test_one_millimetre_in_glass_epoxy() -> None:
    """c / (4 L sqrt(er)) by hand: 299.792458e9 mm/s / (4 x 1 mm x 2) = 37.474 GHz at er 4."""
    assert stub_resonance(1.0, 4.0) == pytest.approx(37.474057e9, rel=1e-7)


@pytest.mark.parametrize("length", [0.2, 1.6, 5.0])
@pytest.mark.parametrize("permittivity", [1.0, 4.3])
def test_the_stub_shorts_its_line_there(length: float, permittivity: float) -> None:
    """At the resonance, an open line of that length as scikit-rf has it is a short; well off, it is not."""
    found = stub_resonance(length, permittivity)
    frequency = skrf.Frequency.from_f([0.5 * found, found], unit="Hz")
    gamma = 2j * math.pi * frequency.f * math.sqrt(permittivity) / c
    line = skrf.media.DefinedGammaZ0(frequency, z0=50, gamma=gamma).delay_open(length * 1e-3, "m")
    off, on = line.s[:, 0, 0]
    assert on == pytest.approx(-1, abs=1e-9)
    assert abs(off + 1) > 1


def test_length_is_the_inverse_of_resonance() -> None:
    assert stub_length(stub_resonance(0.73, 3.66), 3.66) == pytest.approx(0.73)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: stub_resonance(0.0, 4.0), "0 mm"),
        (lambda: stub_resonance(-1.0, 4.0), "-1 mm"),
        (lambda: stub_resonance(math.nan, 4.0), "nan mm"),
        (lambda: stub_resonance(1.0, 0.9), "permittivity of 0.9"),
        (lambda: stub_length(0.0, 4.0), "0 Hz"),
        (lambda: stub_length(1e9, math.nan), "permittivity of nan"),
    ],
)
def test_what_cannot_be_is_refused_with_value_and_unit(call, text: str) -> None:
    with pytest.raises(ValueError, match=text):
        call()
