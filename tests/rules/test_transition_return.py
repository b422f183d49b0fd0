"""transition-return: boards that pass and boards that fail.

Unless said otherwise, net SIG comes from the left on L1 to a via at (10, 10) and leaves to the right on the lowest of
four layers; L2 and L3 are ground, and the limit is the plain distance of 1.5 mm.
"""

from __future__ import annotations

import math

import pytest
from fencepost_rules.transition_return import TransitionReturn

from boards import board_from, board_of, findings_of, outcome_of
from fencepost.checking.finding import Finding, Severity, Unchecked
from sketch import Sketch
from sketch.items import Trace, Via
from sketch.path import Pose

Point = tuple[float, float]

FAST = '[[class]]\nname = "fast"\nnets = ["SIG"]\nrise_time = "1 ns"\n'
FAR = (10.0, 18.0)


def bare(layers: int = 4, grounds: tuple[int, ...] = (2, 3), power: tuple[int, ...] = (), **options: str) -> Sketch:
    sketch = Sketch(layers=layers)
    for layer in grounds:
        sketch.pour("GND", layer, **options)
    for layer in power:
        sketch.pour("VCC", layer, **options)
    return sketch


def route(sketch: Sketch, *layers: int, at: Point = (10.0, 10.0), net: str = "SIG") -> Sketch:
    """A via, and from it a trace of 6 mm on each of these layers, one to the left, the next to the right and so on."""
    sketch.via(net, at, drill=0.3, pad=0.6)
    for i, layer in enumerate(layers):
        end = at[0] + (6 if i % 2 else -6)
        sketch.trace(net, layer, [(end, at[1]), at], 0.15)
    return sketch


def crossing(**options: str) -> Sketch:
    """The board as described above, with a ground via far away only."""
    sketch = route(bare(**options), 1, 4)
    sketch.via("GND", FAR)
    return sketch


def tie(sketch: Sketch, away: float = 1.0, angle: float = 90.0, **options) -> Via:
    """A ground via beside the signal via."""
    x, y = (away * f(math.radians(angle)) for f in (math.cos, math.sin))
    return sketch.via("GND", (round(10 + x, 6), round(10 + y, 6)), **options)


def check(sketch: Sketch, settings: str = FAST, **options) -> list[Finding]:
    return findings_of(TransitionReturn, board_of(sketch, settings, **options), settings)


def ways(findings: list[Finding]) -> list[tuple[str, ...]]:
    return [finding.layers for finding in findings]


