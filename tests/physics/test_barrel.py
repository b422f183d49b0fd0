"""Barrels among ties, as lines: against exact and handbook lines, inversion, scikit-rf and a separate field of pads."""

from __future__ import annotations

import math

import numpy as np
import pytest
import skrf
from scipy.constants import epsilon_0, mu_0
from scipy.special import j1

from fencepost.physics.barrel import (
    barrel_impedance,
    between_planes,
    cascade,
    coaxial_impedance,
    pad_capacitance,
    pair_impedance,
    ring_impedance,
    through_plane,
)
from fencepost.physics.wires import coaxial_factor, geometric_factor, potentials, two_wire_factor

ETA = math.sqrt(mu_0 / epsilon_0)


def on_circle(count: int, radius: float, start: float = 0.0) -> np.ndarray:
    turn = start + 2 * math.pi * np.arange(count) / count
    return radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)


@pytest.mark.parametrize("ratio", [0.2, 1.0, 3.0])
@pytest.mark.parametrize("gap", [10.0, 1.0, 0.1, 0.01, 0.002])
def test_one_tie_is_the_exact_two_wire_line(gap: float, ratio: float) -> None:
    """Z = (eta / 2 pi) acosh((4 s^2 - d1^2 - d2^2) / (2 d1 d2)), down to a gap of 0.2 % of the smaller radius."""
    one, other = 0.3, 0.3 * ratio
    spacing = (one + other) / 2 + gap * min(one, other) / 2
    exact = ETA / (2 * math.pi) * math.acosh((4 * spacing**2 - one**2 - other**2) / (2 * one * other))
    assert barrel_impedance((1, 2), one, [(1 + spacing, 2)], other, 1.0).ohms == pytest.approx(exact, rel=2e-5)


def test_the_line_of_a_barrel_is_consistent() -> None:
    """L C = mu e and Z = sqrt(L / C), as in every line with one dielectric."""
    line = barrel_impedance((0, 0), 0.3, on_circle(3, 1.0), 0.4, 4.2)
    assert line.inductance * line.capacitance == pytest.approx(mu_0 * epsilon_0 * 4.2, rel=1e-6)
    assert math.sqrt(line.inductance / line.capacitance) == pytest.approx(line.ohms, rel=1e-6)
    in_air = barrel_impedance((0, 0), 0.3, on_circle(3, 1.0), 0.4, 1.0)
    assert in_air.ohms == pytest.approx(line.ohms * math.sqrt(4.2), rel=1e-9)


@pytest.mark.parametrize("ties", [1, 2, 4, 6, 12])
def test_thin_ties_on_a_circle(ties: int) -> None:
    """(60 / sqrt(er)) [ln(R / a) + ln(R / (n b)) / n]: both solutions and the formula are one for thin barrels."""
    formula = ring_impedance(0.1, ties, 10.0, 0.2, 4.0)
    line = barrel_impedance((0, 0), 0.1, on_circle(ties, 10.0), 0.2, 4.0)
    assert line.thin_ohms == pytest.approx(formula, rel=1e-9)
    assert line.ohms == pytest.approx(formula, rel=1e-3)


def test_the_five_wire_line_of_the_handbook() -> None:
    """Reference Data for Radio Engineers: Z = (173 / sqrt(e)) log10(D / 0.933 d), D the side of the square.

    The handbook rounds 75 x 2.302585 = 172.7 (and 60 for 59.96), hence 0.3 %.
    """
    side, diameter = 50.0, 1.0
    handbook = 173 * math.log10(side / (0.933 * diameter))
    found = barrel_impedance((0, 0), diameter, on_circle(4, side / math.sqrt(2)), diameter, 1.0).ohms
    assert found == pytest.approx(handbook, rel=3e-3)
    line_charges = 59.9585 * 1.25 * math.log(side * 2 ** (1 / 10) / diameter)
    assert found == pytest.approx(line_charges, rel=1e-3)


