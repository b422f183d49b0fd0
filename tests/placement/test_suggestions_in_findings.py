"""What a finding says of the via that would mend it: its place, and the figure that the rule would then measure."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fencepost_rules.pair_return import PairReturn
from fencepost_rules.pour_tie import PourTie
from fencepost_rules.transition_return import TransitionReturn

from boards import board_of, settings_of
from fencepost.checking.finding import Finding
from fencepost.checking.mending import seeker_of, with_suggestions
from fencepost.checking.planning import mend
from fencepost.checking.rule import Rule
from fencepost.checking.runner import run
from fencepost.placement.plan import with_vias
from fencepost.placement.spots import placed_at
from fencepost.placement.via import via_model
from fencepost.report.result import Result, summary_of
from fencepost.report.text import render
from fencepost.signals.ties import plane_ties_of
from sketch import Sketch

FAST = settings_of(
    '[[class]]\nname = "fast"\nnets = ["SIG*", "D_*"]\nrise_time = "1 ns"\n'
    '[placement]\ndrill = "0.25 mm"\npad = "0.5 mm"\n'
)
AT = (10.0, 10.0)


def ground() -> Sketch:
    sketch = Sketch(layers=4)
    sketch.pour("GND", 2)
    sketch.pour("GND", 3)
    sketch.via("GND", (18.0, 18.0))
    return sketch


def crossing() -> Sketch:
    """The plane keeps 0.2 mm off the signal's pad of 0.6 mm: the nearest pad of 0.5 mm that is all in ground is 0.75 mm
    from it, (0.6 / 2 + 0.2) + 0.5 / 2."""
    sketch = ground()
    sketch.via("SIG", AT, drill=0.3, pad=0.6)
    sketch.trace("SIG", 1, [(4.0, 10.0), AT])
    sketch.trace("SIG", 4, [(16.0, 10.0), AT])
    return sketch


def found(rule: type[Rule], sketch: Sketch, **options) -> tuple[Finding, ...]:
    board = board_of(sketch, FAST, **options)
    return with_suggestions(board, run(board, {rule.name: rule}, FAST), seeker_of(board, FAST)).findings


@pytest.mark.parametrize("turn", [0.0, 30.0, 90.0])
@pytest.mark.parametrize("mirror", [False, True])
@pytest.mark.parametrize("units", ["mm", "inch"])
def test_the_nearest_place_is_as_near_as_clearances_let_it_be_however_the_board_lies(turn, mirror, units) -> None:
    (finding,) = found(TransitionReturn, crossing(), turn=turn, mirror=mirror, units=units)
    via = finding.suggestion
    assert via is not None
    away = math.dist((via.x_mm, via.y_mm), (finding.place.x_mm, finding.place.y_mm))
    assert away == pytest.approx(0.75, abs=0.004)
    assert (via.drill_mm, via.pad_mm, via.layers) == (0.25, 0.5, ("L1", "L4"))


def test_the_text_has_the_place_and_the_figure_in_notes_of_their_own() -> None:
    board = board_of(crossing(), FAST)
    (finding,) = found(TransitionReturn, crossing())
    text = render([Result("fab", summary_of(board), (), (finding,), (), (), 0.1)])
    via = finding.suggestion
    assert via is not None
    assert f"note: a 0.25/0.50 mm ground via fits at ({via.x_mm:.3f}".rstrip("0") in text
    assert ", 0.75 mm away\n" in text
    assert "note: with the ground via suggested, the nearest tie is 0.75 mm away\n" in text


def test_the_figure_is_what_the_rule_measures_with_the_via_in_place() -> None:
    board = board_of(crossing(), FAST)
    (finding,) = found(TransitionReturn, crossing())
    via = finding.suggestion
    assert via is not None
    after = with_vias(
        board, model_of(board), [placed_at(board, model_of(board), board.net_index["GND"], via.x_mm, via.y_mm)]
    )
    ties = plane_ties_of(after)
    before, behind = (set(group) for group in finding.mend[0].ties)
    nearest = ties.nearest_between(np.array(AT), before, behind)
    assert nearest is not None
    assert nearest[1] == pytest.approx(finding.mend[0].figure(via.x_mm, via.y_mm), abs=1e-9)


def model_of(board):
    return via_model(board, FAST)


def pair() -> Sketch:
    """Both halves change layer at x = 10 -+ 0.4; the only tie is beside the left one."""
    sketch = ground()
    for name, x in (("D_P", 9.6), ("D_N", 10.4)):
        sketch.via(name, (x, 10.0), drill=0.25, pad=0.5)
        sketch.trace(name, 1, [(x, 4.0), (x, 10.0)])
        sketch.trace(name, 4, [(x, 16.0), (x, 10.0)])
    sketch.via("GND", (8.75, 10.0), drill=0.25, pad=0.5)
    return sketch


def test_a_pair_gets_the_mirror_image_of_its_tie() -> None:
    (finding,) = found(PairReturn, pair())
    via = finding.suggestion
    assert via is not None
    assert (via.x_mm, via.y_mm) == pytest.approx((11.25, 10.0), abs=0.002)
    assert finding.remarks[-1].message == (
        "with the ground via suggested, the distances to the nearest ties differ by 0.00 mm"
    )


def test_a_bare_pour_is_covered() -> None:
    """50 x 40 mm of ground with ties at one end only: a grid of 10 mm, the rule's own, takes some 20 vias."""
    settings = settings_of('[board]\nfrequency = "868 MHz"')
    sketch = Sketch(layers=2, size=(50.0, 40.0))
    sketch.pour("GND", 1)
    sketch.pour("GND", 2)
    for y in (5.0, 15.0, 25.0, 35.0):
        sketch.via("GND", (3.0, y))
    board = board_of(sketch, settings)
    mending = mend(board, via_model(board, settings), {"pour-tie": PourTie}, settings)
    assert mending.first
    assert mending.left == ()
    assert 12 <= len(mending.vias) <= 30