class TestTies:
    @pytest.mark.parametrize("away", [0.8, 1.49, 1.4999, 1.502, 3.0])
    @pytest.mark.parametrize("angle", [90.0, 217.0])
    def test_one_within_the_limit_makes_it_clean(self, away: float, angle: float) -> None:
        sketch = crossing()
        tie(sketch, away, angle)
        assert (check(sketch) == []) is (away <= 1.5)

    @pytest.mark.parametrize("angle", [90.0, 217.0])
    def test_at_the_limit_it_is_within_whatever_the_rounding_of_its_place(self, angle: float) -> None:
        """In files a place is rounded to 1 nm at best: at 217 degrees the tie comes to be 1.500 000 07 mm away."""
        sketch = crossing()
        tie(sketch, 1.5, angle)
        assert check(sketch) == []

    @pytest.mark.parametrize(
        ("options", "clean"),
        [
            ({}, True),
            ({"plated": False}, False),
            ({"isolate": (2,)}, False),
            ({"isolate": (3,)}, False),
            ({"isolate": (1, 4)}, True),
            ({"span": (1, 3)}, True),
            ({"span": (2, 3)}, True),
            ({"span": (2, 4)}, True),
            ({"span": (1, 2)}, False),
            ({"span": (3, 4)}, False),
            ({"pads": (1, 4)}, True),
        ],
        ids=[
            "through", "not plated", "the plane on L2 keeps off", "the plane on L3 keeps off",
            "nothing on L1 and L4", "blind to L3", "buried", "blind from below", "blind, stops at L2",
            "blind from below, stops at L3", "no pads on the planes",
        ],
    )  # fmt: skip
    @pytest.mark.parametrize("cut", ["region", "clear"])
    def test_it_must_touch_both_references(self, options: dict[str, object], clean: bool, cut: str) -> None:
        """Whatever its label says. The planes are cut out of their outline, or drawn with clears."""
        sketch = crossing(cut=cut)
        tie(sketch, **options)
        assert (check(sketch) == []) is clean

    def test_a_signal_via_beside_it_is_none(self) -> None:
        sketch = crossing()
        sketch.via("OTHER", (10, 11))
        assert len(check(sketch)) == 1

    def test_a_via_labelled_ground_that_no_ground_touches_is_none(self) -> None:
        """On all layers the pours keep off it; only its label is ground."""
        sketch = crossing()
        tie(sketch, isolate=(1, 2, 3, 4))
        assert len(check(sketch)) == 1

    def test_one_whose_label_is_wrong_is_one(self) -> None:
        """It touches both planes."""
        sketch = crossing()
        tie(sketch, label="LED")
        assert check(sketch) == []

    def test_a_plated_component_hole_of_ground_is_one(self) -> None:
        sketch = crossing()
        sketch.through_pad("J1", "2", "GND", (10, 11.4))
        assert check(sketch) == []

    def test_two_may_join_the_references_one_after_the_other(self) -> None:
        """On six layers, from over L2 to over L5: one from L2 to L3, another one from L3 to L5."""
        sketch = route(bare(layers=6, grounds=(2, 3, 5)), 1, 6)
        tie(sketch, 1.0, 90, span=(2, 3))
        assert len(check(sketch)) == 1
        tie(sketch, 1.0, 270, span=(3, 5))
        assert check(sketch) == []

    def test_of_two_halves_of_a_plane_each_is_copper_of_its_own(self) -> None:
        """L2 is split below the via; a tie in the other half of L2 joins that to L3."""
        sketch = route(bare(grounds=(3,)), 1, 4)
        sketch.pour("GND", 2, (0, 0, 20, 10.9))
        sketch.pour("GND", 2, (0, 11.1, 20, 20))
        tie(sketch, 1.45, 90, drill=0.2, pad=0.5)
        assert len(check(sketch)) == 1
        tie(sketch, 1.0, 270)
        assert check(sketch) == []


class TestReferences:
    @pytest.mark.parametrize(
        ("layers", "grounds", "way", "findings"),
        [
            (4, (2, 3), (1, 4), 1),
            (4, (2,), (1, 3), 0),
            (3, (2,), (1, 3), 0),
            (6, (2, 5), (1, 6), 1),
            (6, (2, 5), (3, 4), 0),
            (6, (2, 4), (1, 3), 0),
            (6, (2, 4, 5), (3, 6), 1),
            (6, (2, 4), (3, 5), 0),
            (6, (3, 6), (2, 4), 0),
        ],
        ids=[
            "from over L2 to over L3", "one plane between the two layers", "both sides of the only plane",
            "six layers, outside to outside", "both between the same planes", "into a layer below its reference",
            "no plane in common", "the plane between them", "under and over L3",
        ],
    )  # fmt: skip
    def test_keeping_a_reference_needs_nothing(self, layers: int, grounds, way, findings: int) -> None:
        sketch = route(bare(layers, grounds), *way)
        sketch.via("GND", FAR)
        assert len(check(sketch)) == findings

    def test_a_reference_that_carries_less_than_a_fifth_does_not_count(self) -> None:
        """L3 lies 0.2 mm over L4 and 1.4 mm under L2: 12 % of the return current is on L2.

        By heights alone: (1 / 1.4) / (1 / 1.4 + 1 / 0.2) = 0.125. At 0.6 mm it would be 25 %, and the two share L2.
        """
        for above, findings in ((1.4, 1), (0.6, 0)):
            sketch = Sketch(layers=4, gaps=[(0.1, 4.2), (above, 4.2), (0.2, 4.2)], copper=0.018)
            sketch.pour("GND", 2)
            sketch.pour("GND", 4)
            route(sketch, 1, 3)
            sketch.via("GND", FAR)
            assert len(check(sketch)) == findings, above

    def test_where_the_plane_has_a_large_opening_the_next_one_counts(self) -> None:
        """Under the trace on L1 there is nothing on L2: it runs over L3, as the one on L4 does."""
        sketch = route(bare(grounds=(3,)), 1, 4)
        sketch.pour("GND", 2, holes=[(2, 8, 12, 12)])
        sketch.via("GND", FAR)
        assert check(sketch) == []


