"""Clipping to boxes against shapely's intersection."""

import numpy as np
import pytest
import shapely

from fencepost.clipping import clipped, shortened


def star(random: np.random.Generator, corners: int) -> shapely.Polygon:
    """About the origin, with a hole."""
    angle = (np.arange(corners) + random.uniform(0, 0.8, corners)) / corners * 2 * np.pi
    away = random.uniform(3, 9, corners)
    outline = np.column_stack([away * np.cos(angle), away * np.sin(angle)])
    return shapely.Polygon(outline, [0.2 * outline[::-1]])


@pytest.mark.parametrize("corners", [5, 30, 400])
def test_valid_clips_are_what_lies_in_the_box(corners: int) -> None:
    random = np.random.default_rng(corners)
    shapes = np.array([star(random, corners) for _ in range(60)], dtype=object)
    low = random.uniform(-8, 6, (60, 2))
    boxes = np.hstack([low, low + random.uniform(0.1, 9, (60, 2))])
    found = clipped(shapes, boxes)
    valid = shapely.is_valid(found)
    assert valid.mean() > 0.9
    expected = shapely.intersection(shapes, shapely.box(*boxes.T))
    apart = shapely.area(shapely.symmetric_difference(found[valid], expected[valid]))
    assert apart.max() < 1e-9


def test_lines_and_what_lies_outside() -> None:
    shapes = np.array([shapely.LineString([(-5, 0), (5, 0)]), shapely.box(3, 3, 4, 4), shapely.box(0, 0, 1, 1)])
    found = clipped(shapes, np.array([[-1.0, -1, 1, 1], [-1, -1, 1, 1], [-1, -1, 2, 2]]))
    assert found[0].length == pytest.approx(2)
    assert found[1].is_empty
    assert found[2].equals(shapely.box(0, 0, 1, 1))


def test_where_the_fast_way_fails_the_sure_way_is_gone(monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(*_: object) -> None:
        raise shapely.GEOSException("too few corners")

    monkeypatch.setattr(shapely, "clip_by_rect", failing)
    (found,) = clipped(np.array([shapely.box(0, 0, 4, 4)], dtype=object), np.array([[1.0, 1, 9, 9]]))
    assert found.equals(shapely.box(1, 1, 4, 4))


@pytest.mark.parametrize("corners", [5, 30, 400])
def test_what_is_shortened_is_valid_and_the_same_within_the_box(corners: int) -> None:
    random = np.random.default_rng(corners)
    shapes = np.array([star(random, corners) for _ in range(60)], dtype=object)
    low = random.uniform(-8, 6, (60, 2))
    boxes = np.hstack([low, low + random.uniform(0.1, 9, (60, 2))])
    found, box = shortened(shapes, boxes), shapely.box(*boxes.T)
    assert shapely.is_valid(found).all()
    apart = shapely.symmetric_difference(shapely.intersection(found, box), shapely.intersection(shapes, box))
    assert shapely.area(apart).max() < 1e-9


def test_nothing_to_clip() -> None:
    assert len(clipped(np.empty(0, dtype=object), np.empty((0, 4)))) == 0
