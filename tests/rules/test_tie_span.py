"""tie-span: ties beside a layer change that end before a reference, and others.

Unless said otherwise, net SIG comes from the left on L1 to a via at (10, 10) and leaves to the right on the lowest of
six layers; L2, L3 and L5 are ground, so that the signal goes from over L2 to over L5. The stackup is 0.1, 0.5, 0.19,
0.5, 0.1 mm with coppers of 0.035 mm.
"""

from __future__ import annotations

import pytest
from fencepost_rules.tie_span import TieSpan
from fencepost_rules.transition_return import TransitionReturn

from boards import board_of, findings_of, outcome_of
from fencepost.checking.finding import Finding, Severity, Unchecked
from sketch import Sketch

FAST = '[[class]]\nname = "fast"\nnets = ["SIG"]\nrise_time = "1 ns"\n'
NEAR = (10.0, 11.0)

TO_L5_FROM = {2: 0.5 + 0.19 + 0.5 + 2 * 0.035, 3: 0.19 + 0.5 + 0.035, 4: 0.5}
"""mm of dielectric and copper between a layer and L5."""


def crossing(grounds: tuple[int, ...] = (2, 3, 5), power: tuple[int, ...] = (), **options) -> Sketch:
    sketch = Sketch(layers=6)
    for layer in grounds:
        sketch.pour("GND", layer, **options)
    for layer in power:
        sketch.pour("VCC", layer)
    sketch.via("SIG", (10, 10))
    sketch.trace("SIG", 1, [(4, 10), (10, 10)])
    sketch.trace("SIG", 6, [(10, 10), (16, 10)])
    return sketch


def tied(*spans: tuple[int, int] | None, **options) -> Sketch:
    """A ground via of each of these spans around the signal's, 1 mm away and more."""
    sketch = crossing(**options)
    for i, span in enumerate(spans):
        sketch.via("GND", (10 + 0.8 * i, 11), span=span)
    return sketch


def check(sketch: Sketch, settings: str = FAST, **options) -> list[Finding]:
    return findings_of(TieSpan, board_of(sketch, settings, **options), settings)


@pytest.mark.parametrize(
    ("spans", "short"),
    [
        ([], None),
        ([None], None),
        ([(2, 5)], None),
        ([(1, 5)], None),
        ([(1, 2)], TO_L5_FROM[2]),
        ([(1, 3)], TO_L5_FROM[3]),
        ([(2, 4)], TO_L5_FROM[4]),
        ([(5, 6)], TO_L5_FROM[2]),
        ([(3, 6)], 0.5),
        ([(4, 6)], 0.5 + 0.19 + 0.035),
        ([(3, 4)], None),
        ([(1, 2), (1, 4)], TO_L5_FROM[2]),
        ([(1, 2), (2, 5)], None),
        ([(1, 3), (3, 5)], None),
    ],
    ids=[
        "none", "through", "buried, from reference to reference", "blind, to the second reference", "to L2", "to L3",
        "buried, to L4", "from below to L5", "from below to L3", "from below to L4", "touches neither",
        "two short ones", "a short one and a good one", "two that go on from one another",
    ],
)  # fmt: skip
def test_which_ties_stop_short(spans: list, short: float | None) -> None:
    """And by how much, by the stackup."""
    found = check(tied(*spans))
    assert [finding.measured.value for finding in found] == ([] if short is None else [pytest.approx(short)])


def test_a_finding_comes_only_with_a_layer_change_that_is_unclean() -> None:
    for spans in ([(1, 2)], [(1, 3), (3, 5)], [None], []):
        board = board_of(tied(*spans), FAST)
        unclean, short = findings_of(TransitionReturn, board, FAST), findings_of(TieSpan, board, FAST)
        assert len(short) <= len(unclean)
    assert check(tied((1, 3), grounds=(2,))) == [], "one plane is both references"


@pytest.mark.parametrize(("y", "count"), [(11.49, 1), (11.5, 1), (11.51, 0)])
def test_only_ties_within_the_limit_count(y: float, count: int) -> None:
    sketch = crossing()
    sketch.via("GND", (10, y), span=(1, 2))
    assert len(check(sketch)) == count


