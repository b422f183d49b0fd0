"""The endless fence: closed form, lattice sums, one gap, and the guide between two fences."""

from __future__ import annotations

import numpy as np
import pytest
import skrf
from scipy.optimize import brentq
from scipy.special import hankel2

from fencepost.physics.grid import (
    effective_width,
    endless_isolation,
    gap_shielding,
    isolation_of,
    shunt_reactance,
    thin_isolation,
)
from fencepost.physics.lattice import grid_waves, lattice_sum
from fencepost.physics.waves import SPEED_OF_LIGHT, wavelength


def frequency_at(length: float, er: float = 4.0) -> float:
    """Of a wavelength in mm."""
    return SPEED_OF_LIGHT / (length * er**0.5)


def solved(pitch: float, diameter: float, frequency: float, er: float = 4.0) -> float:
    return isolation_of(abs(grid_waves(pitch, diameter, frequency, er)[1]))


@pytest.mark.parametrize(
    ("pitch", "frequency", "expected"),
    [(2.032, 9.221e9, 12.8), (6.35, 2.4e9, 8.2)],
)
def test_isolation_by_the_closed_form(pitch: float, frequency: float, expected: float):
    """Posts of 0.254 mm at er 4, worked by hand from N. Marcuvitz, Waveguide Handbook, 1951."""
    assert thin_isolation(pitch, 0.254, frequency, 4.0) == pytest.approx(expected, abs=0.05)
    assert endless_isolation(pitch, 0.254, frequency, 4.0) == thin_isolation(pitch, 0.254, frequency, 4.0)


@pytest.mark.parametrize("share", [1e-6, 0.125, 0.5, 0.9, 0.999])
def test_the_series_is_summed_to_its_end(share: float):
    """Against a million terms and the integral of the rest."""
    m = np.arange(1.0, 1e6)
    series = (share**2 / (np.sqrt(m**2 - share**2) * (np.sqrt(m**2 - share**2) + m) * m))[::-1].sum()
    expected = share * (np.log(10 / np.pi) + series)
    assert shunt_reactance(share, 0.1 * share, frequency_at(1.0), 4.0) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("share", [0.05, 0.125, 0.4, 0.9])
@pytest.mark.parametrize("order", [0, 2, 4, 6, 8])
def test_lattice_sums_are_the_sums_themselves(order: int, share: float):
    """Term by term with a loss that is then taken away: twice the result at half the loss, less that at the whole."""

    def with_loss(loss: float) -> complex:
        m = np.arange(1, int(5 / (share * loss)))
        return 2 * hankel2(order, 2 * np.pi * share * (1 - 1j * loss) * m).sum()

    expected = 2 * with_loss(1e-3) - with_loss(2e-3)
    assert lattice_sum(order, share) == pytest.approx(expected, rel=3e-4)


@pytest.mark.parametrize("thickness", [0.01, 0.125, 0.3, 0.6, 0.9])
@pytest.mark.parametrize("share", [1e-4, 0.01, 0.125, 0.7, 0.99])
def test_what_is_not_reflected_passes(share: float, thickness: float):
    reflected, passed = grid_waves(share, thickness * share, frequency_at(1.0), 4.0)
    assert abs(reflected) ** 2 + abs(passed) ** 2 == pytest.approx(1, abs=1e-6)


@pytest.mark.parametrize("share", [1e-3, 0.125, 0.4])
@pytest.mark.parametrize("thickness", [0.01, 0.05, 0.125])
def test_thickness_counts_as_the_slope_of_the_field_says(share: float, thickness: float):
    """Even and odd waves from both sides: the odd one meets the series reactance of the posts' dipoles, which moves its
    zero by pi a^2 / p, worked out by hand from the image of a uniform gradient in a cylinder; the closed form has only
    the even one. T is half the difference of their reflections."""
    closed = 2j * shunt_reactance(share, thickness * share, frequency_at(1.0), 4.0)
    odd = -1j * np.tan(2 * np.pi * share * np.pi * (thickness / 2) ** 2)
    expected = abs((closed - 1) / (closed + 1) - (odd - 1) / (odd + 1)) / 2
    assert solved(share, thickness * share, frequency_at(1.0)) == pytest.approx(isolation_of(expected), abs=0.04)


def test_the_closed_form_promises_too_much_for_thick_posts():
    at = frequency_at(8.0)
    above = [thin_isolation(1.0, d, at, 4.0) - solved(1.0, d, at) for d in (0.05, 0.125, 0.25)]
    assert above == pytest.approx([0.03, 0.34, 3.9], abs=0.03)


