"""The demo board: its clean twin can be built, and each fault of manufacture that can be put on it is found alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from fencepost_rules.copper_spacing import CopperSpacing
from fencepost_rules.hole_aspect import HoleAspect
from fencepost_rules.hole_size import HoleSize
from fencepost_rules.hole_wall import HoleWall
from fencepost_rules.ring_width import RingWidth
from fencepost_rules.tie_span import TieSpan

from boards import board_from, findings_of
from fencepost.board.model import Board
from tide_gauge import tide_gauge

RULES = (RingWidth, HoleSize, HoleAspect, HoleWall, CopperSpacing, TieSpan)
SETTINGS = (Path(__file__).parents[2] / "fixtures" / "tide-gauge" / "fencepost.toml").read_text()

Found = list[tuple[str, tuple[str, ...], float]]

FAULTS: dict[str, Found] = {
    "thin-ring": [("ring-width", ("MEM_D3",), 0.05)],
    "close-holes": [("hole-wall", ("GND",), 0.0)],
    "small-drill": [("hole-size", ("MEM_D5",), 0.2), ("hole-aspect", ("MEM_D5",), 8.0)],
    "tight-spacing": [("copper-spacing", ("GND", "QSPI_IO1"), 0.075)] * 2,
    "short-tie": [("tie-span", ("MEM_CS",), 1.06)],
}
"""Rule, nets and figure. A wall of 0.1 mm between finished holes is none between drilled ones; 0.1 mm finished is
0.2 mm drilled, and 1.6 mm of board over it 8 to 1."""


def found(board: Board) -> Found:
    findings = [finding for rule in RULES for finding in findings_of(rule, board, SETTINGS)]
    return [(finding.rule, finding.nets, finding.measured.value) for finding in findings]


def expected(rows: Found) -> list[tuple[str, tuple[str, ...], object]]:
    return [(rule, nets, pytest.approx(value, abs=0.001)) for rule, nets, value in rows]


@pytest.mark.parametrize(
    "faults", [(), *((name,) for name in FAULTS)], ids=lambda faults: faults[0] if faults else "clean"
)
def test_each_fault_is_found_alone(faults: tuple[str, ...]) -> None:
    rows = [row for name in faults for row in FAULTS[name]]
    board = board_from(tide_gauge(faults).gerber(), SETTINGS)
    assert found(board) == expected(rows)


def test_all_of_them_together() -> None:
    board = board_from(tide_gauge(FAULTS).gerber(), SETTINGS)
    assert sorted(found(board)) == expected(sorted(row for rows in FAULTS.values() for row in rows))


@pytest.mark.parametrize("name", ["qspi-untied", "qspi-false-tie", "fence-gap", "plane-slot", "net-short", "net-open"])
def test_faults_of_other_kinds_are_none_of_manufacture(name: str) -> None:
    assert found(board_from(tide_gauge((name,)).gerber(), SETTINGS)) == []
