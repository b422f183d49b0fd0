"""Distances from holes and their pads to other copper, by hand-worked values.

Unless said otherwise a via of net A, 0.3 mm in a pad of 0.6 mm, stands at (10, 10) on a board of four layers, and
something of net B is near it on L2. Plated holes are drilled 0.1 mm wider than they end up.
"""

from __future__ import annotations

import pytest
import shapely

from boards import board_of
from fencepost.board.model import Board
from fencepost.fabrication.spacing import Near, near_barrels, near_pads, near_unplated
from sketch import Sketch

AT = (10.0, 10.0)
PAD, BARREL, UNPLATED = 0.1, 0.15, 0.2


def via(**options) -> Sketch:
    sketch = Sketch(layers=4)
    sketch.via("A", AT, **{"drill": 0.3, "pad": 0.6, **options})
    return sketch


def trace(sketch: Sketch, away: float, net: str = "B", layer: int = 2, width: float = 0.2) -> Sketch:
    """A trace whose edge passes the middle of the via at this distance."""
    y = 10 + away + width / 2
    sketch.trace(net, layer, [(5, y), (15, y)], width)
    return sketch


def flat(found: list[Near]) -> list[tuple[int, float]]:
    return [(near.layer, distance) for near in found for distance in near.distance.tolist()]


def pads(board: Board, limit: float = PAD) -> list[tuple[int, float]]:
    return flat([near_pads(board, copper, limit) for copper in board.copper])


def barrels(board: Board, limit: float = BARREL) -> list[tuple[int, float]]:
    return flat([near_barrels(board, copper, 0.1, limit) for copper in board.copper])


def unplated(board: Board, limit: float = UNPLATED) -> list[tuple[int, float]]:
    return flat([near_unplated(board, copper, limit) for copper in board.copper])


def at(layer: int, distance: float) -> list[tuple[int, object]]:
    return [(layer, pytest.approx(distance, abs=0.001))]


@pytest.mark.parametrize(("away", "distance"), [(0.41, None), (0.4, None), (0.398, 0.098), (0.35, 0.05)])
def test_a_pad_and_a_trace(away: float, distance: float | None) -> None:
    """The pad's edge is 0.3 mm from the middle."""
    board = board_of(trace(via(), away))
    assert pads(board) == ([] if distance is None else at(2, distance))
    assert barrels(board) == [], "a pad surrounds the hole"


@pytest.mark.parametrize(("away", "distance"), [(0.36, None), (0.35, None), (0.348, 0.148), (0.25, 0.05)])
def test_a_barrel_without_a_pad_and_a_trace(away: float, distance: float | None) -> None:
    """The hole is drilled 0.4 mm wide: its wall is 0.2 mm from the middle."""
    board = board_of(trace(via(pads=(1, 4)), away))
    assert barrels(board) == ([] if distance is None else at(2, distance))
    assert pads(board) == []


@pytest.mark.parametrize("layer", [1, 2, 3, 4])
@pytest.mark.parametrize("span", [(1, 4), (1, 2), (2, 3), (3, 4)])
def test_only_layers_that_the_hole_passes_count(layer: int, span: tuple[int, int]) -> None:
    inside = span[0] <= layer <= span[1]
    assert pads(board_of(trace(via(span=span), 0.35, layer=layer))) == (at(layer, 0.05) if inside else [])
    assert barrels(board_of(trace(via(span=span, pads=()), 0.3, layer=layer))) == (at(layer, 0.1) if inside else [])


@pytest.mark.parametrize("cut", ["region", "clear"])
@pytest.mark.parametrize(("clearance", "near"), [(0.098, True), (0.1, False), (0.3, False)])
def test_a_plane_that_keeps_off_the_pad(cut: str, clearance: float, near: bool) -> None:
    sketch = via()
    sketch.pour("B", 2, clearance=clearance, cut=cut)
    assert pads(board_of(sketch)) == (at(2, clearance) if near else [])


def test_a_plane_that_keeps_off_a_barrel_without_a_pad() -> None:
    """Copper from 0.3 mm off the middle on leaves 0.1 mm to the drilled wall."""
    sketch = via(pads=(1, 4))
    sketch.copper("B", 2, shapely.box(5, 5, 15, 15).difference(shapely.Point(AT).buffer(0.3, quad_segs=90)))
    assert barrels(board_of(sketch)) == at(2, 0.1)


