"""Gaps under traces: where they are found, how long and how wide they are, and what is none.

Unless said otherwise a trace of 0.15 mm runs on L1 of a board of 20 x 20 mm, from (2, 10) to (18, 10), and L2, a solid
ground, lies 0.2 mm below it: what goes on within 0.075 + 0.2 = 0.275 mm of its middle is no gap. The pours keep off the
profile by 0.3 mm and off vias of 0.3/0.6 mm by 0.2 mm, so that their antipads have a radius of 0.5 mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
import shapely

from boards import board_of
from fencepost.board.model import Board
from fencepost.signals.gaps import Gap, gaps_of
from sketch import Path, Sketch
from sketch.items import Pour

Points = list[tuple[float, float]]

MIDDLE: Points = [(2, 10), (18, 10)]


def bare(layers: int = 4, **options) -> Sketch:
    """No copper yet; one hole, since a package has holes."""
    sketch = Sketch(layers=layers, **options)
    sketch.hole((19.0, 19.0), 0.6)
    return sketch


def board_with(
    *holes: object, points: Points | Path = MIDDLE, layer: int = 1, layers: int = 4, over: tuple[int, ...] = (2,)
) -> Sketch:
    """A trace of net A, and ground on the layers `over`, each with these holes in it."""
    sketch = bare(layers)
    for plane in over:
        sketch.pour("GND", plane, holes=holes)
    sketch.trace("A", layer, points)
    return sketch


def gaps(sketch: Sketch, **options) -> tuple[Gap, ...]:
    return gaps_of(board_of(sketch, **options))


def nets(board: Board, gap: Gap) -> tuple[list[str], list[str]]:
    """What it runs on before and behind, as `GND on L2`, the side that comes first by name first."""
    sides = [
        [f"{board.nets[board.pieces.net[one.piece]].name} on L{one.layer}" for one in side]
        for side in (gap.before, gap.after)
    ]
    first, second = sorted(sides)
    return first, second


def spans(found: tuple[Gap, ...]) -> list[tuple[float, float]]:
    """From where to where along a straight trace from (2, 10), in x, to 1 µm."""
    ends = (sorted((gap.run.at(gap.begin)[0], gap.run.at(gap.end)[0])) for gap in found)
    return sorted((round(float(x), 3), round(float(y), 3)) for x, y in ends)


ANYWHERE = (
    {},
    {"turn": 30.0},
    {"move": (-113.7, 41.3)},
    {"units": "inch"},
    {"mirror": True, "turn": 217.0, "move": (5.0, -90.0)},
)


@pytest.mark.parametrize("options", ANYWHERE, ids=str)
@pytest.mark.parametrize("width", [0.12, 0.3, 0.7, 2.9])
def test_a_slot_is_as_long_and_as_wide_as_it_was_drawn(width: float, options: dict) -> None:
    (gap,) = gaps(board_with((10, 5, 10 + width, 15)), **options)
    assert gap.length == pytest.approx(width, abs=0.004)
    assert gap.width == pytest.approx(width, abs=0.004)
    assert gap.returns
    assert gap.height == pytest.approx(0.2)


@pytest.mark.parametrize("angle", [90, 60, 45, 30])
def test_a_trace_across_a_slot_at_an_angle_is_without_copper_for_longer(angle: float) -> None:
    """Width over the sine of the angle; the shortest way across stays the slot's width."""
    along = shapely.box(-9, -0.2, 9, 0.2)
    slot = shapely.affinity.translate(shapely.affinity.rotate(along, angle, origin=(0, 0)), 10, 10)
    (gap,) = gaps(board_with(slot))
    assert gap.length == pytest.approx(0.4 / math.sin(math.radians(angle)), abs=0.004)
    assert gap.width == pytest.approx(0.4, abs=0.004)


def test_the_ends_of_a_gap_are_found_where_the_copper_ends() -> None:
    assert spans(gaps(board_with((7.123, 5, 7.456, 15)))) == [
        (pytest.approx(7.123, abs=0.002), pytest.approx(7.456, abs=0.002))
    ]