class TestTransitions:
    def test_a_via_that_a_trace_leaves_on_one_layer_only_is_none(self) -> None:
        sketch = route(bare(), 1)
        sketch.via("GND", FAR)
        assert check(sketch) == []

    def test_nor_is_one_that_it_enters_and_leaves_on_the_same_layer(self) -> None:
        sketch = route(bare(), 1, 1)
        sketch.via("GND", FAR)
        assert check(sketch) == []

    def test_a_component_hole_that_a_trace_changes_layer_in_is_one(self) -> None:
        sketch = bare()
        sketch.through_pad("J1", "1", "SIG", (10, 10))
        sketch.trace("SIG", 1, [(3, 10), (10, 10)])
        sketch.trace("SIG", 4, [(10, 10), (17, 10)])
        sketch.via("GND", FAR)
        assert ways(check(sketch)) == [("L1", "L4")]

    @pytest.mark.parametrize(
        ("way", "expected"),
        [
            ((1, 3, 6), [("L3", "L6")]),
            ((1, 4, 6), [("L1", "L4")]),
            ((1, 3, 4, 6), [("L3", "L4")]),
        ],
    )
    def test_of_three_and_more_layers_each_change_is_judged(self, way, expected) -> None:
        """Six layers with ground on L2 and L5, and on L3 and L4 signals over a thick core: L1 and L3 share L2, L4 and
        L6 share L5."""
        sketch = Sketch(layers=6, gaps=[(0.1, 4.2), (0.1, 4.2), (1.0, 4.2), (0.1, 4.2), (0.1, 4.2)])
        sketch.pour("GND", 2)
        sketch.pour("GND", 5)
        route(sketch, *way)
        sketch.via("GND", FAR)
        assert ways(check(sketch)) == expected
        tie(sketch)
        assert check(sketch) == []

    def test_several_vias_along_one_net_are_judged_one_by_one(self) -> None:
        """L1 to L4 to L1 to L4, at x = 4, 10 and 16; a tie stands beside the one in the middle."""
        sketch = bare()
        points = [(1.0, 10.0), (4.0, 10.0), (10.0, 10.0), (16.0, 10.0), (19.0, 10.0)]
        for i, layer in enumerate((1, 4, 1, 4)):
            sketch.trace("SIG", layer, points[i : i + 2])
        sketch.vias("SIG", points[1:4])
        sketch.via("GND", FAR)
        assert [finding.place.x_mm for finding in check(sketch)] == [4, 10, 16]
        tie(sketch)
        assert [finding.place.x_mm for finding in check(sketch)] == [4, 16]

    @pytest.mark.parametrize("clockwise", [False, True])
    def test_arcs_at_the_via_are_traces_too(self, clockwise: bool) -> None:
        sketch = bare()
        sketch.arc("SIG", 1, (10, 10), (6, 6), (10, 6), clockwise=clockwise)
        sketch.arc("SIG", 4, (10, 10), (14, 6), (10, 6), clockwise=not clockwise)
        sketch.via("SIG", (10, 10))
        sketch.via("GND", FAR)
        assert len(check(sketch)) == 1

    @pytest.mark.parametrize("on", [1, 4])
    def test_a_trace_that_joins_the_via_by_its_pad_only_is_joined(self, on: int) -> None:
        """It ends 0.25 mm from the middle, inside the pad and outside the hole."""
        sketch = bare()
        sketch.via("SIG", (10, 10))
        for layer in (1, 4):
            sketch.trace("SIG", layer, [(4, 10), (9.75 if layer == on else 10, 10)])
        sketch.via("GND", FAR)
        assert len(check(sketch)) == 1

    def test_a_trace_that_ends_on_the_side_of_another_is_joined(self) -> None:
        """A T: the via is at the end of a branch."""
        sketch = bare()
        sketch.trace("SIG", 1, [(4, 14), (16, 14)])
        sketch.trace("SIG", 1, [(10, 14), (10, 10)])
        sketch.trace("SIG", 4, [(10, 10), (16, 10)])
        sketch.via("SIG", (10, 10))
        sketch.via("GND", FAR)
        assert len(check(sketch)) == 1

    def test_vias_stacked_on_one_another_are_one(self) -> None:
        """Blind from L1 to L2 and from L2 to L4, with nothing but their pads on L2."""
        sketch = bare()
        for span in ((1, 2), (2, 4)):
            sketch.via("SIG", (10, 10), span=span)
        sketch.trace("SIG", 1, [(4, 10), (10, 10)])
        sketch.trace("SIG", 4, [(10, 10), (16, 10)])
        sketch.via("GND", FAR)
        assert len(check(sketch)) == 1

    def test_staggered_vias_are_two(self) -> None:
        """From over L2 to L2 over L3, which needs a tie, and from L2 to L4, which are both over L3."""
        sketch = bare()
        sketch.trace("SIG", 1, [(4, 10), (10, 10)])
        sketch.via("SIG", (10, 10), span=(1, 2))
        sketch.trace("SIG", 2, [(10, 10), (12, 10)])
        sketch.via("SIG", (12, 10), span=(2, 4))
        sketch.trace("SIG", 4, [(12, 10), (18, 10)])
        sketch.via("GND", FAR)
        assert ways(check(sketch)) == [("L1", "L2")]

    def test_power_and_ground_nets_make_none(self) -> None:
        sketch = bare()
        route(sketch, 1, 4, net="VCC")
        route(sketch, 1, 4, net="AGND", at=(10, 14))
        assert check(sketch, "") == []


