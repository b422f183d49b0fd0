"""Inductance of barrels and of their loops with ties, and the reflection of an edge."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.constants import mu_0
from scipy.signal import lsim

from fencepost.physics.loop import barrel_inductance, detour_inductance, edge_reflection, loop_inductance

MU_MM = mu_0 * 1e-3


def test_johnson_and_grahams_barrel() -> None:
    """h 0.063 in, d 0.016 in: 1.2 nH. Johnson & Graham, High-Speed Digital Design, 1993, ch. 7."""
    assert barrel_inductance(0.063 * 25.4, 0.016 * 25.4) == pytest.approx(1.2e-9, abs=0.05e-9)


def test_equal_barrels_are_the_two_wire_line() -> None:
    """(mu0 h / pi) acosh(s / d), exact for parallel round wires: h 1.6, s 2, d 0.3 mm gives 1.655 nH."""
    expected = MU_MM * 1.6 / math.pi * math.acosh(2 / 0.3)
    assert loop_inductance(1.6, 2.0, 0.3) == pytest.approx(expected, rel=1e-12)
    assert expected == pytest.approx(1.654e-9, rel=1e-3)


@pytest.mark.parametrize("other", [0.05, 0.3, 0.8, 3.0])
@pytest.mark.parametrize("gap", [0.002, 0.1, 2.0])
def test_one_tie_is_the_exact_two_wire_line(other: float, gap: float) -> None:
    """acosh((4 s^2 - d1^2 - d2^2) / (2 d1 d2)): Smythe, Static and Dynamic Electricity, 1968 (from memory)."""
    spacing = (0.3 + other) / 2 + gap
    exact = math.acosh((4 * spacing**2 - 0.3**2 - other**2) / (2 * 0.3 * other)) * MU_MM * 0.7 / (2 * math.pi)
    assert loop_inductance(0.7, spacing, 0.3, other) == pytest.approx(exact, rel=1e-9)
    assert detour_inductance((5, 5), 0.3, [(5, 5 + spacing)], other, 0.7) == pytest.approx(exact, rel=2e-5)


@pytest.mark.parametrize("ties", [1, 2, 3, 4, 8])
def test_thin_ties_on_a_circle(ties: int) -> None:
    """(mu0 h / 2 pi) [ln(R / a) + ln(R / (n b)) / n], the line-charge result, which thin barrels tend to."""
    turn = 2 * math.pi * np.arange(ties) / ties
    xy = 10 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    expected = MU_MM / (2 * math.pi) * (math.log(10 / 0.05) + math.log(10 / (ties * 0.1)) / ties)
    assert detour_inductance((0, 0), 0.1, xy, 0.2, 1.0) == pytest.approx(expected, rel=1e-3)


def test_partial_inductances_of_thin_barrels_anywhere() -> None:
    """Three unlike ties: partial inductances -ln(distance), and the currents of least energy, worked out apart."""
    xy = np.array([(0, 0), (8, 1), (-3, 7), (11, 9.0)])
    radius = np.array([0.05, 0.1, 0.15, 0.05])
    apart = np.hypot(*(xy[:, None] - xy).transpose(2, 0, 1)) + np.diag(radius)
    partial = -np.log(apart)
    # Currents (-1, x, y, 1 - x - y): the energy is a parabola in x and y; its least value by normal equations.
    base, along = np.array([-1, 0, 0, 1.0]), np.array([[0, 1, 0, -1.0], [0, 0, 1, -1.0]])
    step = np.linalg.solve(along @ partial @ along.T, -along @ partial @ base)
    current = base + step @ along
    expected = MU_MM * 1.2 / (2 * math.pi) * current @ partial @ current
    found = detour_inductance(xy[0], 0.1, xy[1:], 2 * radius[1:], 1.2)
    assert found == pytest.approx(expected, rel=1e-3)


def test_a_further_tie_never_raises_the_inductance() -> None:
    """Thomson's theorem: one more way for the return current can only lower its least energy."""
    rng = np.random.default_rng(4)
    ties = [xy for xy in rng.uniform(-4, 4, (30, 2)) if np.hypot(*xy) > 0.7]
    apart = [xy for i, xy in enumerate(ties) if all(np.hypot(*(xy - other)) > 0.5 for other in ties[:i])]
    found = [detour_inductance((0, 0), 0.3, apart[:n], 0.3, 1.0) for n in range(1, len(apart) + 1)]
    assert len(found) > 10
    assert (np.diff(found) <= 1e-15).all()
    assert found[-1] < 0.7 * found[0]