def test_a_gap_at_a_bend_is_measured_along_the_trace() -> None:
    """1 mm to the bend and 0.5 mm behind it."""
    corner = board_with((9, 8, 11, 10.5), points=[(2, 10), (10, 10), (10, 18)])
    (gap,) = gaps(corner)
    assert gap.length == pytest.approx(1.5, abs=0.004)


def test_a_gap_under_an_arc_is_measured_along_it() -> None:
    """A quarter circle of radius 6 mm about (4, 4); the slot is a sector of 10 degrees."""
    ends = [(4 + 9 * math.cos(math.radians(a)), 4 + 9 * math.sin(math.radians(a))) for a in (40, 50)]
    sector = shapely.Polygon([(4, 4), *ends])
    (gap,) = gaps(board_with(sector, points=Path.arc((10, 4), (4, 10), (4, 4))))
    assert gap.length == pytest.approx(math.radians(10) * 6, abs=0.01)


# What is no gap: the trace of these boards keeps its copper.


def antipad_beside(sketch: Sketch) -> None:
    """0.45 mm beside the trace: its edge is 0.05 mm beyond the trace's middle."""
    sketch.via("B", (10, 10.45))


def antipads_on_both_sides(sketch: Sketch) -> None:
    """One after the other, so that the copper goes on beside each."""
    sketch.vias("B", [(10, 10.45), (11.2, 9.55)])


def own_test_point(sketch: Sketch) -> None:
    """The trace runs through a via of its own that no trace leaves on another layer."""
    sketch.via("A", (10, 10))


def own_via_at_the_end(sketch: Sketch) -> None:
    sketch.via("A", (2, 10))


def own_large_pad_over_a_window(sketch: Sketch) -> None:
    """As under the pin of a coaxial socket: the plane is opened up 0.3 mm beyond the pad."""
    sketch.pad("J1", "1", "A", 1, (2, 10), (2.0, 1.0))
    (pour,) = sketch.find(Pour, layer=2)
    sketch.replace(pour, holes=(shapely.box(0.7, 9.2, 3.3, 10.8),))


def ground_stroke_between(sketch: Sketch) -> None:
    """Ground on L3 as well, and on L2 nothing but a track of a supply that hides it for 0.5 mm."""
    (pour,) = sketch.find(Pour, layer=2)
    sketch.replace(pour, layer=3)
    sketch.trace("+5V", 2, [(10, 2), (10, 18)], 0.5)


def copper_0_2_mm_beside(sketch: Sketch) -> None:
    """The plane ends 0.2 mm beside the trace and runs along it."""
    (pour,) = sketch.find(Pour, layer=2)
    sketch.replace(pour, outline=shapely.box(0, 0, 20, 9.8))


KEPT = (
    antipad_beside,
    antipads_on_both_sides,
    own_test_point,
    own_via_at_the_end,
    own_large_pad_over_a_window,
    ground_stroke_between,
    copper_0_2_mm_beside,
)


@pytest.mark.parametrize("change", KEPT, ids=lambda change: change.__name__)
def test_what_is_no_gap(change: Callable[[Sketch], None]) -> None:
    sketch = board_with()
    change(sketch)
    assert gaps(sketch) == ()


@pytest.mark.parametrize(("end", "found"), [(10.25, 0), (10.3, 1)])
def test_a_slot_that_ends_beside_the_trace_is_gone_around_within_the_strip(end: float, found: int) -> None:
    """The strip reaches 0.275 mm to either side: to y = 10.275 mm."""
    assert len(gaps(board_with((9.8, 5, 10.2, end)))) == found


def test_a_wide_part_of_the_trace_elsewhere_does_not_widen_the_strip() -> None:
    sketch = board_with((9.8, 5, 10.2, 10.6), points=[(2, 10), (14, 10)])
    sketch.trace("A", 1, [(14, 10), (18, 10)], 1.0)
    assert len(gaps(sketch)) == 1


