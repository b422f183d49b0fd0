"""Contours with cut-ins against the areas that they were made of."""

import numpy as np
import pytest
import shapely

from fencepost.board.cutins import uncut
from sketch.contour import contour


def holed(seed: int, holes: int = 12) -> shapely.Polygon:
    """A square with round holes that lie apart, on a grid of nanometres as contours are."""
    random = np.random.default_rng(seed)
    places = random.permutation(36)[:holes]
    discs = [shapely.Point(3 * (i % 6) + 2, 3 * (i // 6) + 2).buffer(random.uniform(0.2, 1.2)) for i in places.tolist()]
    return shapely.set_precision(shapely.box(0, 0, 19, 19).difference(shapely.union_all(discs)), 1e-6)


def drawn(*areas: shapely.Polygon) -> tuple[np.ndarray, np.ndarray]:
    rings = [contour(area, 1e6) / 1e6 for area in areas]
    return np.concatenate(rings), np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])


def same(one: shapely.Polygon, other: shapely.Polygon) -> bool:
    return bool(one.is_valid and one.symmetric_difference(other).area < 1e-4)


@pytest.mark.parametrize("seed", range(4))
def test_a_contour_becomes_the_area_that_it_was_made_of(seed: int) -> None:
    points, number = drawn(*(holed(seed + i, 12 - 3 * i) for i in range(3)))
    rows, areas = uncut(points, number)
    assert rows.tolist() == [0, 1, 2]
    for i, area in enumerate(areas):
        assert same(area, holed(seed + i, 12 - 3 * i))
        assert len(area.interiors) == 12 - 3 * i


@pytest.mark.parametrize("begin", [0, 1, 17, 100, -1])
@pytest.mark.parametrize("sense", [1, -1])
def test_where_a_contour_begins_and_how_it_turns_does_not_matter(begin: int, sense: int) -> None:
    points, number = drawn(holed(7))
    _, areas = uncut(np.roll(points, begin, axis=0)[::sense], number)
    assert same(areas[0], holed(7))


def test_a_cut_in_to_a_hole_beyond_a_hole() -> None:
    """From the outline to one hole, and from that one to the next."""
    ring = [(0, 0), (9, 0), (9, 3), (0, 3), (0, 1), (1, 1), (1, 2), (3, 2), (3, 1)]
    ring += [(4, 1), (4, 2), (6, 2), (6, 1), (4, 1), (3, 1), (1, 1), (0, 1)]
    _, areas = uncut(np.array(ring, dtype=float), np.zeros(len(ring), dtype=np.int64))
    assert areas[0].equals(shapely.box(0, 0, 9, 3) - shapely.box(1, 1, 3, 2) - shapely.box(4, 1, 6, 2))


@pytest.mark.parametrize(
    "ring",
    [
        pytest.param([(0, 0), (4, 0), (4, 4), (0, 4)], id="no cut-in"),
        pytest.param([(0, 0), (4, 4), (4, 0), (0, 4)], id="crosses itself"),
        pytest.param([(0, 0), (1, 0), (1, 1), (2, 1), (2, 0), (3, 0), (3, 2), (2, 2), (2, 1), (1, 1), (1, 2), (0, 2)],
                     id="two areas on a line"),
        pytest.param([(0, 0), (4, 0), (2, 0)], id="no area"),
        pytest.param([(0, 0), (4, 0), (4, 4), (4, 0)], id="there and back"),
    ],
)  # fmt: skip
def test_what_is_no_area_with_holes_is_left_out(ring: list[tuple[float, float]]) -> None:
    rows, areas = uncut(np.array(ring, dtype=float), np.zeros(len(ring), dtype=np.int64))
    assert not len(rows)
    assert not len(areas)


def test_a_line_out_and_back_is_no_part_of_an_area() -> None:
    ring = [(0, 0), (4, 0), (7, 0), (4, 0), (4, 4), (0, 4)]
    _, areas = uncut(np.array(ring, dtype=float), np.zeros(6, dtype=np.int64))
    assert areas[0].equals(shapely.box(0, 0, 4, 4))


def test_many_lines_out_and_back_from_one_corner() -> None:
    spikes = [at for i in range(50) for at in ((1 + i / 50, 1.0), (0, 0))]
    ring = [(0, 0), *spikes, (4, 0), (4, 4), (0, 4)]
    _, areas = uncut(np.array(ring, dtype=float), np.zeros(len(ring), dtype=np.int64))
    assert areas[0].equals(shapely.box(0, 0, 4, 4))


def test_contours_that_share_an_edge_keep_it() -> None:
    """The same edge in two contours, there and back, is no cut-in."""
    left = [(0, 0), (4, 0), (4, 4), (0, 4)]
    right = [(4, 4), (4, 0), (8, 0), (8, 4)]
    rows, _ = uncut(np.array(left + right, dtype=float), np.repeat([0, 1], 4))
    assert not len(rows)


def test_nothing_to_look_at() -> None:
    rows, areas = uncut(np.empty((0, 2)), np.empty(0, dtype=np.int64))
    assert not len(rows)
    assert not len(areas)