def test_a_barrel_in_a_plane_of_its_own_net_needs_no_pad() -> None:
    sketch = trace(via(pads=(1, 4)), 2.0)
    sketch.pour("A", 2)
    assert barrels(board_of(sketch), 0.5) == []


def test_copper_of_the_same_net_may_be_as_near_as_it_likes() -> None:
    """Connected or not."""
    assert pads(board_of(trace(via(), 0.35, net="A"))) == []


def test_nets_that_copper_connects_are_one_net() -> None:
    """B is joined to A far away by intent: what is connected cannot be shorted."""
    sketch = trace(via(), 0.35)
    sketch.trace("A", 2, [AT, (4, 8), (5, 10.45)], 0.2)
    assert pads(board_of(sketch)) == []


def test_nets_that_a_via_connects_are_one_net() -> None:
    """As above, but the join is on another layer."""
    sketch = trace(via(), 0.35)
    sketch.via("B", (5, 10.45))
    sketch.trace("A", 4, [AT, (5, 10.45)], 0.2)
    assert pads(board_of(sketch)) == []


def test_pads_are_told_from_traces_of_their_own_net() -> None:
    """The trace that leaves the via passes another one at 0.05 mm: not a matter of holes."""
    sketch = via()
    sketch.trace("A", 1, [AT, (18, 10)], 0.2)
    sketch.trace("B", 1, [(12, 10.25), (18, 10.25)], 0.2)
    assert pads(board_of(sketch)) == []


def test_slots_and_component_holes_have_pads_too() -> None:
    sketch = Sketch(layers=2)
    sketch.slot((8, 10), (12, 10), 0.8, plated=True, net="A", pad=1.4)
    sketch.through_pad("J1", "1", "B", (10, 11.3), drill=0.6, pad=1.1)
    board = board_of(sketch)
    assert pads(board) == [*at(1, 0.05)] * 2 + [*at(2, 0.05)] * 2, "1.3 - 0.7 - 0.55 mm, from either side"


@pytest.mark.parametrize(
    ("away", "distance"), [(0.71, None), (0.7, None), (0.698, 0.198), (0.55, 0.05), (0.5, 0.0), (0.3, 0.0)]
)
def test_a_hole_without_plating(away: float, distance: float | None) -> None:
    """1.0 mm wide, not drilled wider; any net is another one."""
    sketch = Sketch(layers=4)
    sketch.hole(AT, 1.0)
    assert unplated(board_of(trace(sketch, away))) == ([] if distance is None else at(2, distance))


@pytest.mark.parametrize(("pad", "reaches"), [(1.3, False), (1.296, True), (1.1, True)])
def test_a_land_around_a_hole_without_plating_is_meant_if_it_is_wide_enough(pad: float, reaches: bool) -> None:
    """A ring of 0.15 mm: IPC-2221B, table 9-2, unsupported, from memory."""
    sketch = Sketch(layers=1)
    sketch.hole(AT, 1.0)
    sketch.pad("H1", "1", "A", 1, AT, pad, "round")
    assert unplated(board_of(sketch)) == (at(1, 0.0) if reaches else [])


def test_other_copper_near_such_a_land_still_counts() -> None:
    sketch = Sketch(layers=1)
    sketch.hole(AT, 1.0)
    sketch.pad("H1", "1", "A", 1, AT, 1.3, "round")
    assert unplated(board_of(trace(sketch, 0.69, layer=1)), 0.3) == at(1, 0.19)


@pytest.mark.parametrize(("width", "distance"), [(1.0, 0.1), (0.7, None)])
def test_a_slot_without_plating(width: float, distance: float | None) -> None:
    sketch = Sketch(layers=2)
    sketch.slot((8, 10), (12, 10), width)
    found = unplated(board_of(trace(sketch, 0.6)))
    assert found == ([] if distance is None else at(2, distance))


@pytest.mark.parametrize("options", [{"turn": 30.0}, {"move": (50.0, -70.0)}, {"units": "inch"}, {"mirror": True}])
def test_however_the_board_lies_and_is_written(options: dict) -> None:
    assert pads(board_of(trace(via(), 0.35), **options)) == at(2, 0.05)
    assert barrels(board_of(trace(via(pads=(1, 4)), 0.3), **options)) == at(2, 0.1)
    sketch = Sketch(layers=4)
    sketch.hole(AT, 1.0)
    assert unplated(board_of(trace(sketch, 0.6), **options)) == at(2, 0.1)