@pytest.mark.parametrize("ties", [8, 16])
def test_ties_that_nearly_touch_close_round_the_barrel(ties: int) -> None:
    """They hold a coaxial line of radius R - b within them and lie within one of radius R: its impedance is between."""
    radius = 2.0
    tie = 2 * radius * math.sin(math.pi / ties) / 1.005
    found = barrel_impedance((0, 0), 0.5, on_circle(ties, radius), tie, 1.0).ohms
    assert coaxial_impedance(0.5, 2 * radius - tie, 1.0) < found < coaxial_impedance(0.5, 2 * radius, 1.0)


def inverted(xy: np.ndarray, diameters: np.ndarray, about: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    """Circles under inversion in the unit circle about a point outside all of them (plane geometry)."""
    ray = xy - np.array(about)
    power = (ray**2).sum(axis=1) - diameters**2 / 4
    return np.array(about) + ray / power[:, None], diameters / np.abs(power)


@pytest.mark.parametrize("about", [(0.55, 0.0), (0.55, -0.75), (2.2, 2.0)])
def test_inversion_leaves_the_field_alone(about: tuple[float, float]) -> None:
    """A potential stays one under inversion, circles stay circles, and charges stay: so must the factor.

    Sizes and distances are mixed up thoroughly by it, which no error of the solution would survive.
    """
    xy = np.array([(0, 0), (1, 0), (0.1, 1), (-0.9, 0.2), (0, -0.63), (1.5, 1.2)])
    sizes = np.array([0.4, 0.3, 0.9, 0.8, 0.8, 0.5])
    expected = geometric_factor(potentials(xy, sizes), (1.0,))
    assert geometric_factor(potentials(*inverted(xy, sizes, about)), (1.0,)) == pytest.approx(expected, rel=5e-5)


@pytest.mark.parametrize("offset", [0.0, 0.05, 0.2, 0.2499])
def test_the_eccentric_coaxial_line_is_an_inverted_two_wire_line(offset: float) -> None:
    """Inverted about a point between the two circles, each comes to lie outside the other: the factors are equal."""
    inner, outer = 0.3, 0.8
    about = (-0.3, 0.0)
    xy, sizes = inverted(np.array([(0.0, 0.0), (offset, 0.0)]), np.array([outer, inner]), about)
    assert np.hypot(*(xy[1] - xy[0])) > sizes.sum() / 2
    expected = two_wire_factor(float(np.hypot(*(xy[1] - xy[0]))), *map(float, sizes))
    assert coaxial_factor(inner, outer, offset) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(("inner", "outer", "permittivity"), [(0.3, 0.8, 4.2), (0.9, 1.0, 1.0), (0.1, 3.0, 2.2)])
def test_a_barrel_in_its_antipad_is_scikit_rfs_coaxial_line(inner: float, outer: float, permittivity: float) -> None:
    medium = skrf.media.Coaxial(
        skrf.Frequency(1, 1, 1, unit="GHz"), Dint=inner * 1e-3, Dout=outer * 1e-3, epsilon_r=permittivity, sigma=np.inf
    )
    expected = float(medium.z0_characteristic.real[0])
    assert coaxial_impedance(inner, outer, permittivity) == pytest.approx(expected, rel=1e-3)


def test_two_barrels_driven_against_each_other() -> None:
    """Without ties the exact two-wire line; ties on the line of symmetry carry nothing and, if thin, change nothing."""
    alone = pair_impedance([(-0.5, 0), (0.5, 0)], 0.3, np.empty((0, 2)), 0.3, 4.0)
    assert alone.ohms == pytest.approx(ETA / (2 * math.pi) * math.acosh(1 / 0.3), rel=1e-5)
    between = pair_impedance([(-0.5, 0), (0.5, 0)], 0.3, [(0, 1), (0, -1)], 0.02, 4.0)
    assert between.thin_ohms == pytest.approx(alone.thin_ohms, rel=1e-9)
    assert between.ohms == pytest.approx(alone.ohms, rel=1e-3)
    outside = pair_impedance([(-0.5, 0), (0.5, 0)], 0.3, [(-1, 0), (1, 0)], 0.3, 4.0)
    assert outside.ohms < 0.95 * alone.ohms


def test_turning_moving_mirroring_and_scaling_change_nothing() -> None:
    xy, sizes = np.array([(0, 0), (1, 0.2), (-0.4, 0.5), (2, 2)]), np.array([0.25, 0.3, 0.4, 0.6])
    turn = 2.54 * np.array([[math.cos(0.7), math.sin(0.7)], [math.sin(0.7), -math.cos(0.7)]])
    moved = xy @ turn + [120, -35]
    before = barrel_impedance(xy[0], sizes[0], xy[1:], sizes[1:], 3.0)
    after = barrel_impedance(moved[0], 2.54 * sizes[0], moved[1:], 2.54 * sizes[1:], 3.0)
    assert after.ohms == pytest.approx(before.ohms, rel=1e-9)
    assert after.thin_ohms == pytest.approx(before.thin_ohms, rel=1e-9)


def ritz_pad(pad: float, antipad: float) -> float:
    """C / e of a disc in the opening of a sheet: the least field energy over many trial slopes of potential in the gap.

    The energy of a half-space is pi e times the integral of k^2 F(k)^2, F the Hankel transform of the potential
    (Dirichlet's principle); the slopes are cos(m t) over the root that an edge calls for, x = cos t across the gap.
    """
    inner, outer, nodes, terms = pad / 2, antipad / 2, 64, 7
    angle = (np.arange(nodes) + 0.5) * math.pi / nodes
    radius = (inner + outer) / 2 + (outer - inner) / 2 * np.cos(angle)
    k = np.linspace(0, 1, 6001)[1:] ** 2 * 200 / (outer - inner)
    slopes = np.cos(np.arange(terms)[:, None] * angle) / nodes
    waves = j1(np.outer(radius, k)) * radius[:, None]
    spectrum = slopes @ waves
    energy = np.array([[np.trapezoid(a * b, k) for a in spectrum] for b in spectrum])
    shape = np.append(1.0, -np.linalg.solve(energy[1:, 1:], energy[1:, 0]))
    return 4 * math.pi * float(shape @ energy @ shape)


@pytest.mark.parametrize(("pad", "within"), [(0.9, 0.03), (0.6, 0.03), (0.3, 0.03), (0.2, 0.1), (0.05, 0.1)])
def test_pad_in_its_antipad(pad: float, within: float) -> None:
    """Against a separate solution of the field by Ritz's method; both sides of the sheet, opening of 1 mm."""
    found = pad_capacitance(pad, 1.0, 1.0) / (epsilon_0 * 1e-3)
    assert found == pytest.approx(ritz_pad(pad, 1.0), rel=within)


def test_a_small_disc_far_from_the_sheet_is_a_disc_on_its_own() -> None:
    """8 e a: a disc in free space, known since Cavendish (textbook); 0.354 pF for a radius of 5 mm."""
    assert pad_capacitance(10.0, 1e4, 1.0) == pytest.approx(0.354e-12, rel=1e-3)


def test_a_cascade_is_scikit_rfs_cascade_of_lines() -> None:
    """sqrt(sum L / sum C) against the image impedance sqrt(B / C) of scikit-rf's chain of unlike lines.

    Six gaps and five planes: exact at low frequency, within 2 % where the whole is an eighth of a wavelength.
    """
    line = barrel_impedance((0, 0), 0.3, on_circle(4, 1.0), 0.3, 4.2)
    gap, plane = between_planes(line, 0.28), through_plane(0.5, 0.8, 0.035, 4.2)
    sections = [gap, plane, gap, plane, gap, plane, gap, plane, gap, plane, gap]
    whole = cascade(sections)
    frequency = skrf.Frequency.from_f([0.001 / whole.delay, 0.12 / whole.delay], unit="Hz")
    chain = None
    for section in sections:
        ohms = math.sqrt(section.inductance / section.capacitance)
        gamma = 1j * frequency.w * math.sqrt(section.inductance * section.capacitance)
        medium = skrf.media.DefinedGammaZ0(frequency, z0_port=50, z0=ohms, gamma=gamma)
        piece = medium.line(1, "m")
        chain = piece if chain is None else chain**piece
    image = np.sqrt(chain.a[:, 0, 1] / chain.a[:, 1, 0]).real
    turn = np.arccos(chain.a[:, 0, 0].real)
    assert image[0] == pytest.approx(whole.ohms, rel=1e-4)
    assert image[1] == pytest.approx(whole.ohms, rel=0.02)
    assert turn == pytest.approx(frequency.w * whole.delay, rel=2e-3)


def test_a_barrel_without_planes_is_its_own_line() -> None:
    line = barrel_impedance((0, 0), 0.3, on_circle(2, 1.0), 0.3, 4.0)
    whole = cascade([between_planes(line, 0.4), between_planes(line, 1.2)])
    assert whole.ohms == pytest.approx(line.ohms, rel=1e-6)
    assert whole.delay == pytest.approx(1.6e-3 * 2 / 299_792_458, rel=1e-6)


def test_planes_and_pads_lower_the_impedance() -> None:
    """The larger the pad and the smaller the antipad, the lower."""
    line = barrel_impedance((0, 0), 0.3, on_circle(2, 1.0), 0.3, 4.0)
    gap = between_planes(line, 0.4)

    def whole(pad: float, antipad: float) -> float:
        return cascade([gap, through_plane(pad, antipad, 0.035, 4.0), gap]).ohms

    assert whole(0.6, 0.8) < whole(0.6, 1.0) < whole(0.5, 1.0) < whole(0.3, 1.0) < line.ohms


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: barrel_impedance((0, 0), 0.3, np.empty((0, 2)), 0.3, 4.0), "0 ties"),
        (lambda: barrel_impedance((0, 0), 0.3, [(0.25, 0)], 0.3, 4.0), "spacing of 0.25 mm"),
        (lambda: barrel_impedance((0, 0), 3.0, [(0.1, 0)], 0.3, 4.0), "spacing of 0.1 mm"),
        (lambda: barrel_impedance((0, 0), 0.0, [(1, 0)], 0.3, 4.0), "diameter of 0 mm"),
        (lambda: barrel_impedance((0, 0), 0.3, [(1, 0)], -0.3, 4.0), "diameter of -0.3 mm"),
        (lambda: barrel_impedance((0, 0), math.nan, [(1, 0)], 0.3, 4.0), "diameter of nan mm"),
        (lambda: barrel_impedance((0, 0), 0.3, [(1, 0)], 0.3, 0.5), "permittivity of 0.5"),
        (lambda: ring_impedance(0.3, 0, 1.0, 0.3, 4.0), "0 ties"),
        (lambda: ring_impedance(0.3, 40, 1.0, 0.3, 4.0), "radius of 1 mm"),
        (lambda: ring_impedance(0.3, 1, 0.2, 0.3, 4.0), "radius of 0.2 mm"),
        (lambda: coaxial_impedance(0.8, 0.8, 4.0), "gap of 0 mm"),
        (lambda: coaxial_impedance(0.3, 0.8, 4.0, 0.25), "gap of 0 mm"),
        (lambda: coaxial_impedance(0.3, 0.8, 4.0, -0.1), "offset of -0.1 mm"),
        (lambda: coaxial_impedance(0.3, 0.8, 0.0), "permittivity of 0"),
        (lambda: pad_capacitance(0.8, 0.8, 4.0), "pad of 0.8 mm"),
        (lambda: pad_capacitance(0.0, 0.8, 4.0), "0 mm"),
        (lambda: through_plane(0.5, 0.8, 0.0, 4.0), "0 mm"),
        (lambda: cascade([]), "0 sections"),
    ],
)
def test_what_cannot_be_is_refused_with_value_and_unit(call, text: str) -> None:
    with pytest.raises(ValueError, match=text):
        call()
