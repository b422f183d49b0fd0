"""The way along copper, against the shortest way through the corners of its outline that one can see from one another.

That the shortest way among obstacles leads through their corners: T. Lozano-Perez and M. A. Wesley, Communications of
the ACM 22, 1979 (from memory).
"""

from __future__ import annotations

import itertools
import math

import networkx
import numpy as np
import pytest
import shapely

from fencepost.grounds.along import FarEnd, far_ends

Point = tuple[float, float]


def strip(points: list[Point], width: float = 1.0) -> shapely.Polygon:
    return shapely.LineString(points).buffer(width / 2, cap_style="flat", join_style="mitre")


def shortest(area: shapely.Polygon, start: Point, end: Point) -> float:
    """By the visibility graph."""
    spots = [start, end, *(tuple(xy) for xy in shapely.get_coordinates(area))]
    graph, inside = networkx.Graph(), area.buffer(1e-7)
    for one, other in itertools.combinations(dict.fromkeys(spots), 2):
        if inside.covers(shapely.LineString([one, other])):
            graph.add_edge(one, other, weight=math.dist(one, other))
    return networkx.shortest_path_length(graph, start, end, weight="weight")


def ends(area, points: list[Point], limit: float, wide: float = 3.0) -> list[FarEnd]:
    return far_ends(np.array([area]), np.array(points, dtype=float), np.zeros(len(points), dtype=int), limit, wide)


@pytest.mark.parametrize(("limit", "far"), [(9.99, 1), (10.0, 0), (10.01, 0)])
def test_a_straight_finger_from_its_tie_to_its_end(limit: float, far: int) -> None:
    found = ends(strip([(0, 0), (12, 0)]), [(2.0, 0.0)], limit)
    assert len(found) == far
    assert [(one.end, one.distance, one.nearest) for one in found] == [((12.0, 0.0), pytest.approx(10.0), 0)] * far


@pytest.mark.parametrize("seed", range(60))
def test_bent_fingers_have_the_length_of_the_shortest_way(seed: int) -> None:
    rng = np.random.default_rng(seed)
    turns = np.cumsum(rng.uniform(-1.2, 1.2, 7))
    points = np.cumsum(2.5 * np.column_stack([np.cos(turns), np.sin(turns)]), axis=0)
    area = strip([(float(x), float(y)) for x, y in points], 0.6)
    assert area.is_valid and not area.interiors
    start = tuple(((points[0] + points[1]) / 2).tolist())
    (found,) = ends(area, [start], 6.0)
    assert found.distance == pytest.approx(shortest(area, start, found.end), abs=0.02)  # the outline is drawn coarser
    assert math.dist(found.end, points[-1]) < 0.4


def test_a_tie_within_the_finger_shortens_what_is_left() -> None:
    area = strip([(0, 0), (20, 0)])
    assert ends(area, [(1.0, 0.0), (11.0, 0.2)], 9.05) == []
    (found,) = ends(area, [(1.0, 0.0), (9.0, 0.2)], 9.05)
    assert (found.nearest, found.distance) == (1, pytest.approx(math.hypot(11, 0.2), abs=0.01))


def test_a_tie_across_a_gap_is_no_tie_of_the_finger() -> None:
    """A comb: two fingers 0.2 mm apart, ties in the root, and in the middle and at the end of the upper one only."""
    root = shapely.box(-4, -4, 0, 4)
    upper, lower = shapely.box(0, 0.1, 15, 1.1), shapely.box(0, -1.1, 15, -0.1)
    comb = shapely.union_all([root, upper, lower])
    (found,) = ends(comb, [(-0.5, 0.0), (7.0, 0.6), (14.5, 0.6)], 6.0, wide=2.0)
    assert found.end == pytest.approx((15.0, -0.6), abs=0.01)
    assert found.distance == pytest.approx(15.5, abs=0.1)
    assert found.area == pytest.approx(15.5 - 6, abs=1.1)  # one finger 1 mm wide, in whole triangles


def test_over_an_area_the_way_is_straight() -> None:
    """Copper wider than a finger is no finger, however far its ties."""
    assert ends(shapely.box(0, 0, 30, 30), [(1.0, 1.0)], 5.0) == []


def test_both_ends_of_a_strap_hold_its_middle() -> None:
    """Two areas with ties, joined by a strap of 12 mm: its middle is 6 mm from either, and a little more."""
    strap = shapely.union_all([shapely.box(-5, -5, 0, 5), shapely.box(12, -5, 17, 5), shapely.box(0, -0.5, 12, 0.5)])
    ties = [(-0.5, 0.0), (12.5, 0.0)]
    assert ends(strap, ties, 6.6, wide=2.0) == []
    (found,) = ends(strap, ties, 5.0, wide=2.0)
    assert found.distance == pytest.approx(6.5, abs=0.1)
    assert found.end[0] == pytest.approx(6.0, abs=0.6)


def test_turning_and_moving_changes_nothing() -> None:
    area, tie = strip([(0, 0), (6, 0), (6, 7), (15, 7)], 0.5), [(0.5, 0.0)]
    (still,) = ends(area, tie, 8.0)
    turned = shapely.affinity.translate(shapely.affinity.rotate(area, 30, origin=(0, 0)), 100, -50)
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    (moved,) = ends(turned, [(0.5 * c + 100, 0.5 * s - 50)], 8.0)
    assert moved.distance == pytest.approx(still.distance, abs=0.03)


def test_copper_that_no_way_leads_to_is_left_out() -> None:
    """Two strips that do not touch, one tie."""
    both = shapely.MultiPolygon([strip([(0, 0), (12, 0)]), strip([(0, 5), (12, 5)])])
    (found,) = ends(both, [(1.0, 0.0)], 5.0)
    assert found.end == pytest.approx((12.0, 0.0))