def decoupled(name: str = "C1", y: float = 12.0, far: bool = False) -> Sketch:
    """From over ground on L2 to over VCC on L3, with a two-pin part between the two nets, each pin by a via."""
    sketch = route(bare(grounds=(2,), power=(3,)), 1, 4)
    for pin, net, x in (("1", "GND", 9.5), ("2", "VCC", 10.5 if not far else 14.5)):
        sketch.pad(name, pin, net, 1, (x, y), (0.5, 0.5))
        sketch.via(net, (x, y + 0.6), drill=0.2, pad=0.4)
        sketch.trace(net, 1, [(x, y), (x, y + 0.6)], 0.2)
    return sketch


class TestCapacitors:
    def test_one_close_by_joins_ground_to_power(self) -> None:
        assert check(decoupled()) == []

    @pytest.mark.parametrize(
        "sketch", [decoupled("R1"), decoupled("CN1"), decoupled(y=13.0), decoupled(far=True)],
        ids=["a resistor", "a connector", "too far", "one end too far"],
    )  # fmt: skip
    def test_nothing_else_does(self, sketch: Sketch) -> None:
        (finding,) = check(sketch)
        assert "no capacitor joins GND on L2 to VCC on L3 within 3.00 mm" in finding.message
        assert finding.severity is Severity.WARNING

    @pytest.mark.parametrize(("distance", "clean"), [("2.7 mm", True), ("2.6 mm", False)])
    def test_how_far_away_is_an_option(self, distance: str, clean: bool) -> None:
        """The vias of its pins are sqrt(0.5^2 + 2.6^2) = 2.648 mm away."""
        settings = FAST + f'[rules.transition-return]\ncapacitor = "{distance}"\n'
        assert (check(decoupled(), settings) == []) is clean

    def test_a_tie_does_not_join_ground_to_power(self) -> None:
        sketch = decoupled("R1")
        tie(sketch)
        assert len(check(sketch)) == 1

    def test_without_components_in_the_package_it_is_a_note_and_is_said(self) -> None:
        board = board_of(decoupled(), FAST, attributes="comments")
        assert outcome_of(TransitionReturn, board, FAST) == []
        sketch = decoupled()
        for pad in sketch.items:
            if getattr(pad, "component", ""):
                sketch.replace(pad, component="")
        finding, unchecked = outcome_of(TransitionReturn, board_of(sketch, FAST), FAST)
        assert isinstance(finding, Finding) and finding.severity is Severity.NOTE
        assert isinstance(unchecked, Unchecked) and "names no components" in unchecked.reason

    def test_between_two_planes_of_one_power_net_a_via_of_that_net_does(self) -> None:
        sketch = route(bare(grounds=(), power=(2, 3)), 1, 4)
        sketch.via("GND", FAR)
        sketch.pad("R1", "1", "LED", 1, (3, 3), 0.5, "round")
        (finding,) = check(sketch)
        assert "goes from L1 over L2 (VCC) to L4 over L3 (VCC), and no VCC via ties L2 to L3" in finding.message
        sketch.via("VCC", (10, 11))
        assert check(sketch) == []

    def test_where_no_capacitor_would_help_none_is_missed(self) -> None:
        """Two planes of one power net, and a package without components."""
        sketch = route(bare(grounds=(), power=(2, 3)), 1, 4)
        sketch.via("GND", FAR)
        (finding,) = outcome_of(TransitionReturn, board_of(sketch, FAST), FAST)
        assert isinstance(finding, Finding) and finding.severity is Severity.WARNING


