"""barrel-impedance: boards that pass and boards that fail.

Unless said otherwise net SIG goes from L1 to L4 at (10, 10) through a via of 0.25 mm, drilled 0.35 mm, amid ground
vias alike. Dielectrics are 1 mm of er 4, copper is 0.035 mm.
"""

from __future__ import annotations

import math

import pytest
from fencepost_rules.barrel_impedance import BarrelImpedance

import tide_gauge
from boards import board_of, findings_of, outcome_of
from fencepost.checking.finding import Finding, Severity, Unchecked
from sketch import Sketch

MU, EPS = 4e-10 * math.pi, 8.8541878e-15
"""Henries and farads a millimetre."""

DRILLED = 0.35


def settings(ohm: float, more: str = "", speed: str = 'frequency = "868 MHz"') -> str:
    return f'[[class]]\nname = "radio"\nnets = ["SIG*"]\nimpedance = "{ohm} ohm"\n{speed}\n{more}'


def tied(sketch: Sketch, *spots: tuple[float, float], drill: float = 0.25) -> Sketch:
    for at in spots:
        sketch.via("GND", at, drill=drill, pad=0.5)
    return sketch


def around(distance: float, *angles: float) -> list[tuple[float, float]]:
    turns = [math.radians(angle) for angle in angles]
    return [(round(10 + distance * math.cos(t), 6), round(10 + distance * math.sin(t), 6)) for t in turns]


def two_wires(distance: float = 1.0) -> Sketch:
    """A via and one tie, the ground on both layers only behind the tie: no antipad is near."""
    sketch = Sketch(layers=2, gaps=[(1.53, 4.5)])
    for layer in (1, 2):
        sketch.pour("GND", layer, (10.7, 2, 20, 18))
        sketch.trace("SIG", layer, [(4, 10 + layer), (10, 10)])
    sketch.via("SIG", (10, 10), drill=0.25, pad=0.5)
    return tied(sketch, *around(distance, 0))


def planes(*ties: tuple[float, float], antipad: float = 1.0, gap: float = 1.0, **via: object) -> Sketch:
    """Four layers, ground on L2 and L3 with round antipads about the land of 0.5 mm."""
    sketch = Sketch(layers=4, gaps=[(gap, 4.0)] * 3)
    for layer in (2, 3):
        sketch.pour("GND", layer, clearance=(antipad - 0.5) / 2)
    for layer, x in ((1, 4), (4, 16)):
        sketch.trace("SIG", layer, [(x, 10), (10, 10)])
    sketch.via("SIG", (10, 10), drill=0.25, pad=0.5, **via)
    return tied(sketch, *(ties or around(1.5, 90)))


def check(sketch: Sketch, text: str, **options: object) -> list[Finding]:
    return findings_of(BarrelImpedance, board_of(sketch, text, **options), text)


def ohms(finding: Finding) -> float:
    assert finding.measured is not None and finding.measured.unit == "ohm"
    return finding.measured.value


def bulge(land: float, antipad: float, er: float) -> float:
    """4 e r [ln(32 r / w) - 2] farads: see the rule's page."""
    radius, width = math.sqrt(land * antipad) / 2, (antipad - land) / 2
    return 4 * EPS * er * radius * (math.log(32 * radius / width) - 2)


def by_hand() -> float:
    """One tie 1.5 mm away over 3 mm, two lands in antipads, and two lands at the ends, half of their field in air."""
    factor = 2 * math.acosh(1.5 / DRILLED)
    coax = math.log(1.0 / 0.5)
    inductance = MU / (2 * math.pi) * (3.0 * factor + 2 * 0.035 * coax)
    line = 3.0 * 2 * math.pi * EPS * 4.0 / factor
    inside = 2 * 0.035 * 2 * math.pi * EPS * 4.0 / coax
    capacitance = line + inside + 2 * bulge(0.5, 1.0, 4.0) + 2 * bulge(0.5, 1.0, 2.5)
    return math.sqrt(inductance / capacitance)


@pytest.mark.parametrize("distance", [0.8, 1.0, 2.0])
def test_one_tie_alone_is_a_two_wire_line(distance: float) -> None:
    """(120 / sqrt(er)) acosh(s / d), with 119.9 for 120: any text on lines; 96.7 ohm at 1 mm."""
    (finding,) = check(two_wires(distance), settings(500))
    assert ohms(finding) == pytest.approx(119.917 / math.sqrt(4.5) * math.acosh(distance / DRILLED), rel=1e-3)


