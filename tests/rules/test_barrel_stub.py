"""barrel-stub: boards that pass and boards that fail.

Net SIG comes from the left on L1 to a via at (10, 10) and leaves to the right on L2 of four layers, unless said
otherwise. Dielectrics are 0.2 mm (er 4.2), 1.06 mm (er 4.5) and 0.2 mm (er 4.2), copper is 0.035 mm: from L2 down hang
1.06 + 0.035 + 0.2 + 0.035 = 1.33 mm, of a mean er of (1.06 x 4.5 + 0.2 x 4.2) / 1.26 = 4.452. By hand, with c of the
SI Brochure: 299.792458 mm GHz / (4 x 1.33 mm x sqrt(4.452)) = 26.71 GHz.
"""

from __future__ import annotations

import math

import pytest
from fencepost_rules.barrel_stub import BarrelStub

import tide_gauge
from boards import board_of, findings_of, outcome_of
from fencepost.checking.finding import Finding, Severity, Unchecked
from sketch import Sketch

GAPS = [(0.2, 4.2), (1.06, 4.5), (0.2, 4.2)]
RESONANCE_GHZ = 26.707


def settings(ghz: float, more: str = "") -> str:
    return f'[[class]]\nname = "fast"\nnets = ["SIG"]\nfrequency = "{ghz} GHz"\n{more}'


def board(*layers: int, **via: object) -> Sketch:
    """A via with a trace on each of these layers. Copper of another net sees to it that no layer is empty."""
    sketch = Sketch(layers=4, gaps=GAPS)
    sketch.pour("GND", 3)
    for layer in (1, 2, 4):
        sketch.trace("OTHER", layer, [(2, 2), (6, 2)])
    sketch.via("SIG", (10, 10), **via)
    for i, layer in enumerate(layers or (1, 2)):
        sketch.trace("SIG", layer, [(16 if i % 2 else 4, 10 + i), (10, 10)])
    return sketch


def check(sketch: Sketch, text: str, **options: object) -> list[Finding]:
    return findings_of(BarrelStub, board_of(sketch, text, **options), text)


@pytest.mark.parametrize(
    ("ghz", "margin", "found"),
    [
        (RESONANCE_GHZ * 0.999, 1, False), (RESONANCE_GHZ * 1.001, 1, True), (27.0, 1, True), (40.0, 1, True),
        (RESONANCE_GHZ / 3 * 0.999, 3, False), (RESONANCE_GHZ / 3 * 1.001, 3, True), (0.868, 1, False),
    ],
)  # fmt: skip
def test_just_under_and_just_over(ghz: float, margin: float, found: bool) -> None:
    """The quarter wave against the frequency, times the margin."""
    text = settings(ghz, f"[rules.barrel-stub]\nmargin = {margin}\n")
    assert bool(check(board(), text)) is found


def test_at_the_resonance_itself_it_is_found() -> None:
    """`At or below`: the measured figure itself as the frequency."""
    (finding,) = check(board(), settings(27))
    assert finding.measured is not None
    exact = f'[[class]]\nname = "fast"\nnets = ["SIG"]\nfrequency = "{finding.measured.value!r} Hz"\n'
    assert len(check(board(), exact)) == 1


@pytest.mark.parametrize(
    "options",
    [{}, {"turn": 30.0}, {"move": (-31.7, 12.3)}, {"units": "inch"}],
    ids=["as is", "turned", "moved", "inch"],
)
def test_figures_are_those_worked_by_hand(options: dict[str, object]) -> None:
    """Lengths along the board do not enter: turned, moved and in inches it is the same to the last digit shown."""
    (finding,) = check(board(), settings(30), **options)
    assert finding.measured is not None
    assert finding.measured.value == pytest.approx(RESONANCE_GHZ * 1e9, rel=1e-4)
    assert finding.limit is not None
    assert finding.limit.value == pytest.approx(30e9)
    assert finding.severity is Severity.WARNING
    assert finding.layers == ("L2", "L4")
    assert "1.33 mm of barrel hang unused" in finding.message
    # 299.792458 / (4 x 30 x sqrt(4.452)) = 1.184 mm
    assert finding.remarks[0].message == "at this frequency no more than 1.18 mm may hang unused"


