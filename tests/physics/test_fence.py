"""Isolation of a fence as drilled: against the endless fence, under every motion, and with a gap."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fencepost.physics.cylindrical import LineSources, PlaneWave
from fencepost.physics.fence import insertion_loss, isolation, posts_between
from fencepost.physics.grid import isolation_of, thin_isolation
from fencepost.physics.lattice import grid_waves
from fencepost.physics.waves import wavelength

PITCH, DIAMETER, FREQUENCY, ER = 2.032, 0.254, 9.221e9, 4.0
"""A pitch of an eighth of a wavelength, posts of an eighth of the pitch."""


def row(count: int, pitch: float = PITCH, y: float = 0.0):
    return np.stack([(np.arange(count) - (count - 1) / 2) * pitch, np.full(count, y)], axis=1)


def trace(count: int, y: float = -1.5, pitch: float = PITCH):
    return np.array([(-count * pitch / 2, y), (count * pitch / 2, y)])


def isolation_of_row(count: int, y: float = -1.5, diameter: float = DIAMETER) -> float:
    return isolation(row(count), diameter, FREQUENCY, ER, trace(count, y))


def endless(diameter: float = DIAMETER) -> float:
    return isolation_of(abs(grid_waves(PITCH, diameter, FREQUENCY, ER)[1]))


@pytest.mark.parametrize(("count", "within"), [(16, 0.5), (32, 0.1), (64, 0.03), (128, 0.01)])
def test_a_fence_comes_nearer_to_the_endless_one_as_it_grows(count: int, within: float):
    """Two to sixteen wavelengths of fence. The endless grid is solved by lattice sums, from one post."""
    assert isolation_of_row(count) == pytest.approx(endless(), abs=within)


def test_each_time_that_it_doubles_it_comes_nearer():
    away = [abs(isolation_of_row(count) - endless()) for count in (8, 16, 32, 64, 128)]
    assert all(after < 0.5 * before for before, after in pairwise(away))


@pytest.mark.parametrize(("thickness", "within"), [(1 / 8, 0.35), (1 / 16, 0.06), (1 / 32, 0.02), (1 / 64, 0.02)])
def test_a_long_fence_of_thin_posts_meets_the_closed_form(thickness: float, within: float):
    """N. Marcuvitz, Waveguide Handbook, 1951, gratings of round posts: 12.78 dB at a thickness of 1/8.

    What is left falls as the square of the thickness: it is the answer of each post to the slope of the field, which
    the closed form leaves out (test_grid has its size).
    """
    closed = thin_isolation(PITCH, thickness * PITCH, FREQUENCY, ER)
    found = isolation_of_row(100, diameter=thickness * PITCH)
    assert found == pytest.approx(closed, abs=within)
    if thickness == 1 / 8:
        assert (round(found, 1), round(closed, 1)) == (12.4, 12.8)


@pytest.mark.parametrize("away", [0.6, 1.5, 4.0, 9.0])
def test_how_far_the_trace_is_from_a_long_fence_does_not_matter(away: float):
    assert isolation_of_row(64, -away) == pytest.approx(endless(), abs=0.05)


def test_thick_posts_too():
    """Posts of 0.6 of the pitch, where the closed form is far off."""
    assert isolation_of_row(128, diameter=0.6 * PITCH) == pytest.approx(endless(0.6 * PITCH), abs=0.5)


def test_the_wave_behind_a_wide_fence_is_the_one_that_an_endless_fence_lets_through():
    """A plane wave square on; averaged over a window four wavelengths wide and two behind 301 posts."""
    x = np.linspace(-32, 32, 60)
    points = np.stack([x, np.full(60, 32.0)], axis=1)
    loss = insertion_loss(row(301), DIAMETER, FREQUENCY, ER, PlaneWave(90.0), points)
    assert -10 * np.log10((10 ** (-loss / 10)).mean()) == pytest.approx(endless(), abs=0.3)


@pytest.mark.parametrize("frequency", [0.868e9, 2.4e9, 9.221e9])
def test_every_missing_post_costs_isolation_and_mending_brings_it_back(frequency: float):
    count, centre = 41, 20
    posts = row(count)
    found = []
    for missing in (0, 1, 3, 5):
        half = missing // 2
        left = np.delete(posts, np.arange(centre - half, centre + half + 1)[:missing], axis=0)
        found.append(isolation(left, DIAMETER, frequency, ER, trace(count)))
    assert found == sorted(found, reverse=True)
    assert found[0] - found[1] > 0.5
    ends = posts[centre - 3], posts[centre + 3]
    mended = np.concatenate([left, posts_between(*ends, PITCH)])
    assert isolation(mended, DIAMETER, frequency, ER, trace(count)) == pytest.approx(found[0], abs=1e-9)


def test_below_a_wavelength_the_ends_are_what_leaks():
    """At 868 MHz 60 mm are a third of a wavelength: such a fence isolates less than the endless one."""
    found = [isolation(row(n, 2.0), 0.3, 0.868e9, ER, trace(n, -0.8, 2.0)) for n in (5, 11, 31)]
    limit = isolation_of(abs(grid_waves(2.0, 0.3, 0.868e9, ER)[1]))
    assert found == sorted(found)
    assert 15 < found[0] < found[-1] < limit < found[-1] + 3


def test_a_second_row_isolates_more():
    one, two = row(40), np.concatenate([row(40), row(40, y=1.0) + np.array([PITCH / 2, 0.0])])
    assert isolation(two, DIAMETER, FREQUENCY, ER, trace(40)) > isolation(one, DIAMETER, FREQUENCY, ER, trace(40)) + 3


def bent():
    """A trace round a corner, seven posts on its left with a gap, and one of another size."""
    path = np.array([(0.0, 0.0), (6.0, 0.0), (10.0, 4.0), (10.0, 9.0)])
    posts = np.array([(0.0, 1.0), (2.0, 1.1), (5.4, 1.0), (7.2, 2.5), (8.8, 4.4), (9.0, 6.0), (9.0, 8.5)])
    return posts, np.array([0.3, 0.3, 0.3, 0.5, 0.3, 0.25, 0.3]), path


BENT = isolation(*bent()[:2], 10e9, 4.2, bent()[2])


@settings(max_examples=25, deadline=None)
@given(
    degrees=st.floats(0, 360),
    x=st.floats(-300, 300),
    y=st.floats(-300, 300),
    mirrored=st.booleans(),
    backwards=st.booleans(),
    seed=st.integers(0, 99),
)
def test_isolation_turns_moves_and_mirrors_with_the_fence(degrees, x, y, mirrored, backwards, seed):
    posts, diameters, path = bent()
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    flip = np.array([1.0, -1.0 if mirrored else 1.0])
    order = np.random.default_rng(seed).permutation(len(posts))
    moved = (path * flip) @ turn + [x, y]
    found = isolation(((posts * flip) @ turn + [x, y])[order], diameters[order], 10e9, 4.2, moved[:: 1 - 2 * backwards])
    assert found == pytest.approx(BENT, abs=1e-6)


@pytest.mark.parametrize(("scale", "er"), [(0.1, 4.2), (25.4, 4.2), (1.0, 1.0), (2.0, 9.8)])
def test_only_lengths_against_the_wavelength_count(scale: float, er: float):
    posts, diameters, path = bent()
    frequency = 10e9 / scale * (4.2 / er) ** 0.5
    assert isolation(posts * scale, diameters * scale, frequency, er, path * scale) == pytest.approx(BENT, abs=1e-6)


def test_more_corners_in_a_straight_line_change_nothing():
    posts, diameters, path = bent()
    split = np.concatenate([path[:1], [(2.5, 0.0), (2.5, 0.0), (4.0, 0.0)], path[1:]])
    assert isolation(posts, diameters, 10e9, 4.2, split) == pytest.approx(BENT, abs=1e-9)


def test_it_isolates_as_well_from_behind():
    """The wave goes either way alike, also through an uneven fence."""
    posts, diameters, _ = bent()
    front, behind = [(-1.0, -1.0), (11.0, -1.0)], [(-1.0, 10.0), (11.0, 10.0)]
    there = isolation(posts, diameters, 10e9, 4.2, front, behind)
    assert isolation(posts, diameters, 10e9, 4.2, behind, front) == pytest.approx(there, abs=0.02)


def test_no_posts_no_isolation():
    assert isolation(np.empty((0, 2)), np.empty(0), FREQUENCY, ER, trace(10)) == 0


def test_insertion_loss_of_a_line_source_behind_one_thick_post():
    source = LineSources(np.array([[0.0, -10.0]]), np.ones(1, dtype=complex))
    behind, beside, within = insertion_loss([(0.0, 0.0)], 3.0, 20e9, ER, source, [(0.0, 4.0), (30.0, 0.0), (0.0, 1.0)])
    assert behind > 10 and abs(beside) < 3 and within == 100


@pytest.mark.parametrize(
    ("last", "pitch", "expected"),
    [((4.0, 0.0), 2.0, [(2, 0)]), ((4.001, 0.0), 2.0, 2), ((0.0, 1.9), 2.0, 0), ((3.0, 4.0), 1.0, 4)],
)
def test_posts_that_mend_a_gap_are_the_fewest_within_the_pitch(last, pitch: float, expected):
    found = posts_between((0.0, 0.0), last, pitch)
    row_of_posts = np.concatenate([[(0.0, 0.0)], found, [last]])
    gaps = np.hypot(*np.diff(row_of_posts, axis=0).T)
    assert gaps.max() <= pitch + 1e-9
    assert np.allclose(gaps, gaps[0])
    assert len(found) == expected if isinstance(expected, int) else found.tolist() == [list(expected[0])]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"frequency": 0.0}, "a frequency of 0 Hz"),
        ({"frequency": float("nan")}, "a frequency of nan Hz"),
        ({"permittivity": 0.9}, "a relative permittivity of 0.9"),
        ({"diameters": 0.0}, "a diameter of 0 mm"),
        ({"diameters": 2.1}, "a distance of 2 mm"),
        ({"trace": [(0.0, 0.0), (4.0, 0.0)]}, "a distance of 0 mm from a post to the trace"),
        ({"trace": [(0.0, -0.1), (4.0, -0.1)]}, "more than its radius of 0.15 mm"),
        ({"trace": [(1.0, 1.0)]}, "a trace of 0 mm"),
        ({"trace": [(1.0, 1.0), (1.0, 1.0)]}, "a trace of 0 mm"),
        ({"trace": [(0.0, 1.0), (float("inf"), 1.0)]}, "inf mm"),
        ({"trace": [(1.0, -3.0), (1.0, 3.0)]}, "to the left of the trace and 2 to its right"),
        ({"trace": [(-2000.0, -1.0), (2000.0, -1.0)]}, "a trace of 4000 mm is too long"),
        ({"behind": [(0.0, -1.0), (4.0, -1.0)]}, "0 mm from a source"),
    ],
)
def test_what_cannot_be_is_refused_with_value_and_unit(change, said: str):
    asked = {
        "posts": [(0.0, 0.0), (2.0, 0.0), (4.0, 0.0)],
        "diameters": 0.3,
        "frequency": 5e9,
        "permittivity": 4.0,
        "trace": [(0.0, -1.0), (4.0, -1.0)],
    }
    with pytest.raises(ValueError, match=said.replace(".", r"\.")):
        isolation(**(asked | change))


def test_at_the_figures_of_the_tests_the_pitch_is_an_eighth_of_a_wavelength():
    assert wavelength(FREQUENCY, ER) / PITCH == pytest.approx(8, rel=1e-5)
