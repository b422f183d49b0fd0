"""reference-gap: boards that pass and boards that fail.

The boards are 20 x 20 mm with a trace of 0.15 mm of net A on L1, from (2, 10) to (18, 10), and a solid ground 0.2 mm
below it on L2 (1.53 mm on two layers). Net A is in a class with a rise time of 1 ns: at er 4.2 a twentieth of the
wavelength at 350 MHz is 20.9 mm, so the plain 1.5 mm is the limit for ties.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
import shapely
from fencepost_rules.reference_gap import ReferenceGap

from boards import board_of, findings_of, outcome_of
from fencepost.board.model import Board
from fencepost.checking.finding import Finding, Severity, Unchecked
from sketch import Sketch
from tide_gauge import tide_gauge

CLASS = '[[class]]\nname = "fast"\nnets = ["A"]\nrise_time = "1 ns"\n'
Build = Callable[[Sketch], object]


def bare(layers: int = 4, **options) -> Sketch:
    """The trace, a part at each of its ends, and a hole; no planes."""
    sketch = Sketch(layers=layers, **options)
    sketch.hole((19.0, 19.0), 0.6)
    sketch.trace("A", 1, [(2, 10), (18, 10)])
    for number, x in enumerate((2, 18), 1):
        sketch.pad(f"U{number}", "1", "A", 1, (x, 10), 0.4)
    return sketch


def check(sketch: Sketch, settings: str = CLASS, **options) -> list[Finding]:
    return findings_of(ReferenceGap, board_of(sketch, settings, **options), settings)


def ground(sketch: Sketch, *holes: tuple[float, float, float, float], layer: int = 2) -> None:
    sketch.pour("GND", layer, holes=holes)


def halves(sketch: Sketch, first: str, second: str, layer: int = 2) -> None:
    """Two pieces of copper that part at x = 10 mm, 0.3 mm from one another."""
    sketch.pour(first, layer, (0, 0, 9.85, 20))
    sketch.pour(second, layer, (10.15, 0, 20, 20))


def capacitor(sketch: Sketch, first: str, second: str, x: float = 10.0, y: float = 12.0, name: str = "C1") -> None:
    """On L1, with a via beside each pin; their centres 1.5 mm to either side."""
    for number, net, side in (("1", first, -1), ("2", second, 1)):
        sketch.pad(name, number, net, 1, (x + 0.5 * side, y), 0.6)
        sketch.trace(net, 1, [(x + 0.5 * side, y), (x + 1.5 * side, y)], 0.3)
        sketch.via(net, (x + 1.5 * side, y))


# What the planes are, and of each finding its severity and words that its message must hold.

W, N = Severity.WARNING, Severity.NOTE
Expected = list[tuple[Severity, str]]


def slot(sketch: Sketch) -> None:
    ground(sketch, (9.8, 5, 10.2, 15))


def two_slots(sketch: Sketch) -> None:
    ground(sketch, (6, 5, 6.4, 15), (12, 5, 12.4, 15))


def row_of_slots(sketch: Sketch) -> None:
    """As in a field of antipads: three within 2 mm of one another."""
    ground(sketch, (6, 5, 6.4, 15), (7, 5, 7.7, 15), (9, 5, 9.4, 15))


def antipads(sketch: Sketch) -> None:
    """Two rows of vias whose antipads meet, and single vias."""
    ground(sketch)
    for x in (8, 9.6):
        sketch.vias("B", [(x, 10.45 + 0.9 * i) for i in range(-4, 4)])
    sketch.vias("B", [(5, 10.45), (14, 9.55)])


def slot_over_ground_tied_on_both_sides(sketch: Sketch) -> None:
    slot(sketch)
    ground(sketch, layer=3)
    sketch.vias("GND", [(9, 11), (11, 9)])


def slot_over_ground_tied_on_one_side(sketch: Sketch) -> None:
    slot(sketch)
    ground(sketch, layer=3)
    sketch.vias("GND", [(9.3, 10.8), (9.3, 9.2)])


def slot_over_ground_tied_far_away(sketch: Sketch) -> None:
    slot(sketch)
    ground(sketch, layer=3)
    sketch.vias("GND", [(8, 11), (12, 9)])


def end(sketch: Sketch) -> None:
    sketch.pour("GND", 2, (0, 0, 12, 20))


def end_over_ground(sketch: Sketch) -> None:
    """L2 ends 0.75 mm before the pad at the end of the trace, and L3 goes on."""
    sketch.pour("GND", 2, (0, 0, 17.05, 20))
    ground(sketch, layer=3)


def end_over_ground_tied(sketch: Sketch) -> None:
    end_over_ground(sketch)
    sketch.via("GND", (16, 11))


def none(sketch: Sketch) -> None:
    sketch.pour("GND", 2, (0, 0, 20, 5))


def grounds_split(sketch: Sketch) -> None:
    halves(sketch, "GND", "GND")


def grounds_split_over_a_third_tied_to_both(sketch: Sketch) -> None:
    grounds_split(sketch)
    ground(sketch, layer=3)
    sketch.vias("GND", [(9, 11), (11, 11)])


def grounds_split_over_a_third_tied_to_one(sketch: Sketch) -> None:
    grounds_split(sketch)
    ground(sketch, layer=3)
    sketch.vias("GND", [(9, 11), (11, 13)])


def grounds_split_with_a_bridge(sketch: Sketch) -> None:
    """Copper joins the two beside the trace, within half its width and its height."""
    grounds_split(sketch)
    sketch.copper("GND", 2, (9, 10.1, 11, 11))


def grounds_split_with_a_bridge_far_away(sketch: Sketch) -> None:
    """Then the two are one piece, and the split is a slot in it."""
    grounds_split(sketch)
    sketch.copper("GND", 2, (9, 12, 11, 13))


def different_grounds(sketch: Sketch) -> None:
    halves(sketch, "GND", "AGND")


def different_grounds_with_a_capacitor(sketch: Sketch) -> None:
    different_grounds(sketch)
    capacitor(sketch, "GND", "AGND")


def supply_split(sketch: Sketch) -> None:
    halves(sketch, "GND", "+3V3")
    capacitor(sketch, "GND", "+3V3", y=14)


def supply_split_with_a_capacitor(sketch: Sketch) -> None:
    halves(sketch, "GND", "+3V3")
    capacitor(sketch, "GND", "+3V3")


def wide_supply_split(sketch: Sketch, *, at: float) -> None:
    """2 mm wide, with vias of a capacitor within 3 mm of one of its ends only."""
    sketch.pour("GND", 2, (0, 0, 9, 20))
    sketch.pour("+3V3", 2, (11, 0, 20, 20))
    capacitor(sketch, "GND", "+3V3", at)


def wide_supply_split_with_a_capacitor_near_its_first_end(sketch: Sketch) -> None:
    wide_supply_split(sketch, at=9.7)


def wide_supply_split_with_a_capacitor_near_its_second_end(sketch: Sketch) -> None:
    wide_supply_split(sketch, at=10.3)


def supply_split_with_a_capacitor_of_other_nets(sketch: Sketch) -> None:
    halves(sketch, "GND", "+3V3")
    capacitor(sketch, "GND", "+5V")


def supply_split_with_a_resistor(sketch: Sketch) -> None:
    halves(sketch, "GND", "+3V3")
    capacitor(sketch, "GND", "+3V3", name="R1")


def supply_in_two_pieces(sketch: Sketch) -> None:
    halves(sketch, "+3V3", "+3V3")
    capacitor(sketch, "GND", "+3V3", y=17)


def supplies_split(sketch: Sketch) -> None:
    halves(sketch, "+3V3", "+5V")
    capacitor(sketch, "+5V", "GND")


def deeper(sketch: Sketch) -> None:
    sketch.pour("GND", 2, (0, 0, 10, 20))
    ground(sketch, layer=3)


def deeper_tied(sketch: Sketch) -> None:
    deeper(sketch)
    sketch.via("GND", (9, 11))


def deeper_tied_on_the_far_side(sketch: Sketch) -> None:
    """A via in L3 alone, where L2 has ended."""
    deeper(sketch)
    sketch.via("GND", (11, 11))


CASES: list[tuple[Build, Expected]] = [
    (ground, []),
    (slot, [(W, "A on L1 runs 0.40 mm across a gap in its reference, GND on L2; the gap is 0.40 mm wide")]),
    (two_slots, [(W, "0.40 mm across a gap")] * 2),
    (row_of_slots, [(W, "across 3 gaps in its reference, GND on L2, one after another, the longest 0.70 mm")]),
    (antipads, [(W, "across 2 gaps in its reference, GND on L2, one after another, the longest 0.44 mm")]),
    (slot_over_ground_tied_on_both_sides, []),
    (slot_over_ground_tied_on_one_side, [(W, "0.40 mm across a gap")]),
    (slot_over_ground_tied_far_away, [(W, "0.40 mm across a gap")]),
    (end, [(W, "A on L1 runs 6.00 mm past the end of its reference, GND on L2")]),
    (end_over_ground, [(W, "A on L1 runs 0.95 mm past the end of its reference, GND on L2")]),
    (end_over_ground_tied, []),
    (none, [(W, "A on L1 runs 16.00 mm without any reference copper")]),
    (grounds_split, [(W, "from one piece of GND on L2 to another, and no ground via ties the two within 1.50 mm")]),
    (grounds_split_over_a_third_tied_to_both, []),
    (grounds_split_over_a_third_tied_to_one, [(W, "from one piece of GND on L2 to another")]),
    (grounds_split_with_a_bridge, []),
    (grounds_split_with_a_bridge_far_away, [(W, "0.30 mm across a gap in its reference, GND on L2")]),
    (different_grounds, [(W, "and no capacitor joins the two within 3.00 mm")]),
    (different_grounds_with_a_capacitor, []),
    (supply_split, [(W, "and no capacitor joins the two within 3.00 mm")]),
    (supply_split_with_a_capacitor, []),
    (wide_supply_split_with_a_capacitor_near_its_first_end, []),
    (wide_supply_split_with_a_capacitor_near_its_second_end, []),
    (supply_split_with_a_capacitor_of_other_nets, [(W, "and no capacitor joins the two within 3.00 mm")]),
    (supply_split_with_a_resistor, [(W, "and no capacitor joins the two within 3.00 mm")]),
    (supply_in_two_pieces, [(W, "from one piece of +3V3 on L2 to another, and no +3V3 via ties the two")]),
    (supplies_split, [(W, "and no capacitor joins the two within 3.00 mm")]),
    (deeper, [(W, "and no ground via ties the two within 1.50 mm")]),
    (deeper_tied, []),
    (deeper_tied_on_the_far_side, [(W, "and no ground via ties the two within 1.50 mm")]),
]


@pytest.mark.parametrize(("build", "expected"), CASES, ids=lambda value: getattr(value, "__name__", ""))
@pytest.mark.parametrize("layers", [4, 6, 8])
def test_planes_that_carry_the_return_and_planes_that_do_not(build: Build, expected: Expected, layers: int) -> None:
    sketch = bare(layers)
    build(sketch)
    found = check(sketch)
    assert [finding.severity for finding in found] == [severity for severity, _ in expected]
    assert [words for (_, words), finding in zip(expected, found, strict=True) if words not in finding.message] == []


# Two layers: the ground is poured around the traces of its own layer.


def cross(sketch: Sketch, *places: float) -> None:
    """Traces of net B on the last layer that cross under A."""
    for x in places:
        sketch.trace("B", sketch.layers, [(x, 3), (x, 17)])


@pytest.mark.parametrize("crossing", [0, 1])
def test_on_two_layers_a_trace_on_the_other_side_cuts_the_ground_narrowly(crossing: int) -> None:
    """0.15 mm and 0.2 mm to either side are 0.55 mm, less than the height of 1.53 mm: a note."""
    sketch = bare(2)
    sketch.pour("GND", 2)
    cross(sketch, *[10.0] * crossing)
    found = [finding for finding in check(sketch) if finding.nets == ("A",)]
    assert [finding.severity for finding in found] == [N] * crossing
    assert all("the gap is 0.55 mm wide, no more than its height of 1.53 mm" in finding.message for finding in found)


def test_on_two_layers_a_wide_slot_is_a_warning() -> None:
    sketch = bare(2)
    ground(sketch, (9, 3, 11, 17))
    assert [finding.severity for finding in check(sketch)] == [W]


# Severity.


@pytest.mark.parametrize(
    ("width", "in_class", "severity"),
    [(0.19, True, N), (0.21, True, W), (0.19, False, None), (0.21, False, N), (5.0, False, N)],
)
def test_a_gap_counts_by_its_width_and_the_class_of_the_net(width: float, in_class: bool, severity: Severity) -> None:
    """The height is 0.20 mm. In no class a wide gap is a note, and a narrow one nothing."""
    sketch = bare()
    ground(sketch, (10, 5, 10 + width, 15))
    found = check(sketch, CLASS if in_class else "")
    assert [finding.severity for finding in found] == ([] if severity is None else [severity])


def test_a_field_counts_by_its_widest_gap() -> None:
    """0.15 mm and 0.5 mm, 1 mm from one another."""
    sketch = bare()
    ground(sketch, (8, 5, 8.15, 15), (9, 5, 9.5, 15))
    (finding,) = check(sketch)
    assert finding.severity == W
    assert "across 2 gaps" in finding.message


def test_the_width_counts_and_not_the_length() -> None:
    """A slot of 0.15 mm at 30 degrees to the trace leaves it open for 0.30 mm."""
    sketch = bare()
    slot = shapely.affinity.rotate(shapely.box(4, 9.925, 16, 10.075), 30, origin=(10, 10))
    sketch.pour("GND", 2, holes=[slot])
    (finding,) = check(sketch)
    assert finding.measured.value == pytest.approx(0.30, abs=0.005)
    assert finding.severity == N


def test_a_package_without_components_has_notes_where_a_capacitor_might_be() -> None:
    sketch = Sketch(4)
    sketch.hole((19, 19), 0.6)
    sketch.trace("A", 1, [(2, 10), (18, 10)])
    halves(sketch, "GND", "+3V3")
    outcome = outcome_of(ReferenceGap, board_of(sketch, CLASS), CLASS)
    finding, unchecked = outcome
    assert isinstance(finding, Finding) and finding.severity == N
    assert isinstance(unchecked, Unchecked) and "names no components" in unchecked.reason


# Limits.


@pytest.mark.parametrize(("away", "clean"), [(1.49, True), (1.51, False)])
def test_a_tie_counts_up_to_the_limit_from_the_gap(away: float, clean: bool) -> None:
    """The via stands beside the trace where L2 ends; its antipads do not reach it."""
    sketch = bare()
    sketch.pour("GND", 2, (0, 0, 10, 20))
    ground(sketch, layer=3)
    sketch.via("GND", (9.6, 10 + (away**2 - 0.4**2) ** 0.5))
    found = check(sketch)
    assert (found == []) == clean
    assert all(finding.measured.value == pytest.approx(away, abs=0.002) for finding in found)
    assert all(finding.limit.value == pytest.approx(1.5) for finding in found)


@pytest.mark.parametrize(
    ("settings", "clean"),
    [
        (CLASS, True),
        (CLASS + '[rules.reference-gap]\ndistance = "1 mm"\n', False),
        (CLASS.replace("1 ns", "0.03 ns"), False),  # 0.35 / 30 ps = 11.7 GHz; c / (20 f sqrt(4.2)) = 0.63 mm
        (CLASS.replace("1 ns", "0.03 ns") + "[rules.reference-gap]\nfraction = 10\n", True),  # 1.25 mm
    ],
)
def test_the_limit_follows_the_settings_and_the_class(settings: str, clean: bool) -> None:
    """The tie is 1.2 mm away from where L2 ends."""
    sketch = bare()
    sketch.pour("GND", 2, (0, 0, 10, 20))
    ground(sketch, layer=3)
    sketch.via("GND", (9.6, 10 + (1.2**2 - 0.4**2) ** 0.5))
    assert (check(sketch, settings) == []) == clean


@pytest.mark.parametrize(("distance", "clean"), [("3 mm", True), ("2 mm", False)])
def test_a_capacitor_counts_up_to_its_own_limit(distance: str, clean: bool) -> None:
    """Its vias are 1.5 mm to either side and 2 mm above the trace: about 2.5 mm away."""
    sketch = bare()
    supply_split_with_a_capacitor(sketch)
    settings = CLASS + f'[rules.reference-gap]\ncapacitor = "{distance}"\n'
    assert (check(sketch, settings) == []) == clean


# Where a finding stands.


def told(board: Board, finding: Finding) -> str:
    """The line of the file that a finding points at."""
    (source,) = {
        copper.artwork.source for copper in board.copper if copper.artwork.source.name == finding.place.location.file
    }
    return source.data.decode().splitlines()[finding.place.location.line - 1]


def test_a_finding_stands_in_the_middle_of_the_gap_at_the_stroke_that_crosses() -> None:
    sketch = Sketch(4)
    sketch.hole((19, 19), 0.6)
    sketch.trace("A", 1, [(2, 2), (2, 10), (18, 10), (18, 18)])
    ground(sketch, (9.6, 5, 10.4, 15))
    board = board_of(sketch, CLASS)
    (finding,) = findings_of(ReferenceGap, board, CLASS)
    assert (finding.place.x_mm, finding.place.y_mm) == pytest.approx((10, 10), abs=0.002)
    assert told(board, finding) == "X18000000Y10000000D01*"
    assert finding.layers == ("L1", "L2")
    assert finding.nets == ("A",)
    assert (finding.measured.quantity, finding.measured.unit) == ("length", "mm")
    assert finding.measured.value == pytest.approx(0.8, abs=0.004)


def test_remarks_say_where_the_copper_ends_and_begins() -> None:
    sketch = bare()
    slot(sketch)
    (finding,) = check(sketch)
    places = {remark.message: (remark.place.x_mm, remark.place.y_mm) for remark in finding.remarks}
    ends = [places["GND on L2 ends here"], places["GND on L2 begins again here"]]
    assert sorted(ends) == [pytest.approx((9.8, 10), abs=0.002), pytest.approx((10.2, 10), abs=0.002)]
    assert {remark.place.location.file.rsplit("/")[-1] for remark in finding.remarks} == {"board-L2.gbr"}


def test_a_change_names_the_nearest_tie() -> None:
    sketch = bare()
    deeper(sketch)
    sketch.via("GND", (7, 13))
    (finding,) = check(sketch)
    assert finding.remarks[-1].message == "the nearest tie is 4.24 mm away"
    assert (finding.remarks[-1].place.x_mm, finding.remarks[-1].place.y_mm) == (7, 13)
    assert finding.measured.value == pytest.approx(18**0.5, abs=0.002)


@pytest.mark.parametrize(("build", "count"), [(deeper, 1), (slot, 0), (grounds_split, 0), (supply_split, 0), (end, 0)])
def test_a_via_is_asked_for_where_one_could_join_the_two(build: Build, count: int) -> None:
    """Where ground changes its layer, within the limit of the crossing; not where both are on one layer."""
    sketch = bare()
    build(sketch)
    (finding,) = check(sketch)
    assert len(finding.mend) == count
    for need in finding.mend:
        assert need.at == pytest.approx((10, 10), abs=0.002)
        assert len(need.ties) == 2
        assert need.covers(10, 11.49) and not need.covers(10, 11.51)


def test_traces_of_a_net_that_run_over_nothing_are_told_together() -> None:
    """Two on L1 that a via joins by way of L4, and one there: a finding for each layer, at its longest trace."""
    sketch = Sketch(4)
    sketch.pour("GND", 2, (0, 0, 20, 2))
    for layer, ends in ((1, (4, 8)), (4, (8, 14)), (1, (14, 19))):
        sketch.trace("A", layer, [(end, 10) for end in ends])
    sketch.vias("A", [(8, 10), (14, 10)])
    found = check(sketch)
    assert [finding.message for finding in found] == [
        "A on L1 runs 9.00 mm without any reference copper, in 2 traces",
        "A on L4 runs 6.00 mm without any reference copper",
    ]
    assert found[0].measured.value == pytest.approx(9)
    assert found[0].place.x_mm == pytest.approx(16.5)


ANYWHERE = ({"turn": 30.0}, {"move": (-113.7, 41.3)}, {"units": "inch"}, {"mirror": True, "turn": 217.0})
MOVED: tuple[Build, ...] = (
    slot, antipads, end, grounds_split, supply_split, deeper, slot_over_ground_tied_on_both_sides,
    supply_split_with_a_capacitor,
)  # fmt: skip


@pytest.mark.parametrize("build", MOVED, ids=lambda build: build.__name__)
@pytest.mark.parametrize("options", ANYWHERE, ids=str)
def test_the_same_is_found_wherever_the_board_lies(build: Build, options: dict) -> None:
    sketch = bare()
    build(sketch)
    here, there = check(sketch), check(sketch, **options)
    assert [finding.message for finding in here] == [finding.message for finding in there]
    measured = [[finding.measured.value for finding in found if finding.measured] for found in (here, there)]
    assert measured[0] == pytest.approx(measured[1], abs=0.003)


# What is merged, and what is not.


def test_every_trace_of_a_bus_has_a_finding_of_its_own() -> None:
    sketch = Sketch(4)
    sketch.hole((19, 19), 0.6)
    for i in range(4):
        sketch.trace(f"D{i}", 1, [(2, 9 + 0.5 * i), (18, 9 + 0.5 * i)])
    slot(sketch)
    settings = CLASS.replace('"A"', '"D*"')
    assert [finding.nets for finding in check(sketch, settings)] == [(f"D{i}",) for i in range(4)]


def test_the_longest_of_a_field_is_where_the_finding_stands() -> None:
    sketch = bare()
    row_of_slots(sketch)
    (finding,) = check(sketch)
    assert finding.place.x_mm == pytest.approx(7.35, abs=0.002)


# What could not be looked at.


def test_without_any_plane_net_nothing_is_looked_at() -> None:
    sketch = Sketch(2)
    sketch.hole((19, 19), 0.6)
    sketch.trace("A", 1, [(2, 10), (18, 10)])
    (unchecked,) = outcome_of(ReferenceGap, board_of(sketch))
    assert isinstance(unchecked, Unchecked) and "[nets]" in unchecked.reason


@pytest.mark.parametrize(("settings", "count"), [(CLASS, 1), ("", 0)])
def test_a_trace_that_is_drawn_as_an_area_is_said_to_be_unchecked(settings: str, count: int) -> None:
    """Where its net is in a class; a plane's opening under it would not be seen."""
    sketch = Sketch(4)
    sketch.hole((19, 19), 0.6)
    sketch.copper("A", 1, (2, 9.9, 18, 10.1))
    slot(sketch)
    reasons = [entry.reason for entry in outcome_of(ReferenceGap, board_of(sketch, settings), settings)]
    assert len(reasons) == count
    assert all("A is drawn as an area" in reason for reason in reasons)


