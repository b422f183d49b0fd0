"""A board that is checked again with the suggested vias drawn over it shows none of what they were to mend.

The vias go all the way: they are written as Gerber and drill files, read back as a package, and laid over the board's
own files before it is assembled.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from fencepost_rules.fence_pitch import FencePitch
from fencepost_rules.pair_return import PairReturn
from fencepost_rules.rim_pitch import RimPitch
from fencepost_rules.tie_span import TieSpan
from fencepost_rules.transition_return import TransitionReturn

from boards import settings_of
from fencepost.board.load import load_board
from fencepost.board.model import Board
from fencepost.checking.planning import Mending, mend
from fencepost.checking.registry import Rules
from fencepost.checking.runner import run
from fencepost.intake import package_from
from fencepost.placement.cuts import cut_from_pours
from fencepost.placement.via import ViaModel, via_model
from fencepost.report.overlay import OverlayVia, overlay_files
from sketch import Sketch
from tide_gauge import tide_gauge

RULES: Rules = {rule.name: rule for rule in (FencePitch, PairReturn, RimPitch, TieSpan, TransitionReturn)}
SETTINGS = settings_of((Path(__file__).parents[2] / "fixtures/tide-gauge/fencepost.toml").read_text(encoding="utf-8"))
FAST = '[[class]]\nname = "fast"\nnets = ["SIG*"]\nrise_time = "1 ns"\n'


def overlaid(sketch: Sketch, settings, rules: Rules = RULES, **options) -> tuple[Board, Board, Mending, ViaModel]:
    """The board, the board with its overlay, and what was planned."""
    package = package_from("board", sketch.gerber(**options))
    board = load_board(package, settings)
    model = via_model(board, settings)
    mending = mend(board, model, rules, settings)
    drawn = [
        OverlayVia(
            via.x, via.y, board.nets[via.net].name,
            {layer: cut_from_pours(board, model, via, layer) for layer in range(1, board.layers + 1)},
        )
        for via in mending.vias
    ]  # fmt: skip
    files = overlay_files(drawn, model.drill, model.pad, board.layers)
    return board, load_board(package, settings, package_from("more", files)), mending, model


def faults(board: Board, settings, rules: Rules = RULES) -> set[tuple[str, tuple[str, ...]]]:
    return {(finding.rule, finding.nets) for finding in run(board, rules, settings).findings if finding.mend}


FAULTS = ["qspi-untied", "qspi-false-tie", "fence-gap", "aux-bare-side", "pair-one-side", "rim-gap", "short-tie"]
FEW: Rules = {rule.name: rule for rule in (FencePitch, TransitionReturn)}


def test_every_fault_of_the_demo_board_that_vias_mend_is_mended() -> None:
    board, after, mending, model = overlaid(tide_gauge(FAULTS), SETTINGS)
    assert {rule for rule, _ in faults(board, SETTINGS)} == RULES.keys()
    assert faults(after, SETTINGS) == set()
    places = [(via.x, via.y) for via in mending.vias]
    apart = [math.dist(one, other) for i, one in enumerate(places) for other in places[:i]]
    assert min(apart) >= model.drilled + model.wall


def test_the_same_in_inches_turned_and_as_gerber_drill_files() -> None:
    options = {"units": "inch", "turn": 30.0, "move": (100.0, -40.0), "drill": "gerber"}
    board, after, mending, _ = overlaid(tide_gauge(["qspi-untied", "fence-gap"]), SETTINGS, FEW, **options)
    assert len(faults(board, SETTINGS, FEW)) == 2
    assert faults(after, SETTINGS, FEW) == set()
    assert len(mending.vias) == 2


def test_what_rules_see_in_memory_is_what_they_see_in_the_files() -> None:
    """`with_vias` leaves out the pads; the holes, what they touch and the islands must come out alike."""
    board, after, mending, _ = overlaid(tide_gauge(["qspi-untied", "aux-bare-side"]), SETTINGS, FEW)
    assert len(after.holes) == len(board.holes) + len(mending.vias)
    assert not after.conflicts
    for i, via in enumerate(mending.vias):
        hole = len(board.holes) + i
        assert after.holes.centre[hole].tolist() == [via.x, via.y]
        assert after.nets[after.holes.net[hole]].name == "GND"
        touched = sorted(after.pieces.layer[after.pieces_at(hole)].tolist())
        assert set(board.pieces.layer[sorted(via.pieces)].tolist()) <= set(touched)


def crowd(power: bool = False) -> Sketch:
    """Two signals change layer side by side, with one place in reach of both."""
    sketch = Sketch(layers=4)
    sketch.pour("GND", 2)
    sketch.pour("GND", 3)
    for i, x in enumerate((10.0, 11.4)):
        sketch.via(f"SIG{i}", (x, 10.0), drill=0.3, pad=0.6)
        sketch.trace(f"SIG{i}", 1, [(x, 4.0), (x, 10.0)])
        sketch.trace(f"SIG{i}", 4, [(x, 16.0), (x, 10.0)])
    sketch.via("GND", (18.0, 18.0))
    if power:
        sketch.pour("VCC", 4)
    return sketch


def test_one_via_that_mends_two_findings_is_proposed_once() -> None:
    settings = settings_of(FAST)
    board, after, mending, _ = overlaid(crowd(), settings, FEW)
    assert len(mending.first) == 2
    assert len(mending.vias) == 1
    assert len(mending.served[0]) == 2
    assert faults(after, settings, FEW) == set()
    assert len(faults(board, settings, FEW)) == 2


@pytest.mark.parametrize("through", [False, True])
def test_a_pour_of_another_net_is_gone_through_only_where_settings_say_so(through: bool) -> None:
    """Then the overlay clears it around the via, and nothing is shorted."""
    settings = settings_of(FAST + ("[placement]\nthrough_pours = true\n" if through else ""))
    board, after, mending, model = overlaid(crowd(power=True), settings, FEW)
    assert len(mending.vias) == through
    if through:
        assert faults(after, settings, FEW) == set()
        assert not after.conflicts
        vcc = after.pieces.net == after.net_index["VCC"]
        hole = len(board.holes)
        assert not vcc[after.pieces_at(hole)].any()
        copper = after.copper[3]
        parts = np.flatnonzero(vcc[copper.piece])
        via = mending.vias[0]
        away = min(copper.geometry[part].distance(shapely.Point(via.x, via.y)) - copper.reach[part] for part in parts)
        assert away == pytest.approx(model.off_copper, abs=0.002)
