"""Resonances of pours: against closed forms, Bessel functions, published eigenvalues and walls of posts."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from numpy.typing import ArrayLike
from scipy.constants import c
from scipy.optimize import brentq
from scipy.special import jnp_zeros, jv, jvp, yv, yvp
from shapely import LineString, Point, Polygon, box
from shapely.affinity import rotate, scale, translate

from fencepost.physics.cavity import SETTLED, Cavity, cavity_modes, frequency_with_tie

C_MM = c * 1e3
NONE = np.empty((0, 2))


def from_wave_number(wave_number: ArrayLike, permittivity: float = 1.0) -> np.ndarray:
    """c k / (2 pi sqrt(er)), k a millimetre."""
    return np.asarray(wave_number) * C_MM / (2 * math.pi * math.sqrt(permittivity))


def tied(outline: Polygon, ties: ArrayLike, diameter: float, count: int = 4, permittivity: float = 1.0) -> Cavity:
    return cavity_modes(outline, ties, diameter, permittivity, count)


@pytest.mark.parametrize("angle", [0.0, 13.7, 30.0, 45.0])
def test_bare_rectangle(angle: float) -> None:
    """f = c / (2 sqrt(er)) sqrt((m / a)^2 + (n / b)^2), Pozar, Microwave Engineering; on the grid and across it."""
    expected = sorted(
        C_MM / (2 * math.sqrt(4.2)) * math.hypot(m / 100, n / 80) for m in range(4) for n in range(4) if m or n
    )
    found = tied(rotate(box(0, 0, 100, 80), angle), NONE, 1.0, 6, 4.2).frequencies
    assert found == pytest.approx(expected[:6], rel=2e-3)


def test_square_with_two_modes_at_each_frequency() -> None:
    found = tied(box(0, 0, 50, 50), NONE, 1.0, 5).frequencies
    assert found == pytest.approx(from_wave_number(math.pi / 50 * np.sqrt([1, 1, 2, 4, 4])), rel=2e-3)


def test_bare_circle() -> None:
    """k R are the zeros of J'_n, n = 1 and 2 twice each, and 0; scipy.special.jnp_zeros."""
    zeros = [jnp_zeros(1, 1)[0]] * 2 + [jnp_zeros(2, 1)[0]] * 2 + [jnp_zeros(0, 1)[0]]
    found = tied(Point(3, 2).buffer(20, quad_segs=64), NONE, 1.0, 5).frequencies
    assert found == pytest.approx(from_wave_number(np.array(zeros) / 20), rel=2e-3)


@pytest.mark.parametrize("angle", [0.0, 20.0])
def test_l_shape(angle: float) -> None:
    """M. Dauge, Benchmark computations for Maxwell equations, 2004: the L of three unit squares (from memory).

    Its field has a slope without bound in the inner corner, which makes the first mode the hardest.
    """
    outline = Polygon([(-1, -1), (1, -1), (1, 0), (0, 0), (0, 1), (-1, 1)])
    squares = np.array([1.47562182408, 3.53403136678, math.pi**2, math.pi**2, 11.3894793979])
    found = tied(rotate(outline, angle), NONE, 1.0, 5).frequencies
    assert found == pytest.approx(from_wave_number(np.sqrt(squares)), rel=4e-3)


@pytest.mark.parametrize("inner", [1.0, 10.0])
def test_bare_ring(inner: float) -> None:
    """Radii a and b: J'_n(k a) Y'_n(k b) = J'_n(k b) Y'_n(k a)."""

    def mismatch(k: float, n: int) -> float:
        return float(jvp(n, k * inner) * yvp(n, k * 20) - jvp(n, k * 20) * yvp(n, k * inner))

    outline = Point(0, 0).buffer(20, quad_segs=64).difference(Point(0, 0).buffer(inner, quad_segs=64))
    expected = [first_root(mismatch, n) for n in (1, 1, 2, 2)]
    assert tied(outline, NONE, 1.0).frequencies == pytest.approx(from_wave_number(expected), rel=5e-3)


