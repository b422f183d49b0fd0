"""The farthest point of an area from some points, against the oldest way to find it: looking everywhere."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from fencepost.grounds.circles import Bare, bare_areas, beyond
from fencepost.grounds.sheets import Points

SQUARE = shapely.box(0, 0, 10, 10)


def bare(area: shapely.Polygon, points: list[tuple[float, float]], limit: float) -> list[Bare]:
    return bare_areas(*one_sheet(area, np.array(points, dtype=float), limit))


def one_sheet(area: shapely.Polygon, points: np.ndarray, limit: float) -> tuple:
    """What `bare_areas` and `beyond` take, for one area."""
    on_it = Points(points, np.zeros(len(points), dtype=np.int64))
    return np.array([area], dtype=object), np.zeros(1, dtype=np.int64), on_it, np.array([limit])


@pytest.mark.parametrize(
    ("area", "points", "radius", "centre"),
    [
        # The middle of four, and of three: the centre of the circle through them.
        (SQUARE, [(0, 0), (10, 0), (0, 10), (10, 10)], math.sqrt(50), (5, 5)),
        (shapely.box(2, 2, 8, 8), [(0, 5), (10, 5), (5, 10), (5, 0)], 5, (5, 5)),
        # From one point, the farthest corner.
        (SQUARE, [(1, 1)], math.hypot(9, 9), (10, 10)),
        # From two, where the line between their halves leaves the area.
        (SQUARE, [(2, 0), (8, 0)], math.hypot(3, 10), (5, 10)),
        # Points in a line have no triangle.
        (SQUARE, [(0, 5), (5, 5), (10, 5)], math.hypot(2.5, 5), None),
        # A hole in the middle: the farthest point is on its edge and not in it.
        (SQUARE.difference(shapely.box(4, 4, 6, 6)), [(0, 0), (10, 0), (0, 10), (10, 10)], math.hypot(5, 4), None),
        # The same point twice is one.
        (SQUARE, [(1, 1), (1, 1)], math.hypot(9, 9), (10, 10)),
    ],
)
def test_cases_by_hand(area, points, radius, centre) -> None:
    found = max(bare(area, points, 0.5 * radius), key=lambda one: one.radius)
    assert found.radius == pytest.approx(radius, abs=1e-9)
    if centre is not None:
        assert found.centre == pytest.approx(centre, abs=1e-9)
    assert math.dist(found.centre, points[found.nearest]) == pytest.approx(radius, abs=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_no_point_of_a_random_area_is_farther(seed: int) -> None:
    """Areas with holes, points anywhere; 40,000 places of each are looked at."""
    rng = np.random.default_rng(seed)
    corners = rng.uniform(0, 10, (12, 2))
    area = shapely.convex_hull(shapely.multipoints(corners))
    for x, y in rng.uniform(1, 9, (6, 2)):
        area = area.difference(shapely.Point(x, y).buffer(rng.uniform(0.2, 1.5)))
    area = max(shapely.get_parts(area), key=lambda part: part.area)
    points = rng.uniform(0, 10, (int(rng.integers(1, 9)), 2))
    grid = np.stack(np.meshgrid(np.linspace(0, 10, 200), np.linspace(0, 10, 200)), axis=-1).reshape(-1, 2)
    grid = grid[shapely.contains_xy(area, *grid.T)]
    distance = np.hypot(*(grid[:, None] - points).T).min(axis=0)
    limit = 0.6 * float(distance.max())

    found = bare_areas(*one_sheet(area, points, limit))
    largest = max(one.radius for one in found)
    assert distance.max() <= largest + 1e-9
    assert largest == pytest.approx(distance.max(), abs=0.08)  # the grid's own diagonal
    for one in found:
        assert area.buffer(1e-9).covers(shapely.Point(one.centre))
        assert one.radius == pytest.approx(np.hypot(*(points - one.centre).T).min(), abs=1e-9)
    size = sum(one.area.area for one in found)
    assert size == pytest.approx(area.area * np.mean(distance > limit), rel=0.05, abs=0.1)


@pytest.mark.parametrize(("limit", "count"), [(7.0, 4), (math.sqrt(50), 0), (7.08, 0)])
def test_at_the_limit_nothing_is_bare(limit: float, count: int) -> None:
    """Four cells of a square grid of 10 mm; their middles are 10 / sqrt(2) away."""
    points = [(x, y) for x in (0.0, 10.0, 20.0) for y in (0.0, 10.0, 20.0)]
    found = bare(shapely.box(0, 0, 20, 20), points, limit)
    assert len(found) == count
    assert [one.radius for one in found] == pytest.approx([math.sqrt(50)] * count)


def test_what_is_beyond_is_never_less_than_it_is() -> None:
    """The chords of the discs lie within them."""
    points = np.array([(3.0, 4.0), (6.0, 4.0)])
    (left,) = beyond(*one_sheet(SQUARE, points, 2.0))
    exact = 100 - 2 * math.pi * 4 + (2 * 4 * math.acos(3 / 4) - 1.5 * math.sqrt(16 - 9))  # two discs and their lens
    assert exact <= left.area == pytest.approx(exact, abs=0.04)


def test_sheets_do_not_see_one_another() -> None:
    """A small area far from its points, and the same place on another sheet with a point in the middle."""
    small = shapely.box(0, 0, 1, 1)
    points = Points(np.array([(60.0, 0.5), (0.5, 0.5), (60.0, 0.0)]), np.array([0, 1, 2]))
    areas = np.array([small, small, small], dtype=object)
    found = bare_areas(areas, np.array([0, 1, 2]), points, np.array([5.0, 5.0, 70.0]))
    assert [(one.sheet, one.nearest) for one in found] == [(0, 0)]
    assert found[0].radius == pytest.approx(math.hypot(60, 0.5))