@pytest.mark.parametrize(("length", "count"), [(0.6, 0), (6, 1)])
def test_a_teardrop_is_no_trace_and_an_area_that_leads_away_is_one(length: float, count: int) -> None:
    """On a trace of its own net; a teardrop stays within 1 mm of it."""
    sketch = bare()
    ground(sketch)
    sketch.copper("A", 1, (6, 10, 6.2, 10 + length))
    assert len(outcome_of(ReferenceGap, board_of(sketch, CLASS), CLASS)) == count


# The demo board.

TIDE = """
[[class]]
name = "memory"
nets = ["QSPI_*", "MEM_*"]
rise_time = "1 ns"
[[class]]
name = "radio"
nets = ["RF_*"]
frequency = "868 MHz"
"""


@pytest.mark.parametrize(("faults", "nets"), [((), []), (("plane-slot",), ["QSPI_IO1", "QSPI_IO2"])])
def test_the_tide_gauge_has_no_gap_but_the_slot_that_can_be_put_under_it(faults: tuple, nets: list[str]) -> None:
    """The slot of 0.4 mm lies at 45 degrees to both traces: 0.57 mm."""
    found = check(tide_gauge(faults), TIDE)
    assert sorted(finding.nets[0] for finding in found) == nets
    assert all(finding.measured.value == pytest.approx(0.4 * 2**0.5, abs=0.005) for finding in found)