def test_lands_in_antipads_as_worked_by_hand() -> None:
    """Antipads are read off the copper in 72 directions, chords and all: within 1 %."""
    (finding,) = check(planes(), settings(500))
    assert ohms(finding) == pytest.approx(by_hand(), rel=0.01)


@pytest.mark.parametrize(
    ("target", "found"),
    [(1.0, False), (1 / 1.149, False), (1 / 1.151, True), (1 / 0.851, False), (1 / 0.849, True)],
)
def test_just_under_and_just_over_the_tolerance(target: float, found: bool) -> None:
    """A via 14.9 % and 15.1 % off, to both sides."""
    (finding,) = check(two_wires(), settings(500))
    assert bool(check(two_wires(), settings(ohms(finding) * target))) is found


def test_the_tolerance_can_be_set() -> None:
    more = "[rules.barrel-impedance]\ntolerance = 0.05\n"
    (finding,) = check(two_wires(), settings(500))
    assert len(check(two_wires(), settings(ohms(finding) * 0.94, more))) == 1


@pytest.mark.parametrize("options", [{"turn": 30.0}, {"move": (-31.7, 12.3)}, {"units": "inch"}])
def test_turned_moved_and_in_inches_it_is_the_same(options: dict[str, object]) -> None:
    """Within 0.5 %: the rays that look for the antipad meet other chords."""
    (finding,) = check(planes(), settings(200))
    (other,) = check(planes(), settings(200), **options)
    assert ohms(other) == pytest.approx(ohms(finding), rel=5e-3)


def test_more_and_nearer_ties_lower_it_wider_antipads_raise_it() -> None:
    def value(sketch: Sketch) -> float:
        return ohms(check(sketch, settings(500))[0])

    base = value(planes())
    assert value(planes(*around(1.0, 90))) < base
    assert value(planes(*around(1.5, 90, 270))) < base
    assert value(planes(antipad=1.6)) > base
    assert value(planes(pads=(1, 4))) > base


def test_planes_close_together_share_the_field_of_their_antipads() -> None:
    """0.1 mm apart each dielectric holds what a coaxial line of 0.5 mm in 1 mm would; beyond the outer lands is air."""
    factor, coax = 2 * math.acosh(1.5 / DRILLED), math.log(1.0 / 0.5)
    inductance = MU / (2 * math.pi) * (0.3 * factor + 2 * 0.035 * coax)
    most = 2 * math.pi * EPS * 4.0 * 0.1 / coax
    assert most < bulge(0.5, 1.0, 4.0)
    capacitance = 3 * most + 2 * 0.035 * 2 * math.pi * EPS * 4.0 / coax + 2 * bulge(0.5, 1.0, 1.0) / 2
    (finding,) = check(planes(gap=0.1), settings(500))
    assert ohms(finding) == pytest.approx(math.sqrt(inductance / capacitance), rel=0.01)


class TestSeverity:
    @pytest.mark.parametrize(
        ("speed", "severity"),
        [
            ('frequency = "100 MHz"', Severity.NOTE),
            ('frequency = "10 GHz"', Severity.WARNING),
            ('rise_time = "5 ns"', Severity.NOTE),
            ('rise_time = "20 ps"', Severity.WARNING),
            ("", Severity.WARNING),
        ],
    )
    def test_a_short_via_is_a_note(self, speed: str, severity: Severity) -> None:
        (finding,) = check(planes(), settings(120, speed=speed))
        assert finding.severity is severity

    @pytest.mark.parametrize(("share", "severity"), [(1.02, Severity.NOTE), (0.98, Severity.WARNING)])
    def test_the_share_can_be_set(self, share: float, severity: Severity) -> None:
        """|S11| of the two-wire line of 1.53 mm at 3 GHz against 50 ohm, by its ABCD matrix."""
        z0, target = 119.917 / math.sqrt(4.5) * math.acosh(1 / DRILLED), 50.0
        turn = 2 * math.pi * 3e9 * 1.53 * math.sqrt(4.5) / 299_792_458e3
        a, b, c = math.cos(turn), 1j * z0 * math.sin(turn), 1j * math.sin(turn) / z0
        s11 = abs((b / target - c * target) / (2 * a + b / target + c * target))
        more = f"[rules.barrel-impedance]\nreflection = {s11 * share}\n"
        (finding,) = check(two_wires(), settings(target, more, 'frequency = "3 GHz"'))
        assert finding.severity is severity
        assert f"it sends back {s11:.1%} of a wave" in finding.remarks[0].message