def first_root(mismatch, order: int) -> float:
    """The first k above zero at which it changes its sign, for circles of 20 mm."""
    grid = np.linspace(2e-3, 0.5, 500)
    values = np.array([mismatch(k, order) for k in grid])
    at = int(np.flatnonzero(values[:-1] * values[1:] < 0)[0])
    return float(brentq(mismatch, grid[at], grid[at + 1], args=(order,)))


@pytest.mark.parametrize("radius", [0.05, 0.15, 0.5, 1.5, 5.0])
@pytest.mark.parametrize("centre", [(0.0, 0.0), (0.37, 1.13)])
def test_post_in_the_middle_of_a_circle(radius: float, centre: tuple[float, float]) -> None:
    """J_n(k a) Y'_n(k b) = Y_n(k a) J'_n(k b): posts from a fourteenth of a cell to seven cells, n = 0, 1, 1, 2."""

    def mismatch(k: float, n: int) -> float:
        return float(jv(n, k * radius) * yvp(n, k * 20) - yv(n, k * radius) * jvp(n, k * 20))

    outline = Point(*centre).buffer(20, quad_segs=64)
    expected = [first_root(mismatch, n) for n in (0, 1, 1, 2)]
    found = tied(outline, [centre], 2 * radius)
    assert found.frequencies == pytest.approx(from_wave_number(expected), rel=2e-3)


@pytest.mark.parametrize("shift", [(0.0, 0.0), (0.31, 0.17), (0.5, 0.5), (0.9, 0.4)])
def test_where_a_post_lies_in_its_cell_does_not_matter(shift: tuple[float, float]) -> None:
    """An off-centre post of 0.1 mm in cells of 0.7 mm: the whole moved over the grid by parts of a cell.

    A corner far away keeps the grid where it is. The corner's own part is less than 0.1 %.
    """
    disc = Point(0, 0).buffer(20, quad_segs=64)
    anchor = box(-30, -0.01, 30, 0.01)
    expected = tied(disc.union(anchor), [(7, 3)], 0.1, 1).frequencies[0]
    moved = translate(disc, *shift).union(anchor)
    assert tied(moved, [(7 + shift[0], 3 + shift[1])], 0.1, 1).frequencies[0] == pytest.approx(expected, rel=3e-3)


def test_a_tie_in_the_centre_leaves_the_modes_that_are_nothing_there() -> None:
    """(1, 0), (0, 1) and (1, 1) of a rectangle are nothing at its centre, and stay where they are."""
    outline = box(0, 0, 100, 80)
    bare = {mn: C_MM / 2 * math.hypot(mn[0] / 100, mn[1] / 80) for mn in ((1, 0), (0, 1), (1, 1))}
    found = tied(outline, [(50, 40)], 1.0, 4).frequencies
    assert found[1:] == pytest.approx(sorted(bare.values()), rel=2e-3)
    assert 0 < found[0] < 0.7 * bare[1, 0]


@pytest.mark.parametrize(
    ("pitch", "diameter", "width", "length"), [(1.0, 0.5, 20, 20), (2.0, 1.0, 20, 30), (1.0, 0.3, 16, 12)]
)
def test_a_ring_of_posts_is_a_wall(pitch: float, diameter: float, width: int, length: int) -> None:
    """The equivalent width w - d^2 / (0.95 p) of Cassivi et al., IEEE MWCL 12(9), 2002, for both sides of a cavity."""
    along = [(x, y) for x in np.arange(0, width + pitch / 2, pitch) for y in (0, length)]
    up = [(x, y) for y in np.arange(pitch, length - pitch / 2, pitch) for x in (0, width)]
    found = tied(box(0, 0, width, length).buffer(1.5 * pitch, join_style="mitre"), along + up, diameter, 1)
    less = diameter**2 / (0.95 * pitch)
    expected = C_MM / 2 * math.hypot(1 / (width - less), 1 / (length - less))
    assert found.frequencies[0] == pytest.approx(expected, rel=0.01)
    assert found.spots[0] == pytest.approx([width / 2, length / 2], abs=1.0)