@pytest.mark.parametrize(("height", "found"), [(0.2, 1), (0.4, 0)])
def test_the_strip_grows_with_the_height(height: float, found: int) -> None:
    sketch = bare(4, gaps=[(height, 4.2), (0.8, 4.5), (0.2, 4.2)])
    sketch.pour("GND", 2, holes=[(9.8, 5, 10.2, 10.4)])
    sketch.trace("A", 1, MIDDLE)
    assert len(gaps(sketch)) == found


def test_a_row_of_antipads_that_meet_is_a_gap() -> None:
    """0.9 mm apart they overlap, and halfway between two of them 2 sqrt(0.5^2 - 0.45^2) = 0.436 mm are open."""
    sketch = board_with()
    sketch.vias("B", [(10, 10.45 + 0.9 * i) for i in range(-4, 4)])
    (gap,) = gaps(sketch)
    assert gap.length == pytest.approx(0.436, abs=0.01)
    assert gap.width == pytest.approx(0.436, abs=0.01)


def test_the_antipad_of_the_own_via_counts_beyond_its_clearance() -> None:
    """The plane keeps 1 mm off the via: 0.3 + 1.0 - 0.15 mm from the hole's rim, more than 0.4 mm."""
    sketch = bare()
    sketch.pour("GND", 2, clearance=1.0)
    sketch.trace("A", 1, MIDDLE)
    sketch.via("A", (2, 10))
    (gap,) = gaps(sketch)
    assert spans((gap,)) == [(2.0, pytest.approx(3.3, abs=0.002))]
    assert not gap.returns
    assert gap.width is None


# Traces on inner layers: both sides count, each where it carries 20 % or more.

INNER = [
    # layers, trace on, planes, planes with the slot, gaps
    (6, 3, (2, 4), (2,), 0),  # 0.5 mm above and 0.19 mm below: 28 % and 72 %
    (6, 3, (2, 4), (4,), 0),
    (6, 3, (2, 4), (2, 4), 1),
    (8, 3, (2, 4), (2,), 0),  # 0.2 mm above and 0.15 mm below: 43 % and 57 %
    (8, 3, (2, 4), (4,), 0),
    (8, 3, (2, 4), (2, 4), 1),
    (4, 2, (1, 3), (3,), 0),  # 0.2 mm above and 1.06 mm below: 84 % and 16 %
    (4, 2, (1, 3), (1,), 1),
    (8, 5, (2, 8), (2,), 0),  # through layers without copper: 0.84 mm above and 0.52 mm below
    (8, 5, (2, 8), (2, 8), 1),
    (2, 1, (2,), (2,), 1),
]


@pytest.mark.parametrize(("layers", "layer", "planes", "slotted", "count"), INNER)
def test_a_stripline_keeps_its_other_reference(
    layers: int, layer: int, planes: tuple[int, ...], slotted: tuple[int, ...], count: int
) -> None:
    sketch = bare(layers)
    for plane in planes:
        sketch.pour("GND", plane, holes=[(9, 2, 11, 18)] if plane in slotted else [])
    sketch.trace("A", layer, MIDDLE)
    found = gaps(sketch)
    assert len(found) == count
    assert all(gap.length == pytest.approx(2, abs=0.004) for gap in found)


def test_of_two_slots_that_overlap_the_one_told_of_is_that_in_the_copper_that_comes_back() -> None:
    """Above from 8 to 10 mm, below from 9.5 to 11 mm: nothing covers 0.5 mm, and behind that it is the one above."""
    sketch = bare(8)
    sketch.pour("GND", 2, holes=[(8, 2, 10, 18)])
    sketch.pour("GND", 4, holes=[(9.5, 2, 11, 18)])
    sketch.trace("A", 3, MIDDLE)
    assert spans(gaps(sketch)) == [(pytest.approx(8, abs=0.002), pytest.approx(10, abs=0.002))]


def test_of_two_slots_one_after_the_other_none_is_a_gap() -> None:
    sketch = bare(8)
    sketch.pour("GND", 2, holes=[(8, 2, 9, 18)])
    sketch.pour("GND", 4, holes=[(10, 2, 11, 18)])
    sketch.trace("A", 3, MIDDLE)
    assert gaps(sketch) == ()