class TestMending:
    def test_what_the_finding_proposes_for_low_ones_meets_the_target(self) -> None:
        """The target is what antipads of 1.6 mm give, and 1.6 mm is what is proposed."""
        target = ohms(check(planes(antipad=1.6), settings(500))[0])
        (finding,) = check(planes(), settings(target, "[rules.barrel-impedance]\ntolerance = 0.03\n"))
        said = next(one.message for one in finding.remarks if "too much capacitance" in one.message)
        assert float(said.split("antipads of ")[1].split(" mm")[0]) == pytest.approx(1.6, rel=0.02)
        bare = float(said.split("without its lands on L2 and L3 ")[1].split(" ohm")[0])
        assert bare > ohms(finding)

    def test_and_for_high_ones(self) -> None:
        (finding,) = check(two_wires(2.0), settings(80))
        said = next(one.message for one in finding.remarks if "too much inductance" in one.message)
        distance = float(said.split("ground via at ")[1].split(" mm")[0])
        assert check(two_wires(distance), settings(80, "[rules.barrel-impedance]\ntolerance = 0.02\n")) == []


class TestLeftOut:
    def test_without_a_tie_near_it_is_said(self) -> None:
        (one,) = outcome_of(BarrelImpedance, board_of(planes(*around(5.0, 90)), settings(50)), settings(50))
        assert isinstance(one, Unchecked) and "no ground via within 3 mm" in one.reason

    def test_without_an_impedance_there_is_nothing_to_miss(self) -> None:
        text = '[[class]]\nname = "radio"\nnets = ["SIG"]\nfrequency = "1 GHz"\n'
        assert check(planes(), text) == []

    def test_pairs_are_said(self) -> None:
        sketch = Sketch(layers=4)
        for layer in (2, 3):
            sketch.pour("GND", layer)
        for net, y in (("SIG_P", 9.6), ("SIG_N", 10.4)):
            sketch.via(net, (10, y))
            sketch.trace(net, 1, [(4, y), (10, y)])
            sketch.trace(net, 4, [(16, y), (10, y)])
        tied(sketch, (10, 11.5))
        (one,) = outcome_of(BarrelImpedance, board_of(sketch, settings(50)), settings(50))
        assert isinstance(one, Unchecked) and "differential pair" in one.reason

    @pytest.mark.parametrize("plating", [0.8, 1.3])
    def test_barrels_that_meet_as_drilled_are_a_reason_and_no_number(self, plating: float) -> None:
        """Drilled 1.05 and 1.55 mm, 1 mm and less from one another."""
        text = settings(50, f'[board]\nplating = "{plating} mm"\n')
        (one,) = outcome_of(BarrelImpedance, board_of(planes(*around(1.0, 90)), text), text)
        assert isinstance(one, Unchecked) and "overlap or touch" in one.reason


def test_unused_lengths_lower_it() -> None:
    def from_l1_to_l2(span: tuple[int, int]) -> Sketch:
        sketch = Sketch(layers=4, gaps=[(1.0, 4.0)] * 3)
        sketch.pour("GND", 3)
        sketch.pour("GND", 4)
        sketch.trace("SIG", 1, [(4, 10), (10, 10)])
        sketch.trace("SIG", 2, [(16, 10), (10, 10)])
        sketch.via("SIG", (10, 10), span=span)
        return tied(sketch, *around(1.0, 90))

    short, long = (ohms(check(from_l1_to_l2(span), settings(500))[0]) for span in ((1, 2), (1, 4)))
    assert long < 0.9 * short


def test_the_clean_demo_board_is_clean() -> None:
    text = settings(50).replace("SIG*", "RF_*")
    assert check(tide_gauge.tide_gauge(), text) == []


def test_the_long_stub_of_the_demo_is_low() -> None:
    """With 1.3 mm unused on either via of RF_AUX."""
    text = settings(50).replace("SIG*", "RF_*")
    found = check(tide_gauge.tide_gauge(["long-stub"]), text)
    assert [(one.nets, one.layers) for one in found] == [(("RF_AUX",), ("L1", "L2"))] * 2
    assert all(ohms(one) < 25 for one in found)
