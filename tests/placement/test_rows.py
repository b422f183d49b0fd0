"""Rows and grids: fences, the rim and pours, where there is nothing yet and where something is in the way."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from boards import board_of, settings_of
from fencepost.placement.plan import plan, with_vias
from fencepost.placement.rows import fence_needs, pour_needs, rim_needs
from fencepost.placement.via import via_model
from fencepost.signals.ties import ties_of
from sketch import Sketch

SETTINGS = settings_of('[placement]\ndrill = "0.3 mm"\npad = "0.6 mm"')


def ground(size: tuple[float, float] = (30.0, 20.0)) -> Sketch:
    sketch = Sketch(layers=4, size=size)
    sketch.hole((15.0, 2.5), 0.4)
    for layer in range(1, 5):
        sketch.pour("GND", layer)
    return sketch


def planned(board, needs):
    model = via_model(board, SETTINGS)
    needs = list(needs)
    found = plan(board, model, needs)
    return needs, found, with_vias(board, model, found.vias)


def test_a_fence_is_planned_on_both_sides_and_then_nothing_is_left_to_plan() -> None:
    sketch = ground()
    sketch.trace("RF", 1, [(5.0, 10.0), (25.0, 10.0)], 0.3)
    board = board_of(sketch, SETTINGS)
    net = board.net_index["RF"]
    _, found, after = planned(board, fence_needs(board, net, 2.0, 3.0, 1.0))
    assert -1 not in found.by
    sides = np.sign([via.y - 10.0 for via in found.vias])
    assert (sides > 0).sum() == (sides < 0).sum() == 12
    assert list(fence_needs(after, net, 2.0, 3.0, 1.0)) == []


def test_a_fence_skips_what_is_in_the_way_and_only_that() -> None:
    sketch = ground()
    sketch.trace("RF", 1, [(5.0, 10.0), (25.0, 10.0)], 0.3)
    sketch.pad("U1", "1", "IN", 4, (15.0, 12.0), (3.0, 4.0))
    board = board_of(sketch, SETTINGS)
    needs, found, _ = planned(board, fence_needs(board, board.net_index["RF"], 2.0, 3.0, 1.0))
    skipped = [need for need, via in zip(needs, found.by, strict=True) if via < 0]
    assert skipped
    assert all(need.at[1] > 10 and 12.5 < need.at[0] < 17.5 for need in skipped)


@pytest.mark.parametrize("pitch", [3.0, 5.0])
def test_along_the_rim_no_two_vias_are_farther_apart_than_the_pitch(pitch: float) -> None:
    board = board_of(ground(), SETTINGS)
    _, found, after = planned(board, rim_needs(board, via_model(board, SETTINGS), pitch))
    assert -1 not in found.by
    ring = board.profile.exterior
    centres = shapely.points(ties_of(after).centre)
    assert shapely.distance(ring, centres).max() < 1.5
    along = np.sort(shapely.line_locate_point(ring, centres))
    assert np.diff(np.append(along, along[0] + ring.length)).max() <= pitch + 1.5
    assert list(rim_needs(after, via_model(board, SETTINGS), pitch)) == []


def test_over_a_pour_no_point_is_farther_from_a_tie_than_the_diagonal_of_its_grid() -> None:
    board = board_of(ground(), SETTINGS)
    pitch = 4.0
    _, found, after = planned(board, pour_needs(board, via_model(board, SETTINGS), pitch))
    assert -1 not in found.by
    x, y = np.meshgrid(np.arange(2.0, 28.0, 0.25), np.arange(2.0, 18.0, 0.25))
    points = np.stack([x.ravel(), y.ravel()], axis=1)
    away = np.hypot(*(points[:, None] - ties_of(after).centre[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.max() <= pitch / np.sqrt(2) + 1e-6


def test_ties_that_are_there_are_not_doubled() -> None:
    sketch = ground()
    for x in np.arange(2.0, 29.0, 2.0):
        for y in np.arange(2.0, 19.0, 2.0):
            sketch.via("GND", (float(x), float(y)))
    board = board_of(sketch, SETTINGS)
    assert list(pour_needs(board, via_model(board, SETTINGS), 4.0)) == []
    assert list(rim_needs(board, via_model(board, SETTINGS), 5.0)) == []
