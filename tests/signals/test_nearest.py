"""The part of a piece of copper that is nearest to a place is the one that distances say."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from boards import board_of
from fencepost.signals.nearest import NEAR_MM, nearest_parts
from sketch import Sketch


@pytest.mark.parametrize("away", [NEAR_MM / 4, 3.0])
def test_the_nearest_part_is_found_near_by_and_far_away(away: float) -> None:
    """Ground as a pour with a slot, strokes over its edges, and pads; places within it, at its edges and outside."""
    random = np.random.default_rng(3)
    sketch = Sketch(layers=2)
    sketch.via("GND", (19, 19))
    sketch.pour("GND", 2, (2, 2, 18, 18), holes=[(9, 5, 11, 15)])
    sketch.trace("GND", 2, [(2, 2), (18, 2), (18, 18), (2, 18)], 0.2)
    sketch.trace("GND", 2, [(9, 5), (9, 15)], 0.3)
    sketch.trace("GND", 2, [(13, 8), (11.1, 8)], 0.3)
    sketch.vias("GND", [(9, 10), (12, 12), (2, 10)])
    board = board_of(sketch)
    copper = board.copper[1]
    piece = int(np.bincount(copper.piece).argmax())
    xy = np.concatenate(
        [random.uniform(1, 19, (100, 2)), [(9 + away, 8), (2 - away, 12), (18 + away / 2, 5), (10.92, 8)]]
    )
    found = nearest_parts(board, np.full(len(xy), piece), xy)
    own = copper.parts_of(piece)
    beyond = shapely.distance(shapely.points(xy)[:, None], copper.geometry[own]) - copper.reach[own]
    assert len(np.unique(found)) > 2
    at = np.searchsorted(own, found)
    assert beyond[np.arange(len(xy)), at] == pytest.approx(beyond.min(axis=1), abs=1e-9)