class TestHowTracesAreDrawn:
    """However the trace on L1 comes to be: there is a finding, or it is said that the trace was not looked at."""

    @pytest.mark.parametrize(
        ("old", "new"),
        [
            pytest.param(b"C,0.15*", b"R,0.15X0.15*", id="with a square aperture"),
            pytest.param(
                b"M02*", b"%ADD99C,0.1*%\n%LPC*%\nD99*\nX6000000Y10080000D03*\n%LPD*%\nM02*",
                id="with a nick in its edge, by a clear",
            ),
            pytest.param(b"G75*", b"G75*", id="with a round aperture"),
        ],
    )  # fmt: skip
    def test_as_a_stroke(self, old: bytes, new: bytes) -> None:
        files = crossing().gerber()
        assert old in files["board-L1.gbr"]
        files["board-L1.gbr"] = files["board-L1.gbr"].replace(old, new)
        assert outcome_of(TransitionReturn, board_from(files, FAST), FAST)

    def test_as_an_area(self) -> None:
        sketch = route(bare(), 1, 4)
        sketch.remove(*sketch.find(Trace, layer=1))
        sketch.copper("SIG", 1, (4.0, 9.925, 10.0, 10.075))
        sketch.via("GND", FAR)
        assert outcome_of(TransitionReturn, board_of(sketch, FAST), FAST)

    def test_twice(self) -> None:
        sketch = crossing()
        (trace,) = sketch.find(Trace, layer=1)
        sketch.trace("SIG", 1, trace.path)
        assert len(check(sketch)) == 1


class TestLimit:
    @pytest.mark.parametrize(
        ("said", "limit"),
        [
            ('rise_time = "1 ns"', 1.5),
            ('frequency = "868 MHz"', 1.5),
            ('frequency = "24 GHz"', 299.792458 / 24 / math.sqrt(4.3) / 20),
            ('rise_time = "20 ps"', 299.792458 / 17.5 / math.sqrt(4.3) / 20),
        ],
    )
    def test_it_is_a_twentieth_of_the_wavelength_and_never_more_than_the_distance(
        self, said: str, limit: float
    ) -> None:
        sketch = Sketch(layers=4, gaps=[(0.2, 4.3)] * 3)
        sketch.pour("GND", 2)
        sketch.pour("GND", 3)
        route(sketch, 1, 4)
        sketch.via("GND", FAR)
        (finding,) = check(sketch, f'[[class]]\nname = "a"\nnets = ["S*"]\n{said}\n')
        assert finding.limit is not None
        assert finding.limit.value == pytest.approx(limit, rel=1e-6)

    @pytest.mark.parametrize(
        ("options", "clean"),
        [
            ('distance = "0.9 mm"', False),
            ('distance = "40 mil"', True),
            ("fraction = 500", False),
            ("fraction = 300", True),
        ],
    )
    def test_options(self, options: str, clean: bool) -> None:
        """The tie is 1 mm away. 350 MHz at er 4.4: 408 mm, a 300th of which is 1.36 mm, a 500th 0.82 mm."""
        sketch = crossing()
        tie(sketch)
        assert (check(sketch, f"{FAST}\n[rules.transition-return]\n{options}\n") == []) is clean

    def test_a_net_in_no_class_gives_a_note(self) -> None:
        (slow,), (fast,) = check(crossing(), ""), check(crossing())
        assert (slow.severity, fast.severity) == (Severity.NOTE, Severity.WARNING)
        assert slow.message == fast.message