@pytest.mark.parametrize(
    ("layers", "lengths"),
    [
        ((1, 2), [("L2", "L4")]),
        ((1, 4), []),
        ((1, 3), [("L3", "L4")]),
        ((2, 3), [("L2", "L1"), ("L3", "L4")]),
        ((3, 4), [("L3", "L1")]),
        ((2, 2), [("L2", "L1"), ("L2", "L4")]),
        ((1, 2, 4), []),
    ],
)
def test_what_hangs_is_above_and_below_what_is_used(layers: tuple[int, ...], lengths: list[tuple[str, str]]) -> None:
    """At 1 THz every stub counts."""
    assert sorted(one.layers for one in check(board(*layers), settings(1000))) == sorted(lengths)


def test_a_blind_via_has_no_stub() -> None:
    assert check(board(span=(1, 2)), settings(1000)) == []


def test_lands_alone_use_nothing_and_need_not_be_there() -> None:
    assert len(check(board(pads=(1, 2)), settings(30))) == 1


@pytest.mark.parametrize("what", ["area", "pad", "via"])
def test_other_copper_of_the_net_uses_a_layer(what: str) -> None:
    """On L4: a filled area, a component's pad about the via, another via's land."""
    sketch = board()
    if what == "area":
        sketch.copper("SIG", 4, (9.8, 9.8, 14, 11))
    elif what == "pad":
        sketch.pad("U1", "1", "SIG", 4, (10, 10), 1.0)
    else:
        sketch.via("SIG", (10.4, 10), span=(3, 4))
    assert check(sketch, settings(30)) == []


@pytest.mark.parametrize(
    ("span", "diameter", "resonance"),
    [
        ((3, 4), 0.6, 299.792458 / (4 * 1.06 * 4.5**0.5)),
        ((2, 4), 0.6, None),
        ((3, 4), 0.2, RESONANCE_GHZ),
        ((1, 4), 0.6, RESONANCE_GHZ),
    ],
    ids=["back to L3", "back to the used layer", "too narrow", "through the whole board"],
)
def test_a_back_drilled_via_ends_where_the_wider_hole_ends(
    span: tuple[int, int], diameter: float, resonance: float | None
) -> None:
    """Drilled back to L3 there may be 1.06 mm left: 33.3 GHz."""
    sketch = board(drill=0.3)
    sketch.via(None, (10, 10), drill=diameter, pad=0, pads=(), span=span, plated=False)
    found = check(sketch, settings(60))
    assert [one.measured and one.measured.value for one in found] == (
        [pytest.approx(resonance * 1e9, rel=1e-4)] if resonance else []
    )


def test_nets_without_a_class_and_classes_without_a_frequency_are_said() -> None:
    said = outcome_of(BarrelStub, board_of(board()), "")
    assert [type(one) for one in said] == [Unchecked]
    no_frequency = '[[class]]\nname = "fast"\nnets = ["SIG"]\n'
    (one,) = outcome_of(BarrelStub, board_of(board()), no_frequency)
    assert isinstance(one, Unchecked) and 'class "fast"' in one.reason
    assert len(check(board(), f'[board]\nfrequency = "30 GHz"\n{no_frequency}')) == 1


def test_a_component_hole_is_left_out() -> None:
    sketch = Sketch(layers=4, gaps=GAPS)
    sketch.through_pad("J1", "1", "SIG", (10, 10))
    sketch.trace("SIG", 1, [(4, 10), (10, 10)])
    assert check(sketch, settings(1000)) == []


def test_dielectrics_of_next_to_no_thickness_leave_the_copper() -> None:
    """0.07 mm of it, L3 and L4, and twice 0.1 um; er is the 4.3 that is assumed: 299.79 / (4 x 0.0702 x sqrt(4.3))."""
    text = settings(1000, "[board]\n" + '[[board.dielectric]]\nthickness = "0.0001 mm"\n' * 3)
    (finding,) = check(board(), text)
    assert finding.measured is not None
    assert finding.measured.value == pytest.approx(299.792458e9 / (4 * 0.0702 * math.sqrt(4.3)), rel=1e-4)


class TestDemo:
    SETTINGS = settings(27).replace("SIG", "RF_*")

    def test_the_fault_shows_alone(self) -> None:
        found = check(tide_gauge.tide_gauge(["long-stub"]), self.SETTINGS)
        assert [(one.nets, one.layers) for one in found] == [(("RF_AUX",), ("L2", "L4"))] * 2

    def test_at_868_mhz_and_on_the_clean_board_nothing_does(self) -> None:
        assert check(tide_gauge.tide_gauge(["long-stub"]), self.SETTINGS.replace("27 GHz", "0.868 GHz")) == []
        assert check(tide_gauge.tide_gauge(), self.SETTINGS) == []
