"""rim-pitch: boards that pass and boards that fail.

The boards are 32 x 22 mm with ground on all layers, and ties 1 mm inside the edge, 5 mm apart: 6 gaps along each long
side and 4 along each short one. The frequency is chosen so that an eighth of the wavelength at er 4 is 5 mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
import shapely
from fencepost_rules.rim_pitch import RimPitch

from boards import board_of, findings_of, outcome_of
from fencepost.checking.finding import Finding, Severity, Unchecked
from sketch import Path, Sketch, rounded_box
from sketch.items import Pour, Via
from sketch.path import Pose

Point = tuple[float, float]

FREQUENCY = 299_792_458 / (8 * 0.005 * math.sqrt(4.0)) / 1e9
BOARD = f'[board]\nfrequency = "{FREQUENCY:.9f} GHz"\n'
TIE = {"drill": 0.3, "pad": 0.6}
WIDE, HIGH = 32.0, 22.0


def around(x0: float, y0: float, x1: float, y1: float, pitch: float = 5.0) -> list[Point]:
    """Places around a box, one in each corner, no farther apart than the pitch."""
    spots = []
    for (ax, ay), (bx, by) in (
        ((x0, y0), (x1, y0)), ((x1, y0), (x1, y1)), ((x1, y1), (x0, y1)), ((x0, y1), (x0, y0)),
    ):  # fmt: skip
        count = math.ceil(math.dist((ax, ay), (bx, by)) / pitch - 1e-9)
        spots += [(round(ax + (bx - ax) * i / count, 6), round(ay + (by - ay) * i / count, 6)) for i in range(count)]
    return spots


def bare(layers: int = 2, pours: tuple[int, ...] = (1, 2), **options) -> Sketch:
    sketch = Sketch(layers=layers, size=(WIDE, HIGH), gaps=[(0.3, 4.0)] * (layers - 1), **options)
    for layer in pours:
        sketch.pour("GND", layer)
    return sketch


def tied(layers: int = 2, pours: tuple[int, ...] = (1, 2), inset: float = 1.0, **options) -> Sketch:
    """The board with all of its ties."""
    sketch = bare(layers, pours)
    sketch.vias("GND", around(inset, inset, WIDE - inset, HIGH - inset), **{**TIE, **options})
    return sketch


def tie(sketch: Sketch, x: float, y: float) -> Via:
    (via,) = (via for via in sketch.find(Via, net="GND") if math.dist(via.at, (x, y)) < 1e-6)
    return via


def pour(sketch: Sketch, layer: int) -> Pour:
    (found,) = sketch.find(Pour, layer=layer)
    return found


def keep_out(sketch: Sketch, *box: float) -> None:
    """No ground in a box, and no tie."""
    for found in sketch.find(Pour):
        sketch.replace(found, holes=(*found.holes, shapely.box(*box)))
    area = shapely.box(*box).buffer(0.5)
    sketch.remove(*(via for via in sketch.find(Via) if area.contains(shapely.Point(via.at))))


def check(sketch: Sketch, settings: str = BOARD, **options) -> list[Finding]:
    return findings_of(RimPitch, board_of(sketch, settings, **options), settings)


def brief(findings: list[Finding]) -> list[tuple[float, float, float]]:
    """Measured, x and y of each, to 1 µm."""
    return sorted(
        (round(f.measured.value, 3), round(f.place.x_mm, 3), round(f.place.y_mm, 3)) for f in findings if f.measured
    )


# One change to the tied board, and the gaps that it makes: width and where the middle of it is on the edge.

CASES: dict[str, tuple[Callable[[Sketch], object], list[tuple[float, float, float]]]] = {
    "nothing is changed": (lambda s: None, []),
    "a tie is missing below": (lambda s: s.remove(tie(s, 11, 1)), [(10, 11, 0)]),
    "a tie is missing at the right": (lambda s: s.remove(tie(s, 31, 11)), [(10, 32, 11)]),
    "two neighbours are missing": (lambda s: s.remove(tie(s, 11, 1), tie(s, 16, 1)), [(15, 13.5, 0)]),
    "every second of four is missing": (lambda s: s.remove(tie(s, 11, 1), tie(s, 21, 1)), [(10, 11, 0)]),
    "two are missing far apart": (
        lambda s: s.remove(tie(s, 11, 1), tie(s, 11, 21)), [(10, 11, 0), (10, 11, 22)]),
    "the one in the corner is missing": (
        lambda s: s.remove(tie(s, 31, 1)), [(round(math.hypot(5, 5), 3), 32, 0)]),
    "a tie is moved by 0.05 mm": (lambda s: move(s, (11, 1), (11.05, 1)), [(5.05, 8.525, 0)]),
    "a tie stands farther in": (
        lambda s: move(s, (11, 1), (11, 2)), [(round(math.hypot(5, 1), 3), 8.5, 0)]),
    "a tie is beyond reach": (lambda s: move(s, (11, 1), (11, 3.4)), [(10, 11, 0)]),
    "a row behind the missing one": (
        lambda s: (s.remove(tie(s, 11, 1)), s.vias("GND", [(9, 2.5), (13, 2.5)], **TIE)), []),
    "a tie is not plated": (
        lambda s: s.replace(tie(s, 11, 1), drill=replace(tie(s, 11, 1).drill, plated=False)), [(10, 11, 0)]),
    "the plane keeps off a tie": (lambda s: s.replace(tie(s, 11, 1), isolate=(2,)), [(10, 11, 0)]),
    "a track interrupts the ground where a tie is missing": (
        lambda s: (s.remove(tie(s, 11, 1)), s.trace("SIG", 1, [(11, 0.5), (11, 10)], 0.5)), [(10, 11, 0)]),
    "a cut-out without ties": (lambda s: s.cutout((10, 8, 22, 14)), [(36, None, None)]),
    "a cut-out with ties": (
        lambda s: (s.cutout((10, 8, 22, 14)), s.vias("GND", around(9, 7, 23, 15), **TIE)), []),
    "a cut-out no larger than the limit": (lambda s: s.cutout((10, 8, 13, 12)), []),
    "a slot that is longer": (lambda s: s.cutout((10, 8, 15, 9)), [(12, None, None)]),
}  # fmt: skip


def move(sketch: Sketch, old: Point, new: Point) -> None:
    sketch.remove(tie(sketch, *old))
    sketch.via("GND", new, **TIE)


@pytest.mark.parametrize(("change", "expected"), CASES.values(), ids=CASES)
def test_gaps_along_the_rim(change: Callable[[Sketch], object], expected: list[tuple[float, float, float]]) -> None:
    sketch = tied()
    change(sketch)
    found = brief(check(sketch))
    assert len(found) == len(expected)
    for (width, x, y), one in zip(sorted(expected, key=str), sorted(found, key=str), strict=True):
        assert one[0] == pytest.approx(width, abs=0.002)
        if x is not None:
            assert one[1:] == pytest.approx((x, y), abs=0.06)


@pytest.mark.parametrize(("scale", "faulty"), [(0.999, False), (1.0, False), (1.0005, True), (1.01, True)])
def test_at_the_limit(scale: float, faulty: bool) -> None:
    """The whole board larger or smaller by a part, with as many ties."""
    sketch = Sketch(layers=2, size=(30 * scale + 2, 20 * scale + 2), gaps=[(0.3, 4.0)])
    sketch.pour("GND", 1)
    sketch.pour("GND", 2)
    sketch.vias("GND", around(1, 1, 1 + 30 * scale, 1 + 20 * scale, 5 * scale), **TIE)
    assert bool(check(sketch)) is faulty


@pytest.mark.parametrize(
    ("settings", "faulty"),
    [
        (BOARD, False),
        (BOARD + '[rules.rim-pitch]\ndistance = "4.9 mm"\n', True),
        (BOARD + '[rules.rim-pitch]\ndistance = "200 mil"\n', False),
        (BOARD + "[rules.rim-pitch]\nfraction = 8.1\n", True),
        (BOARD + "[rules.rim-pitch]\nfraction = 4\n", False),
        (BOARD + '[rules.rim-pitch]\nreach = "0.6 mm"\n', True),  # the ground begins at 0.3, the ties stand at 1.0
        (BOARD + '[rules.rim-pitch]\nreach = "0.9 mm"\n', False),
        ('[board]\nfrequency = "3.8 GHz"\n', True),
        ('[board]\nfrequency = "100 MHz"\n', False),
        ('[[class]]\nname = "a"\nnets = ["RF"]\nfrequency = "3.8 GHz"\n', True),
        ('[[class]]\nname = "a"\nnets = ["RF"]\nrise_time = "94 ps"\n', False),  # 3.72 GHz
        ('[[class]]\nname = "a"\nnets = ["RF"]\nrise_time = "92 ps"\n', True),  # 3.80 GHz
    ],
)
def test_settings(settings: str, faulty: bool) -> None:
    assert bool(check(tied(), settings)) is faulty


def test_the_densest_dielectric_counts() -> None:
    """er 4.41 anywhere makes an eighth of a wavelength 4.76 mm."""
    sketch = tied(layers=3, pours=(1, 2, 3))
    assert check(sketch) == []
    sketch.gaps = ((0.3, 4.0), (0.3, 4.41))
    assert {round(f.limit.value, 3) for f in check(sketch) if f.limit} == {round(5 * math.sqrt(4 / 4.41), 3)}


class TestWhatIsSaid:
    def test_of_a_gap(self) -> None:
        sketch = tied()
        sketch.remove(tie(sketch, 11, 1))
        (finding,) = check(sketch)
        assert finding.message == (
            "the rim of the board has a gap of 10.00 mm between the ground vias that join L1 and L2 on its lower side, "
            "more than 5.00 mm (1/8 of a wavelength at 3.75 GHz)"
        )
        assert (finding.rule, finding.severity) == ("rim-pitch", Severity.WARNING)
        assert (finding.layers, finding.nets) == (("L1", "L2"), ("GND",))

    def test_its_ends_are_the_ties_beside_it(self) -> None:
        sketch = tied()
        sketch.remove(tie(sketch, 11, 1))
        files = sketch.gerber()
        (finding,) = check(sketch)
        ends = [remark for remark in finding.remarks if remark.message == "a tie at one end of the gap"]
        assert sorted((r.place.x_mm, r.place.y_mm) for r in ends) == [(6, 1), (16, 1)]
        places = [r.place.location for r in ends]
        lines = [files[place.file.split("/")[-1]].decode().splitlines()[place.line - 1] for place in places]
        assert sorted(lines) == ["X16.0Y1.0", "X6.0Y1.0"]
        assert finding.place.location.file.endswith("board-L1.gbr")

    def test_of_several_in_a_row(self) -> None:
        sketch = tied()
        sketch.remove(tie(sketch, 11, 1), tie(sketch, 21, 1), tie(sketch, 26, 1))
        (finding,) = check(sketch)
        assert "has 2 gaps in a row between the ground vias that join L1 and L2" in finding.message
        assert "the widest 15.00 mm" in finding.message

    def test_of_a_rim_without_any_tie(self) -> None:
        sketch = bare()
        sketch.via("GND", (16, 11), **TIE)
        (finding,) = check(sketch)
        assert finding.message.startswith(
            "the rim of the board has no ground vias that join L1 and L2, over 108.00 mm, more than 5.00 mm"
        )

    def test_of_a_cut_out(self) -> None:
        sketch = tied()
        sketch.cutout((10, 8, 22, 14))
        sketch.vias("GND", around(9, 7, 23, 15), **TIE)
        sketch.remove(*(via for via in sketch.find(Via) if via.at == (23.0, 11.0)))
        (finding,) = check(sketch)
        assert finding.message.startswith("the cut-out at (16.00, 11.00) has a gap of 8.00 mm between the ground vias")
        assert "on its right side" in finding.message

    @pytest.mark.parametrize(("turn", "side"), [(0, "lower"), (90, "right"), (180, "upper"), (225, "upper left")])
    def test_of_the_side(self, turn: float, side: str) -> None:
        sketch = tied()
        sketch.remove(tie(sketch, 11, 1))
        (finding,) = check(sketch, turn=float(turn))
        assert f"on its {side} side" in finding.message

    def test_of_a_hole_that_is_no_tie(self) -> None:
        sketch = tied()
        sketch.replace(tie(sketch, 11, 1), isolate=(2,))
        (finding,) = check(sketch)
        said = [(r.message, r.place.x_mm, r.place.y_mm) for r in finding.remarks if r.message.startswith("no tie")]
        assert said == [("no tie: this hole touches ground on L1 only, and does not join L1 to L2", 11, 1)]


class TestLayers:
    def test_one_gap_on_all_layers_is_one_finding(self) -> None:
        sketch = tied(layers=4, pours=(1, 2, 3, 4))
        sketch.remove(tie(sketch, 11, 1))
        (finding,) = check(sketch)
        assert finding.layers == ("L1", "L2", "L3", "L4")
        assert "that join L1, L2, L3 and L4" in finding.message

    def test_a_blind_via_closes_the_slot_that_it_goes_through(self) -> None:
        sketch = tied(layers=4, pours=(1, 2, 3, 4))
        sketch.remove(tie(sketch, 11, 1))
        sketch.via("GND", (11, 1), span=(1, 2), **TIE)
        (finding,) = check(sketch)
        assert finding.layers == ("L2", "L3", "L4")
        assert "that join L2, L3 and L4" in finding.message

    def test_layers_that_are_less_open_are_named(self) -> None:
        sketch = tied(layers=4, pours=(1, 2, 3, 4))
        sketch.remove(tie(sketch, 11, 1), tie(sketch, 16, 1))
        sketch.via("GND", (11, 1), span=(1, 2), **TIE)
        (finding,) = check(sketch)
        assert "has a gap of 15.00 mm between the ground vias that join L2, L3 and L4" in finding.message
        assert finding.message.endswith("; L1 to L2 likewise, less wide")

    @pytest.mark.parametrize("between", ["", "VCC"])
    def test_other_layers_are_looked_through(self, between: str) -> None:
        sketch = tied(layers=3, pours=(1, 3))
        if between:
            sketch.pour(between, 2)
        assert check(sketch) == []
        sketch.remove(tie(sketch, 11, 1))
        (finding,) = check(sketch)
        assert finding.layers == ("L1", "L3")

    def test_a_layer_that_is_ground_on_a_part_of_the_rim_needs_ties_there(self) -> None:
        """L2 is ground at the right; the ties there join L1 to L3 and miss L2."""
        sketch = tied(layers=3, pours=(1, 3))
        for via in [via for via in sketch.find(Via) if via.at[0] > 20]:
            sketch.replace(via, isolate=(2,))
        assert check(sketch) == []
        sketch.pour("GND", 2, (18, 0, 32, 22))
        sketch.via("GND", (19, 11), **TIE)
        (finding,) = check(sketch)
        assert finding.layers == ("L1", "L2", "L3")
        assert finding.place.x_mm > 18


class TestWhereThereIsNoGround:
    @pytest.mark.parametrize(("wide", "said"), [(12.0, True), (6.0, True), (4.0, False)])
    def test_a_keep_out_is_no_gap_and_is_named_when_it_is_large(self, wide: float, said: bool) -> None:
        """An antenna at the right, from the middle of that side up and down, with ties along both of its ends."""
        low, high = 11 - wide / 2, 11 + wide / 2
        sketch = tied()
        keep_out(sketch, 20, low, 32, high)
        sketch.vias("GND", [(31, low - 0.9), (31, high + 0.9)], **TIE)
        outcome = outcome_of(RimPitch, board_of(sketch, BOARD), BOARD)
        unchecked = [entry.reason for entry in outcome if isinstance(entry, Unchecked)]
        gaps = [entry.measured.value for entry in outcome if isinstance(entry, Finding) and entry.measured]
        if said:
            (reason,) = unchecked
            assert reason.startswith("behind ") and "fewer than two layers have ground within 3.00 mm" in reason
            assert float(reason.split()[1]) == pytest.approx(wide, abs=0.7)
            assert gaps == []
        else:  # a hole in the ground that is no larger than the limit hides nothing
            assert unchecked == []
            assert gaps == [pytest.approx(wide + 1.8)]

    def test_ground_on_one_layer_only_is_no_ground_to_tie(self) -> None:
        sketch = tied()
        keep_out(sketch, 20, 5, 32, 17)
        sketch.replace(pour(sketch, 1), holes=())
        sketch.vias("GND", [(31, 4.1), (31, 17.9)], **TIE)
        (entry,) = outcome_of(RimPitch, board_of(sketch, BOARD), BOARD)
        assert isinstance(entry, Unchecked) and "behind 12" in entry.reason.replace("11.", "12.")

    def test_without_two_layers_of_ground_anywhere(self) -> None:
        (entry,) = outcome_of(RimPitch, board_of(tied(pours=(1,)), BOARD), BOARD)
        assert entry == Unchecked("rim-pitch", "nowhere do two layers of ground come within 3.00 mm of an edge")


class TestGroundThatStaysAwayFromTheEdge:
    """Ground 6 mm inside a board of 44 x 34 mm: 32 x 22 mm again."""

    def board(self) -> Sketch:
        sketch = Sketch(layers=2, size=(WIDE + 12, HIGH + 12), gaps=[(0.3, 4.0)])
        for layer in (1, 2):
            sketch.pour("GND", layer, pullback=6.0)
        sketch.vias("GND", around(7, 7, WIDE + 5, HIGH + 5), **TIE)
        return sketch

    def test_is_measured_along_its_own_edge(self) -> None:
        sketch = self.board()
        assert check(sketch) == []
        sketch.remove(tie(sketch, 17, 7))
        (finding,) = check(sketch)
        assert finding.message.startswith("the edge of the ground copper has a gap of 10.00 mm")
        assert "on its lower side" in finding.message
        assert (finding.place.x_mm, finding.place.y_mm) == pytest.approx((17, 6), abs=0.1)

    def test_by_up_to_the_reach_is_measured_along_the_board(self) -> None:
        """2.5 mm inside, with ties 1 mm inside that."""
        sketch = Sketch(layers=2, size=(WIDE + 5, HIGH + 5), gaps=[(0.3, 4.0)])
        for layer in (1, 2):
            sketch.pour("GND", layer, pullback=2.5)
        sketch.vias("GND", around(3.5, 3.5, WIDE + 1.5, HIGH + 1.5), **TIE)
        assert check(sketch) == []
        sketch.remove(tie(sketch, 13.5, 3.5))
        (finding,) = check(sketch)
        assert finding.message.startswith("the rim of the board has a gap of 10.00 mm")


class TestShapes:
    @pytest.mark.parametrize(
        "outline",
        [
            rounded_box(0, 0, 40, 30, radius=6),
            Path.line([(0, 0), (40, 0), (40, 12), (22, 12), (22, 30), (0, 30), (0, 0)]),
            Path.line([(0, 0), (40, 0), (30, 30), (0, 20), (0, 0)]),
            Path.arc((0, 15), (0, 15), (15, 15)),
        ],
        ids=["rounded", "an L", "no right angles", "a disc"],
    )
    def test_ties_around_any_outline(self, outline: Path) -> None:
        """1 mm inside it every 4.9 mm, on the way along its edge; without one of them there is a gap."""
        inner = outline.polygon().buffer(-1.0, join_style="mitre").exterior
        count = math.ceil(inner.length / 4.9)
        spots = [inner.interpolate(i / count, normalized=True) for i in range(count)]
        places = [(round(p.x, 4), round(p.y, 4)) for p in spots]
        for missing in (None, 3):
            sketch = Sketch(layers=2, gaps=[(0.3, 4.0)], outline=outline)
            sketch.pour("GND", 1)
            sketch.pour("GND", 2)
            sketch.vias("GND", [at for i, at in enumerate(places) if i != missing], **TIE)
            found = check(sketch)
            if missing is None:
                assert found == []
            else:
                assert [f.measured.value for f in found if f.measured] == [
                    pytest.approx(math.dist(places[2], places[4]), abs=0.01)
                ]

    def test_a_notch_is_part_of_the_rim(self) -> None:
        """A notch 2 mm wide and 9 mm deep: ties at its mouth do not close its sides."""
        outline = Path.line([(0, 0), (15, 0), (15, 9), (17, 9), (17, 0), (32, 0), (32, 22), (0, 22), (0, 0)])
        sketch = Sketch(layers=2, gaps=[(0.3, 4.0)], outline=outline)
        sketch.pour("GND", 1)
        sketch.pour("GND", 2)
        sketch.vias("GND", [at for at in around(1, 1, 31, 21) if at != (16.0, 1.0)], **TIE)
        sketch.vias("GND", [(14, 1), (18, 1)], **TIE)
        (finding,) = check(sketch)
        assert finding.measured is not None and finding.measured.value > 15
        sketch.vias("GND", [(14, 5.5), (14, 10), (18, 10), (18, 5.5)], **TIE)
        assert check(sketch) == []


class TestWhatIsNotLookedAt:
    def test_without_a_frequency_it_says_so(self) -> None:
        (entry,) = outcome_of(RimPitch, board_of(tied()))
        assert isinstance(entry, Unchecked) and "no frequency is known" in entry.reason

    def test_without_any_ground_net_it_says_so(self) -> None:
        settings = BOARD + '\n[nets]\nground = ["MASS"]\n'
        (entry,) = outcome_of(RimPitch, board_of(tied(), settings), settings)
        assert isinstance(entry, Unchecked) and "no ground net is known" in entry.reason


def several(sketch: Sketch) -> None:
    """Faults of all kinds on one board."""
    sketch.remove(tie(sketch, 11, 1), tie(sketch, 31, 21), tie(sketch, 1, 11))
    sketch.replace(tie(sketch, 21, 21), isolate=(2,))
    sketch.cutout((10, 8, 22, 14))


WAYS = [
    {"turn": 30.0},
    {"turn": 90.0, "move": (50.0, -20.0)},
    {"move": (-100.123456, 77.7)},
    {"units": "inch"},
    {"units": "inch", "turn": 30.0, "move": (120.0, 40.0)},
    {"mirror": True},
    {"mirror": True, "turn": 200.0},
    {"drill": "gerber"},
]


@pytest.mark.parametrize("way", WAYS, ids=str)
def test_the_findings_move_with_the_board(way: dict[str, object]) -> None:
    """Turned, moved, mirrored, in inches: the same gaps where they were before."""
    sketch = tied()
    several(sketch)
    still, moved = check(sketch), check(sketch, **way)
    assert len(still) == 4
    pose = Pose(float(way.get("turn", 0.0)), way.get("move", (0.0, 0.0)), bool(way.get("mirror", False)))

    def facts(findings: list[Finding], to: Pose) -> list[tuple[object, ...]]:
        found = []
        for f in findings:
            x, y = to.point((f.place.x_mm, f.place.y_mm))
            assert f.measured
            open_ = "no ground vias" in f.message  # a round without a tie begins anywhere
            found.append((f.layers, f.measured.value, *((0.0, 0.0) if open_ else (x, y))))
        return sorted(found, key=lambda fact: [round(value, 1) for value in fact[1:]])

    for one, other in zip(facts(still, pose), facts(moved, Pose()), strict=True):
        assert one[0] == other[0]
        assert one[1] == pytest.approx(other[1], abs=0.002)
        assert one[2:] == pytest.approx(other[2:], abs=0.2)
