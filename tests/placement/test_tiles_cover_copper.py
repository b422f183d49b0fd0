"""Copper that is cut into tiles is the same copper, and no tile is large."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
import shapely

from boards import board_of, settings_of
from fencepost.placement.tiles import LARGEST, tiles_of
from sketch import Sketch


def pierced(seed: int) -> Sketch:
    """A pour around vias of other nets, some of them at the places where halves and quarters of it meet."""
    rng = random.Random(seed)
    board = Sketch(layers=2, size=(16.0, 16.0))
    board.via("GND", (1.0, 15.0))
    corners = [(x, y) for x in (4.0, 8.0, 12.0) for y in (4.0, 8.0, 12.0)]
    places = [*corners, *((rng.uniform(2, 14), rng.uniform(2, 14)) for _ in range(20))]
    for i, place in enumerate(places):
        if all(math.dist(place, other) > 0.8 for other in places[:i]):
            board.via(f"N{i}", (round(place[0], 3), round(place[1], 3)), drill=0.3, pad=0.6)
    board.pour("GND", 1, clearance=0.2)
    return board


@pytest.mark.parametrize("seed", range(4))
def test_tiles_are_the_copper_that_they_are_cut_from(seed: int) -> None:
    board = board_of(pierced(seed), settings_of(""))
    copper, tiles = board.copper[0], tiles_of(board, 1)
    assert (shapely.get_num_coordinates(copper.geometry) > LARGEST).any()
    near = tiles.near(board.profile)
    solid = near[tiles.reach[near] == 0]
    assert (shapely.get_num_coordinates(tiles.geometry[solid]) <= LARGEST).all()
    assert set(tiles.part[near].tolist()) == set(range(len(copper)))
    for part in np.unique(tiles.part[solid]).tolist():
        joined = shapely.union_all(tiles.geometry[solid[tiles.part[solid] == part]])
        assert shapely.symmetric_difference(joined, copper.geometry[part]).area == pytest.approx(0, abs=1e-9)
