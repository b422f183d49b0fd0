"""What covers points is the same however it is asked for, and the same as distances say."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from fencepost.signals.cover import Planes

AREAS = (
    shapely.box(0, 0, 10, 6).difference(shapely.Point(4, 3).buffer(0.8)).difference(shapely.box(7, 0, 7.3, 5)),
    shapely.box(12, 0, 18, 6),
)
DRAWN = (
    shapely.LineString([(10.5, 1), (11.5, 1), (11.5, 5), (10.8, 5), (11, 4), (10.6, 3), (10.5, 2)]),
    shapely.Point(4, 3),
    shapely.LineString([(0, 7), (18, 7)]),
)
REACH = np.array([0.0, 0.0, 0.1, 0.3, 0.125])


def planes() -> Planes:
    """Two areas, one of them with a hole and a slot, and three drawn parts beside and within them."""
    geometry = np.array([*AREAS, *DRAWN], dtype=object)
    shapely.prepare(geometry)
    boxes = shapely.bounds(geometry) + REACH[:, None] * np.array([-1.0, -1.0, 1.0, 1.0])
    return Planes(np.arange(5), geometry, REACH, np.arange(5, dtype=np.int32), shapely.STRtree(shapely.box(*boxes.T)))


def by_distance(xy: NDArray[np.float64]) -> NDArray[np.int64]:
    """The part that each point lies in: no two of them meet."""
    away = shapely.distance(shapely.points(xy)[:, None], np.array([*AREAS, *DRAWN], dtype=object)) <= REACH
    return np.where(away.any(axis=1), away.argmax(axis=1), -1)


def test_points_are_covered_by_what_is_within_its_reach() -> None:
    xy = np.random.default_rng(1).uniform((-1, -1), (19, 8), (4000, 2))
    found = planes().piece_at(shapely.points(xy))
    assert set(found.tolist()) == {-1, 0, 1, 2, 3, 4}
    assert (found == by_distance(xy)).all()


@pytest.mark.parametrize("step", [0.01, 0.1, 0.7])
def test_points_along_lines_are_covered_as_each_by_itself(step: float) -> None:
    """Lines of 8 points in all directions; every third one bends, and every seventh comes back on itself."""
    random = np.random.default_rng(2)
    angle = random.uniform(0, 2 * np.pi, 600)
    ahead = np.stack([np.cos(angle), np.sin(angle)], axis=1)[:, None, :]
    way = np.tile(np.arange(8.0)[None, :, None], (600, 1, 1)) * step
    way[::7] = np.minimum(way[::7], 6 * step - way[::7])
    xy = random.uniform((-1, -1), (19, 8), (600, 1, 2)) + ahead * way
    xy[::3, 4:] += ahead[::3, :, ::-1] * step
    lines = shapely.linestrings(xy)
    found = planes().pieces_along(xy.reshape(-1, 2), lines, np.repeat(np.arange(600), 8))
    assert (found == by_distance(xy.reshape(-1, 2))).all()