@pytest.mark.parametrize(("distance", "count"), [("0.9 mm", 0), ("1 mm", 1), ("3 mm", 1)])
def test_the_limit_may_be_set(distance: str, count: int) -> None:
    assert len(check(tied((1, 2)), f'{FAST}[rules.tie-span]\ndistance = "{distance}"\n')) == count


def test_the_other_reference_must_lie_where_the_tie_would_come_through() -> None:
    """L5 has a hole there, wide enough to keep the tie off and small enough to leave the trace its reference."""
    assert check(tied((1, 2), holes=((9.4, 10.4, 10.6, 11.6),))) == []
    assert len(check(tied((1, 2), holes=((12.4, 11.4, 12.6, 11.6),)))) == 1


@pytest.mark.parametrize("ties", [[(10, 9), (10, 11)], [(10, 11), (10, 9)], [(10, 9.0002), (10, 11)]])
def test_of_two_equally_near_to_a_micron_the_one_below_is_told(ties: list[tuple[float, float]]) -> None:
    """Whatever their order in the file, and however an export in inches rounds them."""
    sketch = crossing()
    for at in ties:
        sketch.via("GND", at, span=(1, 2))
    (finding,) = check(sketch)
    assert finding.place.y_mm == pytest.approx(9, abs=0.001)


def test_a_blind_via_of_a_signal_is_no_tie() -> None:
    sketch = crossing()
    sketch.via("OTHER", NEAR, span=(1, 2))
    assert check(sketch) == []


def test_a_hole_without_plating_is_no_tie() -> None:
    sketch = crossing()
    sketch.via("GND", NEAR, span=(1, 2), plated=False)
    assert check(sketch) == []


def test_a_tie_that_the_plane_keeps_off_is_none() -> None:
    """It touches neither reference, whatever its span."""
    sketch = crossing()
    sketch.via("GND", NEAR, span=(1, 2), isolate=(2,))
    assert check(sketch) == []


def test_references_of_two_nets_are_a_matter_for_capacitors() -> None:
    sketch = tied((1, 2), grounds=(2,), power=(5,))
    assert [entry for entry in outcome_of(TieSpan, board_of(sketch, FAST), FAST) if isinstance(entry, Finding)] == []


def test_ties_of_a_power_net_may_stop_short_as_well() -> None:
    sketch = crossing(grounds=(3,), power=(2, 5))
    sketch.via("VCC", NEAR, span=(1, 2))
    (finding,) = check(sketch)
    assert finding.message.startswith("the blind via of VCC beside SIG")


def test_what_a_finding_says() -> None:
    (finding,) = check(tied((1, 2), (1, 4)))
    said = (
        "the blind via of GND beside SIG touches its reference on L2 and ends on L2, 1.26 mm before its reference on L5"
    )
    assert (finding.message, finding.severity) == (said, Severity.WARNING)
    assert (finding.layers, finding.nets) == (("L2", "L5"), ("SIG",))
    assert (finding.place.x_mm, finding.place.y_mm) == NEAR
    assert "1-2" in finding.place.location.file
    assert [remark.message for remark in finding.remarks] == [
        "SIG goes from L1 to L6 here, 1.00 mm away", "1.28 mm away, this one ends on L4, 0.50 mm before L5",
    ]  # fmt: skip


def test_nets_in_no_class_give_notes() -> None:
    (finding,) = check(tied((1, 2)), "")
    assert finding.severity is Severity.NOTE


def test_without_ground_nothing_can_be_said() -> None:
    """Unless every hole goes through the board: then no tie can stop short."""
    sketch = Sketch(layers=4)
    sketch.via("A", (10, 10))
    assert outcome_of(TieSpan, board_of(sketch)) == []
    sketch.via("A", (12, 10), span=(1, 2))
    (entry,) = outcome_of(TieSpan, board_of(sketch))
    assert isinstance(entry, Unchecked)


@pytest.mark.parametrize("options", [{"turn": 30.0}, {"move": (40.0, -7.0)}, {"units": "inch"}, {"mirror": True}])
def test_however_the_board_lies_and_is_written(options: dict) -> None:
    (finding,) = check(tied((1, 2)), **options)
    assert finding.measured.value == pytest.approx(TO_L5_FROM[2], abs=1e-4)
