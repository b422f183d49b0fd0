"""What the return current finds at a transition, on boards that are built to have one kind of it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fencepost_rules.transition_return import TransitionReturn

from boards import board_of, outcome_of, settings_of
from fencepost.checking.finding import Finding
from fencepost.errors import SettingsError
from fencepost.signals.kinds import Reach, Return, ReturnKind, returns_of
from sketch import Sketch

VIA = (10.0, 10.0)
FAR = (18.0, 18.0)
FAST = '[[class]]\nname = "fast"\nnets = ["SIG"]\nfrequency = "24 GHz"\n'


def crossing(grounds: tuple[int, ...] = (2, 3), power: tuple[int, ...] = (), after: int = 4) -> Sketch:
    """SIG comes from the left on L1 to a via and leaves to the right on another layer. One ground via is far away."""
    sketch = Sketch(layers=4, gaps=[(0.2, 4.2), (1.06, 4.2), (0.2, 4.2)])
    for layer in grounds:
        sketch.pour("GND", layer)
    for layer in power:
        sketch.pour("VCC", layer)
    sketch.trace("SIG", 1, [(4, 10), VIA])
    sketch.via("SIG", VIA)
    sketch.trace("SIG", after, [VIA, (16, 10)])
    sketch.via("GND", FAR)
    return sketch


def with_tie(sketch: Sketch, away: float = 1.0, net: str = "GND") -> Sketch:
    sketch.via(net, (VIA[0], VIA[1] + away))
    return sketch


def with_capacitor(sketch: Sketch) -> Sketch:
    """C1 between the two planes, its vias 2 mm above the signal's."""
    for pin, net, x in (("1", "GND", 9.5), ("2", "VCC", 10.5)):
        sketch.pad("C1", pin, net, 1, (x, 12.0), 0.5)
        sketch.via(net, (x, 12.6), drill=0.2, pad=0.4)
        sketch.trace(net, 1, [(x, 12.0), (x, 12.6)], 0.2)
    return sketch


def through_three_planes() -> Sketch:
    """Six layers: from L1 over GND on L2 to L6 over VCC on L5. A tie leads on to L4, and a capacitor from there."""
    sketch = Sketch(layers=6)
    sketch.pour("GND", 2)
    sketch.pour("GND", 4)
    sketch.pour("VCC", 5)
    sketch.trace("SIG", 1, [(4, 10), VIA])
    sketch.via("SIG", VIA)
    sketch.trace("SIG", 6, [VIA, (16, 10)])
    with_tie(sketch)
    for pin, net, x in (("1", "GND", 9.5), ("2", "VCC", 10.5)):
        sketch.pad("C1", pin, net, 6, (x, 12.0), 0.5)
        sketch.via(net, (x, 12.6), drill=0.2, pad=0.4, isolate=(2,))
        sketch.trace(net, 6, [(x, 12.0), (x, 12.6)], 0.2)
    return sketch


BOARDS: dict[str, tuple[Callable[[], Sketch], ReturnKind]] = {
    "from above one plane to below it": (lambda: crossing((2,), after=3), ReturnKind.SAME),
    "one plane for both, though far from L4": (lambda: crossing((2,)), ReturnKind.SAME),
    "two grounds and a tie": (lambda: with_tie(crossing()), ReturnKind.TIED),
    "two grounds and the tie too far": (lambda: with_tie(crossing(), 1.6), ReturnKind.UNTIED),
    "two grounds and no tie": (crossing, ReturnKind.UNTIED),
    "two planes of one power net and a via of it": (
        lambda: with_tie(crossing((), (2, 3)), net="VCC"),
        ReturnKind.TIED,
    ),
    "ground and power and a capacitor": (lambda: with_capacitor(crossing((2,), (3,))), ReturnKind.CAPACITOR),
    "ground and power and a tie": (lambda: with_tie(crossing((2,), (3,))), ReturnKind.UNTIED),
    "a tie and a capacitor one after another": (through_three_planes, ReturnKind.CAPACITOR),
    "no plane at all": (lambda: crossing(()), ReturnKind.NO_REFERENCE),
}


def returns(sketch: Sketch, settings: str = "", reach: Reach | None = None) -> tuple[Return, ...]:
    return returns_of(board_of(sketch, settings), settings_of(settings), reach or Reach())


@pytest.mark.parametrize(("build", "kind"), BOARDS.values(), ids=BOARDS)
def test_each_transition_is_of_one_kind(build: Callable[[], Sketch], kind: ReturnKind) -> None:
    (found,) = returns(build())
    assert found.kind is kind


@pytest.mark.parametrize(("build", "kind"), BOARDS.values(), ids=BOARDS)
def test_the_rule_finds_those_that_nothing_joins_and_no_others(build: Callable[[], Sketch], kind: ReturnKind) -> None:
    outcome = outcome_of(TransitionReturn, board_of(build()))
    assert [type(entry) for entry in outcome if isinstance(entry, Finding)] == [Finding] * (kind is ReturnKind.UNTIED)


def test_a_fast_class_draws_the_tie_nearer() -> None:
    """At 24 GHz and er 4.2 a wavelength is 6.1 mm, a twentieth of it 0.30 mm: c / (f sqrt(er)), by hand."""
    sketch = with_tie(crossing(), 0.8)
    (slow,), (fast,) = returns(sketch), returns(sketch, FAST)
    assert (slow.kind, slow.limit.distance, slow.net_class) == (ReturnKind.TIED, 1.5, None)
    assert (fast.kind, fast.net_class and fast.net_class.name) == (ReturnKind.UNTIED, "fast")
    assert fast.limit.distance == pytest.approx(299.792458 / 24 / 4.2**0.5 / 20)


@pytest.mark.parametrize(
    ("build", "reach", "kind"),
    [
        (lambda: with_tie(crossing(), 1.6), Reach(distance=1.7), ReturnKind.TIED),
        (lambda: with_tie(crossing(), 1.0), Reach(distance=0.9), ReturnKind.UNTIED),
        (lambda: with_capacitor(crossing((2,), (3,))), Reach(capacitor=2.0), ReturnKind.UNTIED),
    ],
    ids=["a farther tie", "a tie now too far", "a capacitor now too far"],
)
def test_how_far_counts_can_be_set(build: Callable[[], Sketch], reach: Reach, kind: ReturnKind) -> None:
    (found,) = returns(build(), reach=reach)
    assert found.kind is kind


def test_a_net_in_two_classes_is_an_error() -> None:
    twice = FAST + FAST.replace('"fast"', '"again"')
    with pytest.raises(SettingsError, match="SIG"):
        returns(crossing(), twice)
