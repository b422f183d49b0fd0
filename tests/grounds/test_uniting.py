"""Parts of a layer as areas, against the plain union of all of them drawn out."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fencepost.grounds.uniting import CHORD_MM, united

FRAME = shapely.Polygon([(0, 0), (20, 0), (20, 20), (0, 20)], [[(4, 4), (16, 4), (16, 16), (4, 16)]])


def plain(geometry: np.ndarray, reach: np.ndarray) -> shapely.Geometry:
    """The union, a quarter circle of 64 chords."""
    return shapely.union_all([shapely.buffer(one, by, quad_segs=64) for one, by in zip(geometry, reach, strict=True)])


def check(geometry: list, reach: list[float], owner: list[int] | None = None) -> list[shapely.Geometry]:
    """The areas, each of them what the union of its own parts is but for the segments beside its chords."""
    parts, by = np.array(geometry, dtype=object), np.array(reach)
    owners = np.array(owner or [0] * len(parts))
    areas = united(parts, by, owners, int(owners.max()) + 1).tolist()
    for row, area in enumerate(areas):
        expected = plain(parts[owners == row], by[owners == row])
        assert area.is_valid
        # What is more than two chords wide must be the same.
        assert shapely.difference(expected, shapely.buffer(area, 2 * CHORD_MM)).area < 1e-6
        assert shapely.difference(area, shapely.buffer(expected, 2 * CHORD_MM)).area < 1e-6
    return areas


def random_parts(rng: np.random.Generator, count: int) -> tuple[list, list[float]]:
    """Fills with holes, some drawn over along all of their edge, strokes and flashes, all over one another."""
    geometry: list = []
    reach: list[float] = []
    for x, y in rng.uniform(0, 12, (3, 2)):
        holes = shapely.points(np.array([x, y]) + rng.uniform(0, 6, (6, 2))).tolist()
        fill = shapely.box(x, y, x + 6, y + 6).difference(shapely.union_all([one.buffer(0.7) for one in holes]))
        for solid in shapely.get_parts(fill):
            geometry.append(solid)
            reach.append(0.0)
            if rng.random() < 0.6:
                rings = [solid.exterior, *solid.interiors]
                geometry += [shapely.LineString(ring.coords) for ring in rings]
                reach += [0.1] * len(rings)
    for path in rng.uniform(0, 18, (count, 3, 2)):
        geometry.append(shapely.LineString(path[0] + 0.15 * (path - path[0])))
        reach.append(float(rng.uniform(0.05, 0.3)))
    for at in rng.uniform(0, 18, (count, 2)):
        geometry.append(shapely.Point(at))
        reach.append(float(rng.uniform(0.1, 0.9)))
    return geometry, reach


@pytest.mark.parametrize("seed", range(12))
def test_parts_at_random(seed: int) -> None:
    rng = np.random.default_rng(seed)
    one, reach = random_parts(rng, 25)
    other, by = random_parts(rng, 10)
    beside = [shapely.transform(part, lambda xy: xy + 40.0) for part in other]
    check([*one, *beside], reach + by, [0] * len(one) + [1] * len(other))


def test_an_island_in_a_hole_of_the_same_owner() -> None:
    """Another fill with a hole of its own, and a disc in that: the holes of one lie in those of the other."""
    island = shapely.Polygon(shapely.box(6, 6, 14, 14).exterior, [shapely.box(8, 8, 12, 12).exterior])
    (area,) = check([FRAME, island, shapely.Point(10, 10)], [0.0, 0.0, 1.0])
    assert len(area.geoms) == 3


def test_fills_that_overlap_with_holes_that_overlap() -> None:
    moved = shapely.transform(FRAME, lambda xy: xy + 5.0)
    (area,) = check([FRAME, moved], [0.0, 0.0])
    assert area.area == pytest.approx(shapely.union(FRAME, moved).area)


def test_a_spoke_across_a_hole_leaves_two() -> None:
    (area,) = check([FRAME, shapely.LineString([(10, 2), (10, 18)])], [0.0, 0.5])
    assert len(area.interiors) == 2
    assert area.area == pytest.approx(400 - 144 + 12.0)


def test_a_hole_that_touches_the_rim() -> None:
    """In a point, as an outline may."""
    frame = shapely.Polygon([(0, 0), (9, 0), (9, 9), (0, 9)], [[(0, 4), (4, 3), (4, 6)]])
    (area,) = check([frame, shapely.box(4, 3, 6, 6)], [0.0, 0.0])
    assert area.area == pytest.approx(81 - 6.0)


def test_holes_that_touch_in_a_point() -> None:
    """What lies in a hole divides it in two, which meet in a corner."""
    (area,) = check([FRAME, shapely.box(4, 8, 15, 12), shapely.Polygon([(15, 8), (16, 10), (15, 12)])], [0.0] * 3)
    assert area.area == pytest.approx(256 + 44 + 2)


def test_the_same_flash_twice_is_one() -> None:
    (area,) = check([shapely.Point(1, 1), shapely.Point(1, 1)], [0.5, 0.5])
    assert area.area == pytest.approx(np.pi / 4, rel=0.02)


def test_what_lies_in_a_hole_of_another_owner_does_not_fill_it() -> None:
    frame, disc = check([FRAME, shapely.Point(10, 10)], [0.0, 2.0], [0, 1])
    assert frame.area == pytest.approx(256.0)
    assert disc.area == pytest.approx(4 * np.pi, rel=0.01)


def test_strokes_along_a_hole_make_it_narrower() -> None:
    """By their reach on either side; one too narrow for that is gone."""
    fill = shapely.Polygon(FRAME.exterior, [FRAME.interiors[0], shapely.box(1, 1, 1.3, 3).exterior])
    rings = [shapely.LineString(ring.coords) for ring in [fill.exterior, *fill.interiors]]
    (area,) = check([fill, *rings], [0.0, 0.2, 0.2, 0.2])
    assert len(area.interiors) == 1
    assert shapely.Polygon(area.interiors[0]).area == pytest.approx(11.6**2)