def test_the_width_is_that_of_the_copper_that_comes_back() -> None:
    """The ground above has a slot of 2 mm; the copper below, which carries more, parts for good within it."""
    sketch = bare(8)
    sketch.pour("GND", 2, holes=[(9, 2, 11, 18)])
    sketch.pour("GND", 4, (0, 0, 9.85, 20))
    sketch.pour("+3V3", 4, (10.15, 0, 20, 20))
    sketch.trace("A", 3, MIDDLE)
    (gap,) = gaps(sketch)
    assert (gap.length, gap.width) == (pytest.approx(2, abs=0.004), pytest.approx(2, abs=0.004))


def test_of_two_slots_that_end_together_the_one_told_of_is_the_shorter_one() -> None:
    sketch = bare(8)
    sketch.pour("GND", 2, holes=[(8.5, 2, 11, 18)])
    sketch.pour("GND", 4, holes=[(9.5, 2, 11, 18)])
    sketch.trace("A", 3, MIDDLE)
    assert spans(gaps(sketch)) == [(pytest.approx(9.5, abs=0.002), pytest.approx(11, abs=0.002))]


@pytest.mark.parametrize(("overlap", "count"), [(1.0, 0), (0.04, 0), (-0.04, 1)])
def test_copper_above_may_take_over_from_copper_below_where_they_overlap(overlap: float, count: int) -> None:
    """Also where the overlap, or what is open between the two, is shorter than the steps."""
    sketch = bare(8)
    sketch.pour("GND", 2, (0, 0, 10 + overlap / 2, 20))
    sketch.pour("GND", 4, (10 - overlap / 2, 0, 20, 20))
    sketch.trace("A", 3, MIDDLE)
    assert len(gaps(sketch)) == count


# Copper that ends or changes.


def test_the_end_of_the_copper() -> None:
    sketch = bare()
    sketch.pour("GND", 2, (0, 0, 12, 20))
    sketch.trace("A", 1, MIDDLE)
    board = board_of(sketch)
    (gap,) = gaps_of(board)
    assert spans((gap,)) == [(pytest.approx(12, abs=0.002), 18.0)]
    assert nets(board, gap) == ([], ["GND on L2"])


def test_a_trace_without_any_copper() -> None:
    sketch = bare()
    sketch.pour("GND", 2, (0, 0, 20, 5))
    sketch.trace("A", 1, MIDDLE)
    (gap,) = gaps(sketch)
    assert (gap.before, gap.after, gap.length) == ((), (), 16.0)


def test_a_short_trace_in_a_field_of_antipads_has_the_copper_at_their_rim() -> None:
    """From a via to a pad 0.9 mm away, over a window that ends 0.45 mm beside it."""
    sketch = bare()
    sketch.pour("GND", 2, holes=[(9, 9.55, 12, 10.45)])
    sketch.via("A", (10, 10), 0.2, 0.4)
    sketch.trace("A", 1, [(10, 10), (11.5, 10)])
    assert gaps(sketch) == ()


def split(first: str, second: str) -> Sketch:
    """Copper of two nets on L2, 0.3 mm apart at x = 10 mm."""
    sketch = bare()
    sketch.pour(first, 2, (0, 0, 9.85, 20))
    sketch.pour(second, 2, (10.15, 0, 20, 20))
    sketch.trace("A", 1, MIDDLE)
    return sketch


@pytest.mark.parametrize(("first", "second"), [("GND", "+3V3"), ("AGND", "GND"), ("GND", "GND"), ("+3V3", "+5V")])
def test_a_split_between_two_pieces_of_copper(first: str, second: str) -> None:
    board = board_of(split(first, second))
    (gap,) = gaps_of(board)
    assert spans((gap,)) == [(pytest.approx(9.85, abs=0.002), pytest.approx(10.15, abs=0.002))]
    assert gap.width is None
    assert not gap.returns
    assert nets(board, gap) == tuple(sorted(([f"{first} on L2"], [f"{second} on L2"])))