def test_a_slot_far_thinner_than_a_cell_cuts() -> None:
    """A ring of 20 mm radius, 1 mm wide, cut by 1 µm, is a strip half a wavelength long; uncut, it is a whole one."""
    ring = Point(0, 0).buffer(20.5, quad_segs=64).difference(Point(0, 0).buffer(19.5, quad_segs=64))
    cut = ring.difference(box(0, -0.0005, 30, 0.0005))
    around = 2 * math.pi * 20
    assert tied(ring, NONE, 1.0, 1).frequencies[0] == pytest.approx(C_MM / around, rel=5e-3)
    assert tied(cut, NONE, 1.0, 2).frequencies == pytest.approx([C_MM / 2 / around, C_MM / around], rel=5e-3)


def test_strips_at_any_angle_are_half_a_wavelength_long() -> None:
    for angle in (0.0, 27.0, 45.0):
        found = tied(rotate(box(0, 0, 60, 0.3), angle), NONE, 1.0, 2).frequencies
        assert found == pytest.approx([C_MM / 120, C_MM / 60], rel=2e-3)


def test_turning_mirroring_moving_and_units() -> None:
    outline = Polygon([(0, 0), (40, 0), (40, 12), (22, 15), (25, 30), (3, 28)]).difference(Point(12, 12).buffer(3))
    ties = np.array([(3, 3), (35, 5), (20, 26), (22, 8.0)])
    expected = tied(outline, ties, 0.4).frequencies

    def both(change) -> tuple[Polygon, np.ndarray]:
        return change(outline), np.array([point.coords[0] for point in (change(Point(xy)) for xy in ties)])

    for change in (
        lambda shape: rotate(shape, 33, origin=(0, 0)),
        lambda shape: scale(shape, -1, 1, origin=(0, 0)),
        lambda shape: translate(shape, 212.3, -31.7),
    ):
        assert tied(*both(change), 0.4).frequencies == pytest.approx(expected, rel=5e-3)
    larger = tied(*both(lambda shape: scale(shape, 2, 2, origin=(0, 0))), 0.8, permittivity=4.0)
    assert larger.frequencies == pytest.approx(expected / 4, rel=1e-6)


def test_the_field_on_its_grid() -> None:
    """The first mode of a bare rectangle is cos(pi x / a), strongest at its short edges; no cell is left undefined."""
    found = tied(box(10, 0, 110, 60), NONE, 1.0, 2)
    assert found.fields.shape == (2, len(found.y), len(found.x))
    assert found.inside.all()
    assert np.abs(found.fields[0]) == pytest.approx(
        np.broadcast_to(np.abs(np.cos(math.pi * (found.x - 10) / 100)), found.inside.shape), abs=0.01
    )
    assert min(abs(found.spots[0][0] - 10), abs(found.spots[0][0] - 110)) < 2
    assert found.moved < SETTLED


def test_the_field_of_a_pour_with_a_hole() -> None:
    outline = box(0, 0, 30, 30).difference(Point(10, 10).buffer(6))
    found = tied(outline, [(25, 25)], 0.5, 3)
    assert np.isfinite(found.fields).all()
    assert np.abs(found.fields).max(axis=(1, 2)) == pytest.approx([1, 1, 1])
    assert (found.fields[:, ~found.inside] == 0).all()
    assert not found.inside[np.argmin(np.abs(found.y - 10)), np.argmin(np.abs(found.x - 10))]
    assert shapely.covers(outline, shapely.points(found.spots)).all()
    assert (np.diff(found.frequencies) >= 0).all()


