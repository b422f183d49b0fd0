"""Multiple scattering against the series for one cylinder, line charges inside the posts, and energy."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.special import hankel2, jv

from fencepost.physics.cylindrical import LineSources, PlaneWave, outgoing
from fencepost.physics.scattering import MOST_POSTS, RoundPosts, Scattered, round_posts, scatter, settled

THREE = round_posts([(0.0, 0.0), (1.3, 0.4), (0.2, 1.1)], [0.5, 0.9, 0.3])


def circle(centre, radius: float, count: int):
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return np.asarray(centre) + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def scattered_posts(seed: int) -> RoundPosts:
    """Twelve posts of all sizes that do not touch."""
    random = np.random.default_rng(seed)
    centre = np.stack(np.meshgrid(np.arange(4.0), np.arange(3.0)), axis=-1).reshape(-1, 2)
    return round_posts(centre + random.uniform(-0.2, 0.2, centre.shape), random.uniform(0.05, 0.5, len(centre)))


def far_field(answer: Scattered, degrees):
    """F in u ~ F sqrt(2 / (pi k r)) exp(-j (k r - pi/4)), from H(2)_n at large arguments."""
    angle = np.radians(degrees)
    order = np.arange(-answer.order, answer.order + 1)
    towards = np.stack([np.cos(angle), np.sin(angle)])
    ahead = np.exp(1j * answer.wavenumber * (answer.posts.centre @ towards))
    return np.einsum("mn,np,mp->p", answer.coefficients, ahead, np.exp(1j * np.outer(order, angle + np.pi / 2)))


@pytest.mark.parametrize("degrees", [0.0, 90.0, 214.0])
@pytest.mark.parametrize("ka", [1e-3, 0.1, 1.0, 6.0])
def test_one_post_is_the_textbook_series(ka: float, degrees: float):
    """u = sum of (-j)^n [J_n(k r) - J_n(k a) / H_n(k a) H_n(k r)] exp(j n (phi - phi0)): R. F. Harrington,
    Time-Harmonic Electromagnetic Fields, 1961, 5-9, a wave polarised along a conducting cylinder."""
    k = 2.0
    radius = ka / k
    points = np.concatenate([circle((0, 0), scale * radius, 16) for scale in (1.01, 2.0, 4.0)])
    r, phi = np.hypot(*points.T), np.arctan2(points[:, 1], points[:, 0]) - np.radians(degrees)
    n = np.arange(-60, 61)[:, None]
    with np.errstate(all="ignore"):
        answered = np.nan_to_num(jv(n, ka) / hankel2(n, ka) * hankel2(n, k * r))
    expected = ((-1j) ** (n % 4) * (jv(n, k * r) - answered) * np.exp(1j * n * phi)).sum(axis=0)
    centre = np.array([[0.4, -0.7]])
    answer = settled(round_posts(centre, 2 * radius), k, PlaneWave(degrees), 1e-8)
    shift = PlaneWave(degrees).at(centre, k)
    assert np.abs(answer.field(points + centre) / shift - expected).max() < 1e-7


def test_a_post_much_wider_than_the_wavelength_throws_its_shadow_twice():
    """Extinction of a cylinder: 4 a (1 + 0.49807659 (k a)^(-2/3)), R. W. P. King & T. T. Wu, The Scattering and
    Diffraction of Waves, 1959 (coefficient from memory)."""
    k, radius = 1.0, 60.0
    answer = settled(round_posts([(0.0, 0.0)], 2 * radius), k, PlaneWave(0.0), 1e-6)
    extinction = -4 / k * far_field(answer, np.array([0.0]))[0].real
    assert extinction == pytest.approx(4 * radius * (1 + 0.49807659 * (k * radius) ** (-2 / 3)), rel=2e-4)


def by_line_charges(posts: RoundPosts, k: float, incident, points, each: int = 24):
    """The same field from line sources inside the posts, fitted to u = 0 on them: no harmonics, no addition theorem.

    The method of fundamental solutions: G. Fairweather & A. Karageorghis, Advances in Computational Mathematics, 1998.
    """
    around = list(zip(posts.centre, posts.radius, strict=True))
    inside = np.concatenate([circle(centre, 0.45 * radius, each) for centre, radius in around])
    rim = np.concatenate([circle(centre, radius, 4 * each) for centre, radius in around])

    def waves(where):
        offset = where[:, None] - inside
        return hankel2(0, k * np.hypot(offset[..., 0], offset[..., 1]))

    strength = np.linalg.lstsq(waves(rim), -incident.at(rim, k), rcond=1e-14)[0]
    return incident.at(points, k) + waves(points) @ strength


@pytest.mark.parametrize(
    "incident",
    [PlaneWave(33.0), LineSources(np.array([[-2.0, 0.3], [2.0, 3.0]]), np.array([1.0, 0.5 + 0.5j]))],
    ids=["plane wave", "line sources"],
)
@pytest.mark.parametrize("wavelength", [0.9, 5.0, 300.0])
@pytest.mark.parametrize("posts", [THREE, scattered_posts(7)], ids=["three", "twelve"])
def test_the_field_is_that_of_line_charges_inside_the_posts(posts, wavelength: float, incident):
    k = 2 * np.pi / wavelength
    points = np.array([[-0.8, 0.6], [0.62, 0.5], [0.7, -1.4], [5.0, 4.0], [0.5, 0.5]])
    answer = settled(posts, k, incident, 1e-9)
    expected = by_line_charges(posts, k, incident, points)
    scale = np.abs(incident.at(points, k)).max()
    assert np.abs(answer.field(points) - expected).max() < 1e-6 * scale


@pytest.mark.parametrize("wavelength", [0.5, 3.0, 50.0])
@pytest.mark.parametrize("seed", range(3))
def test_posts_without_loss_scatter_what_they_take_from_the_wave(seed: int, wavelength: float):
    """The optical theorem: 2/(pi k) times the integral of |F|^2 over the circle equals -(4/k) Re F ahead."""
    answer = settled(scattered_posts(seed), 2 * np.pi / wavelength, PlaneWave(20.0))
    around = np.arange(0, 360, 0.5)
    scattered = 2 / (np.pi * answer.wavenumber) * (np.abs(far_field(answer, around)) ** 2).mean() * 2 * np.pi
    taken = -4 / answer.wavenumber * far_field(answer, np.array([20.0]))[0].real
    assert scattered == pytest.approx(taken, rel=1e-6)


@pytest.mark.parametrize("incident", [PlaneWave(70.0), LineSources(np.array([[-3.0, 1.0]]), np.array([1.0 + 0j]))])
def test_no_power_goes_into_the_posts(incident):
    """Flux of Im(u* du/dr) through a ring around them, against what goes in on one side and out on the other."""
    answer = settled(THREE, 2.5, incident)
    h = 1e-4
    inner, ring, outer = (circle((0.5, 0.5), radius, 400) for radius in (1.6 - h, 1.6, 1.6 + h))
    slope = (answer.field(outer) - answer.field(inner)) / (2 * h)
    flux = (answer.field(ring).conj() * slope).imag
    assert abs(flux.sum()) < 1e-6 * np.abs(flux).sum()


@pytest.mark.parametrize(("a", "b"), [((-2.0, 0.3), (3.0, 2.0)), ((0.6, -0.3), (0.6, 0.9))])
def test_source_and_receiver_can_be_exchanged(a, b):
    def seen(source, point):
        return settled(THREE, 1.7, LineSources(np.array([source]), np.ones(1, dtype=complex)), 1e-8).field([point])[0]

    assert seen(a, b) == pytest.approx(seen(b, a), rel=1e-7)


def test_each_further_harmonic_brings_the_field_nearer_to_its_limit():
    points = np.array([[-0.8, 0.6], [0.7, -1.4], [0.62, 0.5]])
    limit = by_line_charges(THREE, 2.5, PlaneWave(33.0), points)
    errors = [np.abs(scatter(THREE, 2.5, PlaneWave(33.0), order).field(points) - limit).max() for order in range(8)]
    assert all(after < 0.5 * before for before, after in pairwise(errors))
    assert errors[0] > 0.03 and errors[-1] < 1e-4


@pytest.mark.parametrize("tolerance", [1e-3, 1e-5])
def test_harmonics_are_added_until_the_field_on_the_posts_is_within_the_tolerance(tolerance: float):
    """Seen on circles just outside the posts, where the exact field is as good as 0."""
    answer = settled(THREE, 2.5, PlaneWave(33.0), tolerance)
    on_posts = [circle(c, r * (1 + 1e-9), 90) for c, r in zip(THREE.centre, THREE.radius, strict=True)]
    left = np.abs(answer.field(np.concatenate(on_posts))).max()
    assert answer.residual <= tolerance
    assert left < 4 * tolerance
    assert scatter(THREE, 2.5, PlaneWave(33.0), answer.order - 1).residual > tolerance


def test_close_posts_take_more_harmonics_than_distant_ones():
    orders = [settled(round_posts([(0, 0), (d, 0)], 1.0), 1.0, PlaneWave(0.0)).order for d in (1.05, 1.5, 8.0)]
    assert orders == sorted(orders, reverse=True)
    assert orders[0] > orders[-1]


def test_within_a_post_there_is_no_field_and_without_posts_nothing_is_scattered():
    assert settled(THREE, 2.5, PlaneWave(0.0)).field([(1.3, 0.4), (0.05, -0.1)]).tolist() == [0, 0]
    free = settled(round_posts([], []), 2.5, PlaneWave(0.0))
    assert free.field([(1.0, 0.0)]) == pytest.approx(np.exp(-2.5j))


def test_outgoing_waves_are_hankel_functions_of_every_order():
    offsets = np.array([[0.3, -0.4], [-30.0, 5.0]])
    r, phi = np.hypot(*offsets.T), np.arctan2(offsets[:, 1], offsets[:, 0])
    n = np.arange(-9, 10)[:, None]
    assert outgoing(offsets, 1.9, 9) == pytest.approx(hankel2(n, 1.9 * r) * np.exp(1j * n * phi), rel=1e-10)


@pytest.mark.parametrize(
    ("centres", "diameters", "said"),
    [
        ([(0, 0), (0.3, 0)], 0.3, "a distance of 0.3 mm from centre to centre overlaps two posts"),
        ([(0, 0), (0, 0)], 0.3, "a distance of 0 mm"),
        ([(0, 0), (0.3, 0), (9, 9)], [0.1, 0.6, 0.1], "it must be more than 0.35 mm"),
        ([(0, 0)], 0.0, "a diameter of 0 mm must be above zero"),
        ([(0, 0), (1, 0)], [0.3, -0.2], "a diameter of -0.2 mm"),
        ([(0, 0)], float("nan"), "a diameter of nan mm"),
        ([(0, 0)], float("inf"), "a diameter of inf mm"),
        ([(0, 0)], [0.3, 0.3], "1 posts and 2 diameters"),
        ([(0, float("nan"))], 0.3, "not nan mm"),
        ([(0, 0, 0)], 0.3, "pairs of x and y in mm"),
        (np.zeros((MOST_POSTS + 1, 2)), 0.3, f"a number of {MOST_POSTS + 1} posts"),
    ],
)
def test_posts_that_cannot_be_are_refused_with_value_and_unit(centres, diameters, said: str):
    with pytest.raises(ValueError, match=said.replace(".", r"\.")):
        round_posts(centres, diameters)


def test_what_takes_more_unknowns_than_the_limit_is_refused(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("fencepost.physics.scattering.MOST_UNKNOWNS", 20)
    with pytest.raises(ValueError, match="a number of 21 unknowns"):
        settled(THREE, 2.5, PlaneWave(0.0), 1e-6)


def test_posts_that_all_but_touch_are_solved():
    touching = round_posts([(0.0, 0.0), (1 + 1e-9, 0.0)], 1.0)
    answer = settled(touching, 1.0, PlaneWave(90.0))
    expected = by_line_charges(touching, 1.0, PlaneWave(90.0), points := np.array([(0.5, 3.0), (2.0, -1.0)]))
    assert np.abs(answer.field(points) - expected).max() < 1e-3


def test_a_source_within_a_post_or_at_the_point_is_refused():
    with pytest.raises(ValueError, match="within a post"):
        settled(THREE, 2.5, LineSources(np.array([[1.3, 0.5]]), np.ones(1, dtype=complex)))
    with pytest.raises(ValueError, match="0 mm"):
        LineSources(np.array([[1.0, 1.0]]), np.ones(1, dtype=complex)).at(np.array([[1.0, 1.0]]), 2.5)


@pytest.mark.parametrize("k", [0.0, -1.0, float("nan"), float("inf")])
def test_a_wave_number_must_be_above_zero(k: float):
    with pytest.raises(ValueError, match="rad/mm"):
        settled(THREE, k, PlaneWave(0.0))