def test_a_split_narrower_than_the_steps_is_found() -> None:
    sketch = bare()
    sketch.pour("GND", 2, (0, 0, 9.98, 20), clearance=0.01)
    sketch.pour("+3V3", 2, (10.02, 0, 20, 20), clearance=0.01)
    sketch.trace("A", 1, MIDDLE)
    (gap,) = gaps(sketch)
    assert gap.length == pytest.approx(0.04, abs=0.002)


def test_a_change_to_a_deeper_layer_has_no_length() -> None:
    sketch = bare()
    sketch.pour("GND", 2, (0, 0, 9, 20))
    sketch.pour("GND", 3)
    sketch.trace("A", 1, MIDDLE)
    board = board_of(sketch)
    (gap,) = gaps_of(board)
    assert spans((gap,)) == [(pytest.approx(9, abs=0.002), pytest.approx(9, abs=0.002))]
    assert nets(board, gap) == (["GND on L2"], ["GND on L3"])
    assert gap.width is None


@pytest.mark.parametrize(("width", "count"), [(2.5, 1), (3.5, 2)])
def test_copper_that_stays_away_for_longer_has_changed(width: float, count: int) -> None:
    """An opening of up to 3 mm over another plane is a gap; over a wider one the trace changes to that and back."""
    sketch = board_with((8, 5, 8 + width, 15), over=(2,))
    sketch.pour("GND", 3)
    found = gaps(sketch)
    assert len(found) == count
    assert all(gap.returns == (count == 1) for gap in found)


def test_an_island_of_other_copper_that_is_long_enough_is_changed_to_and_from() -> None:
    """0.3 mm open, 2.6 mm of +5V and 0.3 mm open again: the ground stays away for 3.2 mm, and is new behind it."""
    sketch = board_with((8, 5, 11.2, 15))
    sketch.pour("+5V", 2, (8.3, 5, 10.9, 15))
    found = gaps(sketch)
    assert [gap.returns for gap in found] == [False, False]
    assert [gap.length for gap in found] == pytest.approx([0.3, 0.3], abs=0.004)


def test_what_lies_under_a_gap_is_told() -> None:
    sketch = board_with((9, 5, 10, 15))
    sketch.pour("+3V3", 3)
    board = board_of(sketch)
    (gap,) = gaps_of(board)
    (piece,) = gap.between
    assert (board.nets[board.pieces.net[piece]].name, board.pieces.layer[piece]) == ("+3V3", 3)


def test_what_lies_under_a_part_of_a_gap_is_not_told() -> None:
    sketch = board_with((9, 5, 10, 15))
    sketch.pour("+3V3", 3, (0, 0, 9.5, 20))
    (gap,) = gaps(sketch)
    assert gap.between == frozenset()


def test_gaps_follow_one_another() -> None:
    found = gaps(board_with((5, 5, 5.5, 15), (8, 5, 9, 15), (12, 5, 12.3, 15)))
    assert [gap.length for gap in sorted(found, key=lambda gap: gap.begin)] == pytest.approx([0.5, 1, 0.3], abs=0.004)


@pytest.mark.parametrize("layers", [2, 4, 6, 8])
def test_it_does_not_matter_which_way_a_board_is_turned_over(layers: int) -> None:
    """The same trace on the other outer layer, over the plane next to that."""
    slot = (10, 5, 10.6, 15)
    top = gaps(board_with(slot, layers=layers, over=(2,)))
    bottom = gaps(board_with(slot, layer=layers, layers=layers, over=(layers - 1,)))
    assert [gap.length for gap in top] == pytest.approx([gap.length for gap in bottom], abs=1e-6)
    assert [gap.width for gap in top] == pytest.approx([gap.width for gap in bottom], abs=1e-6)


def test_a_board_without_traces_has_no_gaps() -> None:
    sketch = bare()
    sketch.pour("GND", 2)
    assert gaps(sketch) == ()
