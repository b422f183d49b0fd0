"""Cells that strokes leave of a region hold all that their buffers leave of it, and few others."""

import numpy as np
import pytest
import shapely

from fencepost.placement.cells import FEWEST, Strokes, left_by

DISC = shapely.Point(3.0, -2.0).buffer(1.5, quad_segs=32)
BOX = shapely.box(1.5, -3.5, 4.5, -0.5)


def scattered(seed: int, count: int, keep: float) -> tuple[np.ndarray, np.ndarray]:
    """Points, strokes and chains about the regions, each with its own distance."""
    random = np.random.default_rng(seed)
    points = random.uniform((1.0, -4.0), (5.0, 0.0), (count, 2))
    kinds = [
        shapely.points(points[::3]),
        shapely.linestrings(points[1::3][:, None] + random.uniform(-0.6, 0.6, (len(points[1::3]), 2, 2))),
        shapely.linestrings(points[2::3][:, None] + random.uniform(-0.6, 0.6, (len(points[2::3]), 5, 2)).cumsum(1)),
    ]
    geometry = np.concatenate(kinds)
    return geometry, random.uniform(0.5, 1.0, len(geometry)) * keep


@pytest.mark.parametrize("region", [DISC, BOX, shapely.MultiPolygon([DISC, BOX.buffer(-1.4)]).buffer(0)])
@pytest.mark.parametrize("keep", [0.1, 0.25, 0.4, 0.8])
@pytest.mark.parametrize("seed", range(6))
def test_nothing_that_is_free_is_lost(region: shapely.Geometry, keep: float, seed: int) -> None:
    """Independent oracle: the difference of the region and finely chorded buffers, by shapely alone."""
    geometry, away = scattered(seed, 90, keep)
    free = region.difference(shapely.union_all(shapely.buffer(geometry, away, quad_segs=64)))
    left = left_by(Strokes.of(geometry, away), region)
    assert left.is_valid
    assert free.difference(left).area < 1e-9
    assert left.difference(region).area < 1e-9


def test_most_of_what_is_covered_goes() -> None:
    """Of a disc that strokes leave a corner of, little more than the cells of that corner is left."""
    lines = shapely.linestrings([[(1.0, y), (3.4, y)] for y in np.linspace(-3.6, -0.4, FEWEST)])
    left = left_by(Strokes.of(lines, np.full(FEWEST, 0.2)), DISC)
    free = DISC.intersection(shapely.box(3.6, -4.0, 5.0, 0.0))
    assert free.area < left.area < 1.6 * free.area


def test_nothing_is_left_of_what_strokes_cover_together() -> None:
    """No stroke covers the disc, nor one of the cells; side by side they do."""
    lines = shapely.linestrings([[(1.0, y), (5.0, y)] for y in np.linspace(-3.6, -0.4, FEWEST)])
    assert left_by(Strokes.of(lines, np.full(FEWEST, 0.15)), DISC).is_empty
