"""pour-tie: boards that pass and boards that fail.

The boards have ground on L1 and L2 and ties in a square grid. The frequency is chosen so that an eighth of the
wavelength at er 4 is 5 mm: the farthest point may be 5 / sqrt(2) = 3.536 mm from a tie, and a finger 4 mm long.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
import shapely
from fencepost_rules.pour_tie import PourTie

from boards import board_of, findings_of, outcome_of
from fencepost.checking.finding import Finding, Severity, Unchecked
from sketch import Sketch
from sketch.items import Pour, Via
from sketch.path import Pose

FREQUENCY = 299_792_458 / (8 * 0.005 * math.sqrt(4.0)) / 1e9
BOARD = f'[board]\nfrequency = "{FREQUENCY:.9f} GHz"\n'
LIMIT = 5 / math.sqrt(2)
TIE = {"drill": 0.3, "pad": 0.6}


def grid(pitch: float = 5.0, count: int = 4, layers: int = 2, pours: tuple[int, ...] = (1, 2), **options) -> Sketch:
    """`count` ties each way, half a pitch from the edges of the board; er 4 everywhere."""
    size = pitch * count
    sketch = Sketch(layers=layers, size=(size, size), gaps=[(0.3, 4.0)] * (layers - 1))
    for layer in pours:
        sketch.pour("GND", layer)
    at = [round(pitch * (i + 0.5), 9) for i in range(count)]
    sketch.vias("GND", [(x, y) for x in at for y in at], **{**TIE, **options})
    return sketch


def tie(sketch: Sketch, x: float, y: float) -> Via:
    (via,) = (via for via in sketch.find(Via, net="GND") if math.dist(via.at, (x, y)) < 1e-6)
    return via


def pour(sketch: Sketch, layer: int) -> Pour:
    (found,) = sketch.find(Pour, layer=layer)
    return found


def check(sketch: Sketch, settings: str = BOARD, **options) -> list[Finding]:
    return findings_of(PourTie, board_of(sketch, settings, **options), settings)


def brief(findings: list[Finding]) -> list[tuple[float, float, float]]:
    """Measured, x and y of each, to 1 µm."""
    return sorted(
        (round(f.measured.value, 3), round(f.place.x_mm, 3), round(f.place.y_mm, 3)) for f in findings if f.measured
    )


@pytest.mark.parametrize(
    ("pitch", "bare"), [(4.95, 0), (4.999, 0), (5.0, 0), (5.003, 9), (5.05, 9)]
)  # 1 µm is tolerance
def test_a_square_grid_at_the_pitch_of_a_fence_passes_and_a_wider_one_fails(pitch: float, bare: int) -> None:
    """The middle of four ties is pitch / sqrt(2) away; 4 x 4 ties have 9 such places."""
    found = check(grid(pitch))
    assert [f.measured.value for f in found if f.measured] == pytest.approx([pitch / math.sqrt(2)] * bare, abs=1e-4)
    middles = {(round(pitch * i, 2), round(pitch * j, 2)) for i in (1, 2, 3) for j in (1, 2, 3)}
    assert {(round(f.place.x_mm, 2), round(f.place.y_mm, 2)) for f in found} == (middles if bare else set())


@pytest.mark.parametrize(("pitch", "bare"), [(0.8, 0), (0.81, 25)])
def test_so_it_does_at_a_high_frequency(pitch: float, bare: int) -> None:
    """23.4 GHz: an eighth of the wavelength is 0.8 mm; 6 x 6 ties have 25 places between four of them."""
    settings = f'[board]\nfrequency = "{FREQUENCY * 5 / 0.8:.9f} GHz"\n'
    sketch = grid(pitch, count=6, drill=0.15, pad=0.3)
    found = [finding for finding in check(sketch, settings) if "finger" not in finding.message]
    assert [f.measured.value for f in found if f.measured] == pytest.approx([pitch / math.sqrt(2)] * bare, abs=1e-4)


def hole(sketch: Sketch, layer: int, *box: float) -> None:
    """A free area in a pour."""
    sketch.replace(pour(sketch, layer), holes=(shapely.box(*box),))


# One change to the grid of 4 x 4, and the farthest points that it makes.


def beside(radius: float) -> tuple[float, float, float]:
    """What is farthest around a round hole in the copper about (7.5, 7.5), first by its place."""
    inset = radius / math.sqrt(2)
    return math.hypot(5 - inset, inset), 7.5 - inset, 7.5 - inset


CASES: dict[str, tuple[Callable[[Sketch], object], list[tuple[float, float, float]]]] = {
    "nothing is changed": (lambda s: None, []),
    "a tie is missing": (lambda s: s.remove(tie(s, 7.5, 7.5)), [(5.0, 7.5, 7.5)]),
    "two neighbours are missing": (
        lambda s: s.remove(tie(s, 7.5, 7.5), tie(s, 12.5, 7.5)),
        [(math.hypot(2.5, 5), 10, 7.5)],
    ),
    "two are missing far apart": (
        lambda s: s.remove(tie(s, 7.5, 7.5), tie(s, 12.5, 17.5)),
        [(5.0, 7.5, 7.5), (math.hypot(5, 2.2), 12.5, 19.7)],
    ),
    "the one in the corner is missing": (
        lambda s: s.remove(tie(s, 2.5, 2.5)),
        [(math.hypot(7.2, 2.2), 0.3, 0.3)],
    ),
    "a tie is not plated": (
        lambda s: s.replace(tie(s, 7.5, 7.5), drill=replace(tie(s, 7.5, 7.5).drill, plated=False)),
        [beside(0.15 + 0.2)],
    ),
    "a plane keeps off a tie": (lambda s: s.replace(tie(s, 7.5, 7.5), isolate=(2,)), [beside(0.3 + 0.2)]),
    "no ground lies over ground where it is missing": (
        lambda s: (s.remove(tie(s, 7.5, 7.5)), hole(s, 2, 5, 5, 10, 10)),
        [],
    ),
    "nearly none does": (
        lambda s: (s.remove(tie(s, 7.5, 7.5)), hole(s, 2, 5, 5, 10, 9)),
        [(math.hypot(3.5, 1.5), 6, 9)],
    ),
    "another net is there instead": (
        lambda s: (s.remove(tie(s, 7.5, 7.5)), s.copper("VCC", 1, (5.2, 5.2, 9.8, 9.8))),
        [],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("change", "expected"), CASES.values(), ids=CASES)
def test_bare_places(change: Callable[[Sketch], object], expected: list[tuple[float, float, float]]) -> None:
    sketch = grid()
    change(sketch)
    assert brief(check(sketch)) == [pytest.approx(one, abs=0.006) for one in sorted(expected)]


@pytest.mark.parametrize(
    ("options", "faulty"),
    [
        ("", False),
        ('distance = "5 mm"', False),
        ('distance = "4.99 mm"', True),
        ("fraction = 8.1", True),
        ("fraction = 7.9", False),
        ('distance = "20 mm"', False),
    ],
)
def test_options(options: str, faulty: bool) -> None:
    assert bool(check(grid(), f"{BOARD}\n[rules.pour-tie]\n{options}\n")) is faulty


class TestWhatIsSaid:
    def test_of_a_bare_area(self) -> None:
        sketch = grid()
        sketch.remove(tie(sketch, 7.5, 7.5))
        (finding,) = check(sketch)
        assert finding.message.startswith(
            "GND on L1 has a point 5.00 mm from the nearest via that ties L1 to L2, more than 3.54 mm "
            "(as in a square grid of 5.00 mm, 1/8 of a wavelength at 3.75 GHz); "
        )
        assert finding.message.endswith(" mm² are too far")
        assert (finding.rule, finding.severity) == ("pour-tie", Severity.WARNING)
        assert (finding.layers, finding.nets) == (("L1", "L2"), ("GND",))
        assert finding.limit is not None and finding.limit.value == pytest.approx(LIMIT)

    def test_its_area_is_what_no_disc_about_a_tie_covers(self) -> None:
        """By counting 160,000 places of the board."""
        sketch = grid()
        sketch.remove(tie(sketch, 7.5, 7.5))
        (finding,) = check(sketch)
        step = 0.05
        places = [(i * step, j * step) for i in range(400) for j in range(400)]
        ties = [via.at for via in sketch.find(Via)]
        inside = [xy for xy in places if all(0.3 <= c <= 19.7 for c in xy) and math.dist(xy, (7.5, 7.5)) < 5]
        bare = sum(step**2 for xy in inside if min(math.dist(xy, at) for at in ties) > LIMIT)
        said = float(finding.message.split(" mm² are too far")[0].split("; ")[-1])
        assert said == pytest.approx(bare, rel=0.03)

    def test_the_remark_stands_at_the_nearest_tie(self) -> None:
        sketch = grid()
        sketch.remove(tie(sketch, 7.5, 7.5))
        files = sketch.gerber()
        (finding,) = check(sketch)
        remark = next(remark for remark in finding.remarks if "nearest tie" in remark.message)
        assert remark.message == "the nearest tie is 5.00 mm away"
        assert math.dist((remark.place.x_mm, remark.place.y_mm), (7.5, 7.5)) == pytest.approx(5.0)
        line = files[remark.place.location.file.split("/")[-1]].decode().splitlines()[remark.place.location.line - 1]
        assert line == f"X{remark.place.x_mm:g}Y{remark.place.y_mm:g}"

    def test_the_class_whose_frequency_it_is(self) -> None:
        settings = f'[[class]]\nname = "radio"\nnets = ["RF"]\nfrequency = "{FREQUENCY:.9f} GHz"\n'
        sketch = grid()
        sketch.remove(tie(sketch, 7.5, 7.5))
        (finding,) = check(sketch, settings)
        assert '1/8 of a wavelength at the 3.75 GHz of class "radio"' in finding.message


class TestLayers:
    def test_one_bare_place_on_several_layers_is_one_finding(self) -> None:
        sketch = grid(layers=4, pours=(1, 2, 3, 4))
        sketch.remove(tie(sketch, 7.5, 7.5))
        (finding,) = check(sketch)
        assert finding.layers == ("L1", "L2", "L3", "L4")
        assert finding.message.endswith(" mm² are too far; likewise L2 to L3 and L3 to L4")

    def test_a_blind_tie_ties_the_layers_that_it_joins(self) -> None:
        sketch = grid(layers=4, pours=(1, 2, 3, 4))
        sketch.remove(tie(sketch, 7.5, 7.5))
        sketch.via("GND", (7.5, 7.5), span=(1, 2), **TIE)
        (finding,) = check(sketch)
        assert finding.layers == ("L2", "L3", "L4")

    def test_stacked_blind_ties_tie_all_that_they_join(self) -> None:
        sketch = grid(layers=4, pours=(1, 4))
        sketch.remove(tie(sketch, 7.5, 7.5))
        for span in ((1, 2), (2, 3), (3, 4)):
            sketch.via("GND", (7.5, 7.5), span=span, **TIE)
        assert check(sketch) == []
        sketch.remove(*(via for via in sketch.find(Via) if via.drill.span == (2, 3)))
        assert brief(check(sketch)) == [(5.0, 7.5, 7.5)]

    @pytest.mark.parametrize("between", ["", "VCC"])
    def test_layers_without_ground_are_looked_through(self, between: str) -> None:
        """Signals between the two layers of ground, or a power plane."""
        sketch = grid(layers=3, pours=(1, 3))
        if between:
            sketch.pour(between, 2)
        assert check(sketch) == []
        sketch.remove(tie(sketch, 7.5, 7.5))
        (finding,) = check(sketch)
        assert finding.layers == ("L1", "L3")

    def test_only_neighbouring_ground_must_be_tied(self) -> None:
        """L2 is ground on the left half: there ties from L1 to L2 and from L2 to L3 do, and none joins L1 to L3."""
        sketch = grid(layers=3, pours=(1, 3))
        sketch.pour("GND", 2, (0, 0, 10, 20), pullback=0.0)
        left = [via for via in sketch.find(Via) if via.at[0] < 10]
        sketch.remove(*left)
        for via in left:
            sketch.via("GND", via.at, span=(1, 2), **TIE)
            sketch.via("GND", (via.at[0] + 0.5, via.at[1]), span=(2, 3), **TIE)
        settings = BOARD + '\n[rules.pour-tie]\ndistance = "6 mm"\nfraction = 6\n'
        assert check(sketch, settings) == []

    def test_the_limit_is_that_of_the_dielectric_between(self) -> None:
        """Between L2 and L3 er is 4.41: the wave is 4 / 4.41 shorter, and so is the limit, by its root."""
        sketch = grid(layers=3, pours=(1, 2, 3))
        sketch.gaps = ((0.3, 4.0), (0.3, 4.41))
        found = check(sketch)
        assert {f.layers for f in found} == {("L2", "L3")} and len(found) == 9
        assert {round(f.limit.value, 3) for f in found if f.limit} == {round(LIMIT / math.sqrt(4.41 / 4), 3)}


class TestPiecesThatNothingJoins:
    def two(self, upper: str = "GND", lower: str = "GND", size: float = 10.0) -> Sketch:
        """A pour on each layer, each with a pad of a part, and no via but one that holds the lower net elsewhere."""
        sketch = Sketch(layers=2, size=(30.0, 20.0), gaps=[(0.3, 4.0)])
        sketch.pour(upper, 1, (2, 2, 2 + size, 2 + size))
        sketch.pour(lower, 2, (1, 1, 14, 14))
        sketch.pad("U1", "1", upper, 1, (3, 3), (0.5, 0.5))
        sketch.pad("U2", "1", lower, 2, (3, 3), (0.5, 0.5))
        sketch.hole((28, 18), 1.0)
        return sketch

    def test_are_a_finding_of_their_own(self) -> None:
        (finding,) = check(self.two())
        assert finding.message == "GND on L1 lies over GND on L2 on 100.00 mm², and no via ties the two"
        assert (finding.severity, finding.layers) == (Severity.WARNING, ("L1", "L2"))
        assert 2 <= finding.place.x_mm <= 12 and 2 <= finding.place.y_mm <= 12

    def test_are_a_note_where_they_are_two_nets(self) -> None:
        (finding,) = check(self.two(upper="AGND"))
        assert finding.message == "AGND on L1 lies over GND on L2 on 100.00 mm², and nothing ties the two nets there"
        assert (finding.severity, finding.nets) == (Severity.NOTE, ("AGND", "GND"))

    @pytest.mark.parametrize(("size", "count"), [(2.4, 0), (2.6, 1)])
    def test_are_none_where_a_single_tie_would_hold_all_of_it(self, size: float, count: int) -> None:
        """2.5 mm square is 3.54 mm across."""
        assert len(check(self.two(size=size))) == count

    def test_are_none_where_they_are_connected_to_nothing(self) -> None:
        """stray-copper tells of them."""
        sketch = self.two()
        sketch.remove(*sketch.find(type(sketch.items[2]), component="U1"))
        assert check(sketch) == []


class TestFingers:
    """A strip of ground on L1 between two slots, tied at x = 7.5; the ground around it is tied every 2.5 mm."""

    def board(self, end: float, wide: float = 0.6, isolated: bool = True) -> Sketch:
        sketch = grid(pitch=2.5, count=8)
        low, high = 10 - wide / 2, 10 + wide / 2
        slots = [shapely.box(8, low - 0.5, end + 0.5, low), shapely.box(8, high, end + 0.5, high + 0.5)]
        if isolated:
            slots.append(shapely.box(end, low - 0.1, end + 0.5, high + 0.1))
        sketch.replace(pour(sketch, 1), holes=tuple(slots))
        near = [via for via in sketch.find(Via) if 8 < via.at[0] < end + 1 and abs(via.at[1] - 10) < 1.0]
        sketch.remove(*near)
        sketch.remove(*(via for via in sketch.find(Via) if via.at == (6.25, 11.25) or via.at == (6.25, 8.75)))
        sketch.via("GND", (7.5, 10.0), **TIE)
        return sketch

    @pytest.mark.parametrize(("end", "count"), [(11.4, 0), (11.49, 0), (11.51, 1), (11.6, 1), (16.0, 1)])
    def test_may_be_a_tenth_of_a_wavelength_long(self, end: float, count: int) -> None:
        """4.0 mm from the tie at x = 7.5 to the middle of the open end."""
        found = check(self.board(end))
        assert len(found) == count
        for finding in found:
            assert finding.measured is not None and finding.limit is not None
            assert finding.measured.value == pytest.approx(end - 7.5, abs=0.01)
            assert finding.limit.value == pytest.approx(4.0)
            assert (finding.place.x_mm, finding.place.y_mm) == pytest.approx((end, 10.0), abs=0.2)

    def test_what_is_said(self) -> None:
        """c / (4 x 8.5 mm x sqrt(4)) = 4.41 GHz."""
        (finding,) = check(self.board(16.0))
        assert finding.message == (
            "a finger of GND on L1 ends 8.50 mm along the copper from the nearest via that ties it, more than 4.00 mm "
            "(1/10 of a wavelength at 3.75 GHz): a quarter of a wave at 4.41 GHz"
        )
        remark = finding.remarks[0]
        assert (remark.place.x_mm, remark.place.y_mm) == (7.5, 10.0)

    def test_the_option(self) -> None:
        settings = BOARD + "\n[rules.pour-tie]\nfinger = 4.5\n"  # 8.9 mm
        assert check(self.board(16.0), settings) == []
        assert len(check(self.board(16.5), settings)) == 1

    @pytest.mark.parametrize(("x", "count"), [(13.0, 0), (15.9, 1)])
    def test_where_there_is_nothing_to_tie_it_to_it_is_none(self, x: float, count: int) -> None:
        """The ground on L2 has a window under the end of the finger, from x to 17, or 0.1 mm of it."""
        sketch = self.board(16.0)
        sketch.replace(pour(sketch, 2), holes=(shapely.box(x, 9, 17, 11),))
        assert len([f for f in check(sketch) if "finger" in f.message]) == count

    def test_a_tie_at_the_open_end_mends_it(self) -> None:
        sketch = self.board(12.0, wide=0.8)
        assert len(check(sketch)) == 1
        sketch.via("GND", (11.5, 10.0), drill=0.2, pad=0.4)
        assert check(sketch) == []

    def test_a_strip_that_is_joined_at_both_ends_is_none_when_it_is_short(self) -> None:
        """No farther than 4 mm from a tie to the left or to the right."""
        assert check(self.board(11.5, isolated=False)) == []
        assert len(check(self.board(11.6))) == 1

    def test_a_broad_peninsula_is_no_finger(self) -> None:
        """1.6 mm across: its farthest point is looked for in a straight line."""
        assert check(self.board(12.5, wide=1.6)) == []


class TestWhatIsNotLookedAt:
    def test_without_a_frequency_it_says_so(self) -> None:
        (entry,) = outcome_of(PourTie, board_of(grid()))
        assert isinstance(entry, Unchecked) and "no frequency is known" in entry.reason

    def test_without_any_ground_net_it_says_so(self) -> None:
        settings = BOARD + '\n[nets]\nground = ["MASS"]\n'
        (entry,) = outcome_of(PourTie, board_of(grid(), settings), settings)
        assert isinstance(entry, Unchecked) and "no ground net is known" in entry.reason

    def test_ground_on_one_layer_needs_no_ties(self) -> None:
        assert check(grid(pours=(1,))) == []

    def test_a_board_of_one_layer_has_none(self) -> None:
        sketch = Sketch(layers=1, size=(20.0, 20.0), gaps=[])
        sketch.pour("GND", 1)
        sketch.hole((18, 18), 1.0)
        assert check(sketch) == []

    def test_power_over_power_is_left_out(self) -> None:
        sketch = Sketch(layers=2, size=(20.0, 20.0), gaps=[(0.3, 4.0)])
        sketch.pour("VCC", 1)
        sketch.pour("VCC", 2, (1, 1, 15, 15))
        sketch.pour("GND", 2, (16, 1, 19, 19))
        sketch.via("VCC", (3, 3), **TIE)
        sketch.pad("U1", "1", "GND", 2, (17, 3), (0.5, 0.5))
        assert check(sketch) == []


def several(sketch: Sketch) -> None:
    """Faults of all kinds on one board."""
    sketch.remove(tie(sketch, 7.5, 7.5), tie(sketch, 2.5, 17.5))
    sketch.replace(pour(sketch, 2), holes=(shapely.box(13.5, 3, 14.2, 17),))
    sketch.copper("CHASSIS", 1, (13, 9.3, 19, 15))
    sketch.pad("J1", "1", "CHASSIS", 1, (14, 14), (0.5, 0.5))


WAYS = [
    {"turn": 30.0},
    {"turn": 90.0, "move": (50.0, -20.0)},
    {"units": "inch"},
    {"units": "inch", "turn": 30.0, "move": (120.0, 40.0)},
    {"mirror": True, "turn": 200.0},
    {"drill": "gerber"},
]


@pytest.mark.parametrize("way", WAYS, ids=str)
def test_the_findings_move_with_the_board(way: dict[str, object]) -> None:
    """Turned, moved, mirrored, in inches: the same findings, to 2 µm and what round edges lose as chords."""
    sketch = grid()
    several(sketch)
    still, moved = check(sketch), check(sketch, **way)
    assert len(still) > 2
    pose = Pose(float(way.get("turn", 0.0)), way.get("move", (0.0, 0.0)), bool(way.get("mirror", False)))

    def facts(findings: list[Finding], to: Pose | None) -> list[tuple[object, ...]]:
        found = []
        for f in findings:
            assert f.measured
            x, y = to.point((f.place.x_mm, f.place.y_mm)) if to else (f.place.x_mm, f.place.y_mm)
            spot = (round(x, 1), round(y, 1)) if f.limit else (0.0, 0.0)  # somewhere inside, without a limit
            found.append((f.nets, f.layers, round(f.measured.value, 1), spot))
        return sorted(found)

    for one, other in zip(facts(still, pose), facts(moved, None), strict=True):
        assert one[:2] == other[:2]
        assert one[2] == pytest.approx(other[2], abs=0.11)
        assert one[3] == pytest.approx(other[3], abs=0.11)
