"""Where ground lies over ground, within regions."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from boards import board_of
from fencepost.grounds.areas import ground_pieces
from fencepost.grounds.overlaps import overlaps_within, pairs_in
from sketch import Sketch

REGIONS = [shapely.box(0, 0, 10, 10), shapely.box(4, 0, 20, 10), shapely.Polygon(), shapely.box(15, 1, 19, 9)]


@pytest.mark.parametrize("narrow", [0.0, 3.0])
def test_overlaps_in_several_regions_at_once(narrow: float) -> None:
    """L1 over L3 with L2 between them in the middle, once by their rectangles; an empty region holds nothing; what is
    narrower than asked for, on the average, is left out."""
    rectangles = {1: (1, 1, 19, 6), 2: (6, 2, 12, 8), 3: (3, 3, 18, 9)}
    sketch = Sketch(layers=4, size=(20.0, 10.0))
    for layer, box in rectangles.items():
        sketch.copper("GND", layer, box)
    sketch.hole((1, 9.3), 0.5)
    board = board_of(sketch)
    pieces = ground_pieces(board)
    piece = {int(board.pieces.layer[one]): int(one) for one in pieces}
    regions = np.array(REGIONS, dtype=object)
    pair = np.array([[piece[1], piece[3]]] * len(regions), dtype=np.int32)
    pairs = pairs_in(board, pieces, pair, shapely.bounds(regions))
    assert [one.between for one in pairs[:2]] == [(piece[2],)] * 2
    shapes = {layer: shapely.box(*box) for layer, box in rectangles.items()}
    facing = shapes[1].intersection(shapes[3]).difference(shapes[2])
    found = overlaps_within(board, pairs, regions, np.full(len(regions), narrow))
    for region, areas in zip(REGIONS, found, strict=True):
        parts = shapely.get_parts(facing.intersection(region))
        wide = [one for one in parts if one.area > 0 and 2 * one.area > narrow * one.length]
        assert shapely.union_all(areas).symmetric_difference(shapely.union_all(wide)).area < 1e-6
        assert len(areas) == len(wide)


def test_nothing_asked_is_nothing_found() -> None:
    sketch = Sketch(layers=2, size=(20.0, 10.0))
    sketch.pour("GND", 1)
    sketch.hole((1, 9.3), 0.5)
    board = board_of(sketch)
    pairs = pairs_in(board, ground_pieces(board), np.empty((0, 2), dtype=np.int32), np.empty((0, 4)))
    assert pairs == []
    assert overlaps_within(board, pairs, np.empty(0, dtype=object), np.empty(0)) == []
