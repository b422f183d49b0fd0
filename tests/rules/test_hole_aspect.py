"""hole-aspect: depth over drill. The boards are 1.6 mm thick: 0.2, 1.06 and 0.2 mm between four coppers of 0.035 mm."""

from __future__ import annotations

import pytest
from fencepost_rules.hole_aspect import HoleAspect

from boards import board_of, findings_of
from fencepost.checking.finding import Finding, Severity
from sketch import Sketch

MAX_8 = "[rules.hole-aspect]\nmaximum = 8\n"
BLIND_1 = "[rules.hole-aspect]\nblind = 1\n"


def check(sketch: Sketch, settings: str = "", **options) -> list[Finding]:
    return findings_of(HoleAspect, board_of(sketch, settings, **options), settings)


def via(drill: float, span: tuple[int, int] | None = None) -> Sketch:
    sketch = Sketch(layers=4, gaps=[(0.2, 4.2), (1.06, 4.5), (0.2, 4.2)])
    sketch.via("A", (10, 10), drill=drill, pad=0.6, span=span)
    return sketch


@pytest.mark.parametrize(
    ("drill", "settings", "ratio"),
    [
        (0.062, "", None),
        (0.06, "", None),
        (0.058, "", 1.6 / 0.158),
        (0.102, MAX_8, None),
        (0.1, MAX_8, None),
        (0.098, MAX_8, 1.6 / 0.198),
        (0.1, '[board]\nlevel = "B"', None),
        (0.098, '[board]\nlevel = "B"', 1.6 / 0.198),
        (0.167, '[board]\nlevel = "A"', None),
        (0.165, '[board]\nlevel = "A"', 1.6 / 0.265),
        (0.098, '[board]\nlevel = "A"\n' + MAX_8, 1.6 / 0.198),
        (0.102, '[board]\nlevel = "A"\n' + MAX_8, None),
        (0.15, '[board]\nplating = "50 um"\n' + MAX_8, None),
        (0.148, '[board]\nplating = "50 um"\n' + MAX_8, 1.6 / 0.198),
    ],
)
def test_at_just_over_and_just_under_each_limit(drill: float, settings: str, ratio: float | None) -> None:
    measured = [finding.measured.value for finding in check(via(drill), settings)]
    assert measured == ([] if ratio is None else [pytest.approx(ratio, rel=1e-6)])


@pytest.mark.parametrize(
    ("span", "deep"),
    [((1, 4), 1.6), ((1, 2), 0.27), ((3, 4), 0.27), ((1, 3), 1.365), ((2, 3), 1.13), ((2, 4), 1.365)],
)
def test_blind_and_buried_holes_are_as_deep_as_their_span(span: tuple[int, int], deep: float) -> None:
    """Dielectrics and coppers from the first to the last layer, both included, over a drill of 0.3 mm."""
    (finding,) = check(via(0.2, span), "[rules.hole-aspect]\nmaximum = 0.5\n")
    assert finding.measured.value == pytest.approx(deep / 0.3)
    assert finding.layers == tuple(f"L{layer}" for layer in span)


@pytest.mark.parametrize(
    ("span", "drill", "faulty"),
    [((1, 2), 0.18, False), ((1, 2), 0.17, False), ((1, 2), 0.168, True), ((2, 3), 0.3, True), ((1, 4), 0.1, False)],
)
def test_a_limit_of_their_own_for_holes_that_end_inside(span: tuple[int, int], drill: float, faulty: bool) -> None:
    """0.27 mm deep and drilled 0.27 mm wide is 1 to 1. It does not hold for through holes."""
    assert bool(check(via(drill, span), BLIND_1)) is faulty


def test_holes_without_plating_may_be_deep() -> None:
    sketch = Sketch(layers=4)
    sketch.hole((10, 10), 0.1)
    assert check(sketch) == []


def test_what_a_finding_says() -> None:
    (finding,) = check(via(0.1), "[rules.hole-aspect]\nmaximum = 7\n")
    said = "the via of A is 1.60 mm deep and drilled 0.20 mm wide, 8.0 to 1, more than 7 to 1"
    assert (finding.message, finding.severity, finding.nets) == (said, Severity.WARNING, ("A",))


def test_all_holes_of_one_tool_are_one_finding() -> None:
    sketch = via(0.05)
    for i in range(20):
        sketch.via("B", (1 + 0.5 * i, 5), drill=0.05, pad=0.3)
    (finding,) = check(sketch)
    assert finding.message.startswith("21 vias of 0.05 mm are 1.60 mm deep")


@pytest.mark.parametrize("options", [{"turn": 30.0}, {"units": "inch"}, {"drill": "gerber"}])
def test_however_the_board_lies_and_is_written(options: dict) -> None:
    (finding,) = check(via(0.05), **options)
    assert finding.measured.value == pytest.approx(1.6 / 0.15, rel=1e-4)