def test_thick_posts_are_solved_and_isolate_more_the_thicker_they_are():
    found = [endless_isolation(1.0, d, 20e9, 4.0) for d in (0.15, 0.2, 0.3, 0.4, 0.6, 0.8)]
    assert found == sorted(found)
    assert endless_isolation(1.0, 0.2, 20e9, 4.0) == solved(1.0, 0.2, 20e9)
    assert endless_isolation(1.0, 0.97, 1e6, 4.0) == 100


def test_far_below_the_pitch_isolation_grows_by_20_db_a_decade():
    """Through the bound at which the field between posts is taken for static."""
    found = [solved(1.0, 0.3, frequency_at(length)) for length in (300.0, 999.0, 1001.0, 3000.0)]
    assert found[3] - found[0] == pytest.approx(20, abs=0.002)
    assert found[2] - found[1] == pytest.approx(20 * np.log10(1001 / 999), abs=1e-5)


@pytest.mark.parametrize(("gap", "expected"), [(12.5, 12.04), (25.0, 6.02), (50.0, 0.0), (80.0, 0.0), (5.0, 20.0)])
def test_shielding_of_one_gap(gap: float, expected: float):
    """20 log10(l / 2s) at a wavelength of 100 mm: H. Ott, Electromagnetic Compatibility Engineering, 2009, ch. 6."""
    assert gap_shielding(gap, frequency_at(100.0), 4.0) == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(("width", "diameter", "pitch"), [(10, 1, 2), (10, 0.6, 1.2), (8, 0.8, 2), (20, 0.5, 1)])
def test_a_guide_between_fences_cuts_off_like_the_rectangular_guide_of_its_effective_width(width, diameter, pitch):
    """Cut-off of the guide from scikit-rf, media.RectangularWaveguide; that of the fences is where a wave that goes
    straight across, from solved fence to solved fence and back, comes back in phase. Cassivi's relation is a fit, here
    good to 1.1 %."""
    effective = effective_width(width, diameter, pitch)
    band = skrf.Frequency(1, 20, 3, "ghz")
    guide = skrf.media.RectangularWaveguide(band, a=effective / 1000, ep_r=4.0, mode_type="te", m=1, n=0)
    expected = guide.kc / 1000

    def out_of_phase(k: float) -> float:
        reflected, _ = grid_waves(pitch, diameter, frequency_at(2 * np.pi / k), 4.0)
        return float(np.angle(reflected * np.exp(-1j * k * width)))

    assert brentq(out_of_phase, 0.9 * expected, 1.1 * expected) == pytest.approx(expected, rel=0.011)


def test_effective_width_by_hand():
    assert effective_width(10.0, 0.95, 1.9) == pytest.approx(9.5)


@pytest.mark.parametrize("find", [shunt_reactance, thin_isolation, endless_isolation, grid_waves])
@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"pitch": 0.0}, "a pitch of 0 mm"),
        ({"pitch": -2.0}, "a pitch of -2 mm"),
        ({"pitch": 40.0}, "below a wavelength, 37.47 mm"),
        ({"diameter": 0.0}, "a diameter of 0 mm"),
        ({"diameter": 2.0}, "below the pitch, 2 mm"),
        ({"diameter": float("nan")}, "a diameter of nan mm"),
        ({"frequency": 0.0}, "a frequency of 0 Hz"),
        ({"permittivity": 0.5}, "a relative permittivity of 0.5"),
    ],
)
def test_a_grid_that_cannot_be_is_refused_with_value_and_unit(find, change, said: str):
    asked = {"pitch": 2.0, "diameter": 0.2, "frequency": 4e9, "permittivity": 4.0}
    with pytest.raises(ValueError, match=said.replace(".", r"\.")):
        find(**(asked | change))


@pytest.mark.parametrize(
    ("find", "arguments", "said"),
    [
        (thin_isolation, (1.0, 0.3, 4e9, 4.0), "a diameter of 0.3 mm must be at most 1/4 of the pitch"),
        (gap_shielding, (0.0, 4e9, 4.0), "a gap of 0 mm"),
        (gap_shielding, (1.0, 0.0, 4.0), "a frequency of 0 Hz"),
        (effective_width, (10.0, 0.0, 2.0), "a diameter of 0 mm"),
        (effective_width, (10.0, 2.0, 2.0), "a pitch of 2 mm"),
        (effective_width, (1.0, 1.0, 2.0), "a width of 1 mm"),
    ],
)
def test_other_sizes_that_cannot_be(find, arguments, said: str):
    with pytest.raises(ValueError, match=said.replace(".", r"\.")):
        find(*arguments)


def test_the_figures_of_these_tests_are_what_they_say():
    assert wavelength(frequency_at(8.0), 4.0) == pytest.approx(8.0)