@pytest.mark.parametrize("place", [(8.0, 8.0), (50.0, 41.3), (3.0, 70.0), (99.5, 79.6)])
def test_one_more_tie_raises_the_first_frequency(place: tuple[float, float]) -> None:
    """Pinning a field can only raise its frequencies (Courant and Hilbert); it is as if the tie had been there."""
    outline = box(0, 0, 100, 80)
    ties = [(10, 10), (90, 10), (90, 70), (12, 66)]
    before = tied(outline, ties, 0.3, 1, 4.2)
    found = frequency_with_tie(before, place, 0.3)
    assert found >= before.frequencies[0] * (1 - 1e-9)
    assert found == pytest.approx(tied(outline, [*ties, place], 0.3, 1, 4.2).frequencies[0], rel=5e-3)


def test_where_the_field_is_strongest_a_tie_helps_most() -> None:
    before = tied(box(0, 0, 100, 80), [(20, 20), (80, 20), (80, 60), (20, 60)], 0.3, 1, 4.2)
    strongest = frequency_with_tie(before, before.spots[0], 0.3)
    assert strongest > 1.1 * before.frequencies[0]
    assert all(frequency_with_tie(before, place, 0.3) < strongest for place in ((21, 21), (5, 5), (50, 5), (99, 40)))


def test_slivers_and_many_holes_do_no_harm() -> None:
    """Random clearances, some run into each other, and spikes: frequencies stay finite, ordered and positive."""
    rng = np.random.default_rng(5)
    holes = shapely.union_all([Point(*xy).buffer(0.45, quad_segs=24) for xy in rng.uniform(1, 29, (80, 2))])
    pours = shapely.get_parts(box(0, 0, 30, 30).difference(holes))
    pour = max(pours, key=lambda part: part.area).union(Polygon([(30, 3), (60, 3.0005), (30, 3.001)]))
    for outline in (pour, Polygon([(0, 0), (50, 20), (100, 0), (50, 1e-4)]), Polygon([(0, 0), (9, 0.02), (9, 0.04)])):
        found = tied(outline, NONE, 1.0, 3)
        assert np.isfinite(found.frequencies).all()
        assert (found.frequencies > 0).all()
        assert (np.diff(found.frequencies) >= 0).all()


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: tied(Polygon(), NONE, 1.0), "area of 0 mm²"),
        (lambda: tied(Polygon([(0, 0), (1, 0), (2, 0)]), NONE, 1.0), "area of 0 mm²"),
        (lambda: tied(LineString([(0, 0), (1, 1)]), NONE, 1.0), "LineString"),
        (lambda: tied(Polygon([(0, 0), (4, 3), (4, 0), (0, 1)]), NONE, 1.0), "crosses or touches itself"),
        (lambda: tied(box(0, 0, 9, 9), [(12, 4)], 0.3), r"\(12, 4\) mm"),
        (lambda: tied(box(0, 0, 9, 9), [(4, 4), (4.2, 4)], 0.3), "spacing of 0.2 mm"),
        (lambda: tied(box(0, 0, 9, 9), [(4, 4)], 0.0), "diameter of 0 mm"),
        (lambda: tied(box(0, 0, 9, 9), [(4, math.nan)], 0.3), "not finite"),
        (lambda: tied(box(0, 0, 0.5, 0.5), [(0.25, 0.25)], 0.9), "0 mm²"),
        (lambda: tied(box(0, 0, 9, 9), NONE, 1.0, permittivity=0.5), "permittivity of 0.5"),
        (lambda: tied(box(0, 0, 9, 9), NONE, 1.0, count=0), "count of 0"),
        (lambda: tied(box(0, 0, 9, 9), NONE, 1.0, count=51), "count of 51"),
        (lambda: frequency_with_tie(tied(box(0, 0, 9, 9), [(4, 4)], 0.3), (4.1, 4), 0.3), "spacing of 0.1 mm"),
        (lambda: frequency_with_tie(tied(box(0, 0, 9, 9), [(4, 4)], 0.3), (6, -4), 0.3), r"\(6, -4\) mm"),
    ],
)
def test_what_cannot_be_is_refused_with_value_and_unit(call, text: str) -> None:
    with pytest.raises(ValueError, match=text):
        call()
