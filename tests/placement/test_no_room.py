"""Where nothing fits: what is named, and whether the smallest move does make room when it is made."""

from __future__ import annotations

import dataclasses
import math

import pytest
import shapely

from boards import board_of, settings_of
from fencepost.placement.need import Need
from fencepost.placement.room import NoRoom, no_room, said_of
from fencepost.placement.spots import best_spot
from fencepost.placement.via import ViaModel, via_model
from placement.brute_force import SIZES, need_on
from sketch import Sketch
from sketch.items import Trace, Via
from sketch.path import Pose

AT = (5.0, 5.0)


def walled(half: float, thick: float = 0.45) -> Sketch:
    """Ground on L2 and L3, and on L1 a frame of another net about the centre, so thick that nothing fits beyond it."""
    board = Sketch(layers=4, size=(10.0, 10.0))
    board.pour("GND", 2, clearance=0.1)
    board.pour("GND", 3, clearance=0.1)
    board.via("GND", (1.0, 9.0))
    low, high = 5 - half, 5 + half
    for x0, y0, x1, y1 in ((low - thick, low, low, high), (high, low, high + thick, high)):
        board.copper("WALL", 1, shapely.box(x0, y0, x1, y1))
        board.copper("WALL", 1, shapely.box(y0 - thick, x0, y1 + thick, x1))
    return board


def asked(sketch: Sketch, settings: str = SIZES.settings) -> tuple[NoRoom | None, ViaModel, Need]:
    read = settings_of(settings)
    board = board_of(sketch, read)
    model, need = via_model(board, read), need_on(board)
    return (None if best_spot(board, model, need) else no_room(board, model, need)), model, need


def test_a_pour_in_the_way_is_named_with_the_place_that_it_would_leave() -> None:
    sketch = Sketch(layers=4, size=(10.0, 10.0))
    sketch.pour("GND", 2)
    sketch.pour("GND", 3)
    sketch.via("GND", (1.0, 9.0))
    sketch.pour("VCC", 4)
    reason, model, _ = asked(sketch)
    assert reason is not None
    assert reason.refilled == AT
    assert "; ".join(said_of(reason, model)).startswith("the pour of VCC on L4 is in the way")
    assert reason.blocking[0].location is not None
    assert asked(sketch, SIZES.settings + "through_pours = true\n")[0] is None


def test_ground_too_narrow_for_the_pad_is_said_to_be() -> None:
    sketch = Sketch(layers=4, size=(10.0, 10.0))
    sketch.copper("GND", 2, shapely.box(4, 4.9, 6, 5.1))
    sketch.copper("GND", 3, shapely.box(4, 4.9, 6, 5.1))
    sketch.via("GND", (1.0, 9.0))
    reason, model, _ = asked(sketch)
    assert reason == NoRoom(())
    assert list(said_of(reason, model)) == ["the ground copper has no room for a pad of 0.50 mm there"]


@pytest.mark.parametrize("thing", ["trace", "via"])
def test_the_smallest_move_makes_room_when_it_is_made_and_3_um_less_does_not(thing: str) -> None:
    """A pocket in which a via fits, and in it one thing that leaves too little room. The sketch itself is changed."""
    sketch = walled(0.8)
    if thing == "trace":
        sketch.trace("SIG", 1, [(4.35, 4.97), (5.65, 4.97)], 0.1)
    else:
        sketch.via("SIG", AT, drill=0.2, pad=0.4)
    reason, _, _ = asked(sketch)
    assert reason is not None
    assert reason.move is not None
    assert reason.move.what.words == ("the trace of SIG on L1" if thing == "trace" else "the via of SIG")
    for more, fits in ((0.003, True), (-0.003, False)):
        scale = 1 + more / reason.move.length
        moved = _moved(sketch, thing, reason.move.dx * scale, reason.move.dy * scale)
        assert (asked(moved)[0] is None) is fits, more


def _moved(sketch: Sketch, thing: str, dx: float, dy: float) -> Sketch:
    other = Sketch(layers=4, size=(10.0, 10.0))
    other.items = list(sketch.items)
    (item,) = other.find(Trace if thing == "trace" else Via, net="SIG")
    pose = Pose(move=(dx, dy))
    if isinstance(item, Trace):
        other.replace(item, path=pose.path(item.path))
    else:
        at = pose.point(item.at)
        other.replace(item, at=at, drill=dataclasses.replace(item.drill, start=at, end=at))
    return other


def test_where_no_single_move_helps_what_blocks_most_is_named() -> None:
    sketch = walled(0.8)
    sketch.pad("U1", "1", "IN", 1, AT, (1.2, 1.2))
    reason, model, _ = asked(sketch)
    assert reason is not None
    assert reason.move is None
    said = "; ".join(said_of(reason, model))
    assert said == "a pad of IN on L1 and copper of WALL on L1 are in the way, and no single move makes room"
    pad, *walls = reason.blocking
    assert (pad.x, pad.y) == AT
    assert [math.dist((wall.x, wall.y), AT) for wall in walls] == pytest.approx([0.8] * len(walls), abs=1e-6)


@pytest.mark.parametrize("turn", range(0, 180, 15))
def test_of_things_that_block_all_of_it_the_upper_one_is_named_first(turn: int) -> None:
    sketch = Sketch(layers=4, size=(10.0, 10.0))
    sketch.pour("GND", 2, clearance=0.1)
    sketch.pour("GND", 3, clearance=0.1)
    sketch.via("GND", (1.0, 9.0))
    dx, dy = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    for i, (x, y) in enumerate([(4.5, 5.3), (5.4, 4.8), (4.9, 4.4)]):
        sketch.pad(f"J{i}", "1", f"PIN{i}", 2 + i % 2, (x, y), (0.2, 0.2))
    for side in (-0.9, -0.3, 0.3, 0.9):
        ends = [(5 + dx * along - dy * side, 5 + dy * along + dx * side) for along in (-1, 1)]
        sketch.trace("HIGH", 1, ends, 0.7)
    sketch.pad("U1", "1", "LOW", 4, AT, (6.0, 6.0))
    reason, _, _ = asked(sketch)
    assert reason is not None
    assert reason.blocking[0].words == "the trace of HIGH on L1"