class TestWhatIsSaid:
    def test_of_a_tie_that_is_too_far(self) -> None:
        """Two parallel wires of 0.3 mm, 3.42 mm apart and 1.06 mm long, from L2 to L3: (mu0 h / pi) acosh(s / d).

        Of an edge of 1 ns on 50 ohm, L / (2 Z0 t) comes back.
        """
        loop = 4e-7 * 1.06e-3 * math.acosh(3.42 / 0.3)
        assert (round(loop * 1e9, 1), round(100 * loop / (2 * 50 * 1e-9), 1)) == (1.3, 1.3)
        sketch = crossing()
        tie(sketch, 3.42)
        (finding,) = check(sketch)
        assert finding.message == (
            "SIG goes from L1 over L2 to L4 over L3, and no ground via ties L2 to L3 within 1.50 mm"
        )
        assert (finding.rule, finding.layers, finding.nets) == ("transition-return", ("L1", "L4"), ("SIG",))
        assert (finding.place.x_mm, finding.place.y_mm) == (10, 10)
        assert finding.measured is not None
        assert (finding.measured.value, finding.measured.unit) == (pytest.approx(3.42), "mm")
        (remark,) = finding.remarks
        cost = "the loop adds about 1.3 nH and sends back 1.3% of an edge of 1 ns on 50 ohm"
        assert remark.message == f"the nearest tie is 3.42 mm away; {cost}"

    def test_where_there_is_no_tie_at_all_nothing_is_measured(self) -> None:
        sketch = crossing()
        sketch.remove(*sketch.find(Via, net="GND"))
        (finding,) = check(sketch)
        assert finding.measured is None and finding.remarks == ()

    def test_the_nearest_is_one_that_ties_what_must_be_tied(self) -> None:
        """One at 2 mm that stops short at L2 is passed over for one at 5 mm."""
        sketch = crossing()
        tie(sketch, 2.0, span=(1, 2))
        tie(sketch, 5.0, 270)
        (finding,) = check(sketch)
        assert finding.measured is not None and finding.measured.value == pytest.approx(5)

    def test_it_stands_at_the_stroke_on_the_upper_layer_and_the_remark_at_the_hit(self) -> None:
        sketch = crossing()
        tie(sketch, 3.0)
        files = sketch.gerber()
        (finding,) = check(sketch)
        for place, line in ((finding.place, "X10000000Y10000000D01*"), (finding.remarks[0].place, "X10.0Y13.0")):
            text = files[place.location.file.split("/")[-1]].decode().splitlines()
            assert text[place.location.line - 1] == line
        assert finding.place.location.file.endswith("board-L1.gbr")

    def test_without_any_ground_net_it_is_unchecked(self) -> None:
        settings = '[nets]\nground = ["MASS"]\n'
        (entry,) = outcome_of(TransitionReturn, board_of(crossing(), settings), settings)
        assert isinstance(entry, Unchecked) and "no ground net is known" in entry.reason


def several() -> Sketch:
    """Faults of several kinds on one board, and ties that are good."""
    sketch = crossing()
    tie(sketch, 1.7, 60)
    route(sketch, 1, 4, at=(10.0, 4.0), net="SIG_B")
    sketch.via("GND", (10, 5.5), isolate=(2,))
    route(sketch, 4, 1, at=(9.0, 15.0), net="SIG_C")
    sketch.via("GND", (9, 16.5))
    route(sketch, 1, 4, at=(12.0, 6.5), net="SIG_D")
    sketch.via("GND", (13.2, 7.3), plated=False)
    return sketch


WAYS = [
    {"turn": 30.0},
    {"turn": 90.0, "move": (50.0, -20.0)},
    {"move": (-100.123456, 77.7)},
    {"units": "inch"},
    {"units": "inch", "turn": 30.0, "move": (120.0, 40.0)},
    {"mirror": True, "turn": 200.0},
    {"drill": "gerber", "drill_nets": True},
    {"attributes": "comments"},
]


@pytest.mark.parametrize("way", WAYS, ids=str)
def test_the_findings_move_with_the_board(way: dict[str, object]) -> None:
    """Turned, moved, mirrored, in inches or in another format: the same findings, to 1 µm, where they were before.

    A tie at exactly the limit stays within it, whatever the rounding of its place.
    """
    still, moved = check(several()), check(several(), **way)
    assert {finding.nets for finding in still} == {("SIG",), ("SIG_B",), ("SIG_D",)}
    pose = Pose(float(way.get("turn", 0.0)), way.get("move", (0.0, 0.0)), bool(way.get("mirror", False)))

    def facts(findings: list[Finding], to: Pose) -> dict[object, tuple[object, ...]]:
        found = {}
        for f in findings:
            assert f.measured
            x, y = to.point((f.place.x_mm, f.place.y_mm))
            numbers = pytest.approx((f.measured.value, x, y), abs=0.001)
            found[f.nets] = (f.layers, f.severity, f.message, f.place.location.file, numbers)
        return found

    assert facts(moved, Pose()).keys() == facts(still, pose).keys()
    for net, (*words, numbers) in facts(still, pose).items():
        *others, found = facts(moved, Pose())[net]
        assert words == others
        assert found.expected == numbers
