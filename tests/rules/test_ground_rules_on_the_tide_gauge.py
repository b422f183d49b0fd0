"""What rim-pitch, pour-tie and stray-copper say of the demo board: each fault alone, and nothing of its clean twin."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

import pytest
from fencepost_rules.pour_tie import PourTie
from fencepost_rules.rim_pitch import RimPitch
from fencepost_rules.stray_copper import StrayCopper

import tide_gauge as demo
from boards import board_of, findings_of, settings_of

SETTINGS = settings_of((Path(demo.__file__).parent / "tide-gauge" / demo.SETTINGS).read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    ("faults", "expected"),
    [
        ((), []),
        (("rim-gap",), [("rim-pitch", 16.7)]),
        (("bare-pour",), [("pour-tie", 6.29)]),
        (("stray-island",), [("stray-copper", 3.75)]),
        (("qspi-untied", "fence-gap", "aux-bare-side", "pair-one-side"), []),
    ],
    ids=str,
)
def test_each_fault_is_found_by_its_rule_alone(faults: Collection[str], expected: list[tuple[str, float]]) -> None:
    """Millimetres from tie to tie, to the nearest tie, and mm² of copper."""
    board = board_of(demo.tide_gauge(faults), SETTINGS)
    found = [one for rule in (RimPitch, PourTie, StrayCopper) for one in findings_of(rule, board, SETTINGS)]
    assert [(one.rule, one.measured.value) for one in found if one.measured] == [
        (rule, pytest.approx(value, abs=0.01)) for rule, value in expected
    ]


def test_the_demo_shows_all_three() -> None:
    board = board_of(demo.tide_gauge(demo.DEMO_FAULTS), SETTINGS)
    assert all(findings_of(rule, board, SETTINGS) for rule in (RimPitch, PourTie, StrayCopper))