def test_a_tie_in_the_shadow_of_another_helps_little() -> None:
    alone = detour_inductance((0, 0), 0.3, [(1, 0)], 0.3, 1.0)
    behind = detour_inductance((0, 0), 0.3, [(1, 0), (2, 0)], 0.3, 1.0)
    across = detour_inductance((0, 0), 0.3, [(1, 0), (-1, 0)], 0.3, 1.0)
    assert 0.85 * alone < behind < alone
    assert across < 0.75 * alone


def test_turning_moving_and_mirroring_change_nothing() -> None:
    xy, size = np.array([(0, 0), (1, 0.2), (-0.4, 1.5), (2, 2)]), np.array([0.25, 0.3, 0.4, 0.6])
    turn = np.array([[math.cos(0.7), math.sin(0.7)], [math.sin(0.7), -math.cos(0.7)]])
    moved = xy @ turn + [120, -35]
    expected = detour_inductance(xy[0], size[0], xy[1:], size[1:], 0.9)
    assert detour_inductance(moved[0], size[0], moved[1:], size[1:], 0.9) == pytest.approx(expected, rel=1e-9)
    assert detour_inductance(xy[0], size[0], xy[1:], size[1:], 1.8) == pytest.approx(2 * expected, rel=1e-12)


@pytest.mark.parametrize(("inductance", "rise_time"), [(1e-9, 100e-12), (1.5e-9, 20e-12), (3e-9, 10e-12)])
def test_reflection_of_a_ramp(inductance: float, rise_time: float) -> None:
    """The peak of what s L / (2 Z0 + s L) sends back of a straight ramp, by scipy's simulation of that network."""
    time = np.linspace(0, 5 * rise_time, 5001)
    ramp = np.minimum(time / rise_time, 1)
    _, back, _ = lsim(([inductance, 0], [inductance, 100.0]), ramp, time)
    assert edge_reflection(inductance, 50.0, rise_time) == pytest.approx(back.max(), rel=2e-3)


def test_the_textbook_reflection_of_slow_edges() -> None:
    """L / (2 Z0 t): 1 nH in 50 ohm and 100 ps gives 0.1. Johnson & Graham (from memory)."""
    assert edge_reflection(1e-9, 50.0, 100e-12) == pytest.approx(0.1, rel=1e-3)
    assert edge_reflection(1e-9, 50.0, 40e-12) == pytest.approx(0.25, rel=0.02)
    assert edge_reflection(1e-9, 50.0, 1e-15) == pytest.approx(1, rel=1e-4)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: loop_inductance(0.0, 1.0, 0.3), "height.* of 0 mm"),
        (lambda: loop_inductance(1.0, 0.3, 0.3), "spacing of 0.3 mm"),
        (lambda: loop_inductance(1.0, -1.0, 0.3), "-1 mm"),
        (lambda: loop_inductance(1.0, 1.0, 0.3, 0.0), "0 mm"),
        (lambda: loop_inductance(1.0, math.nan, 0.3), "nan mm"),
        (lambda: barrel_inductance(-1.6, 0.3), "-1.6 mm"),
        (lambda: barrel_inductance(0.1, 1.2), "height of 0.1 mm"),
        (lambda: detour_inductance((0, 0), 0.3, np.empty((0, 2)), 0.3, 1.0), "0 ties"),
        (lambda: detour_inductance((0, 0), 0.3, [(0.2, 0)], 0.3, 1.0), "spacing of 0.2 mm"),
        (lambda: detour_inductance((0, 0), 0.3, [(1, 0), (1, 0)], 0.3, 1.0), "spacing of 0 mm"),
        (lambda: detour_inductance((0, 0), 0.3, [(1, 0)], 0.0, 1.0), "diameter of 0 mm"),
        (lambda: detour_inductance((0, 0), 0.3, [(1, math.nan)], 0.3, 1.0), "not finite"),
        (lambda: detour_inductance((0, 0), 0.3, [(1, 0)], 0.3, 0.0), "0 mm"),
        (lambda: edge_reflection(1e-9, 0.0, 1e-10), "0 ohm"),
        (lambda: edge_reflection(-1e-9, 50.0, 1e-10), "H"),
        (lambda: edge_reflection(1e-9, 50.0, 0.0), "0 s"),
    ],
)
def test_what_cannot_be_is_refused_with_value_and_unit(call, text: str) -> None:
    with pytest.raises(ValueError, match=text):
        call()
