"""The same board with labels, with a netlist instead, and with neither: the same layer changes lack a tie.

Names aside: where no name is known no net is in a class, so that all findings are notes.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from fencepost_rules.transition_return import TransitionReturn

import tide_gauge as demo
from boards import board_from, board_of, outcome_of
from fencepost.board.model import Board
from fencepost.checking.finding import Finding
from sketch import Sketch


def untied() -> Sketch:
    """SIG changes from L1 over ground to L4 over ground, the nearest tie 8 mm away; OK has one beside it."""
    board = Sketch(layers=4)
    for layer in (2, 3):
        board.pour("GND", layer)
    board.via("GND", (10, 18))
    for name, y in (("SIG", 10), ("OK", 16)):
        board.trace(name, 1, [(4, y), (10, y)])
        board.via(name, (10, y))
        board.trace(name, 4, [(10, y), (16, y)])
    board.via("GND", (10, 15))
    return board


BOARDS: dict[str, tuple[Callable[[], Sketch], str, int]] = {
    "one untied, one tied": (untied, "1, 1, L2", 1),
    "two faults of the demo board": (lambda: demo.tide_gauge(("qspi-untied", "qspi-false-tie")), "1, 20", 2),
    "its clean twin": (demo.tide_gauge, "1, 20", 0),
}


def seen(board: Board, settings: str = "") -> list[tuple[Any, ...]]:
    """Place, layers and distance to the nearest tie of every finding."""
    return sorted(
        (round(one.place.x_mm, 3), round(one.place.y_mm, 3), one.layers, one.measured and round(one.measured.value, 3))
        for one in outcome_of(TransitionReturn, board, settings)
        if isinstance(one, Finding)
    )


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize(("sketch", "ground", "count"), BOARDS.values(), ids=BOARDS.keys())
def test_the_same_findings_however_the_nets_are_known(
    sketch: Callable[[], Sketch], ground: str, count: int, units: str
) -> None:
    """By labels, by a netlist beside copper that names nothing, and by one point on ground."""
    board = sketch()
    labelled = seen(board_of(board, units=units))
    assert len(labelled) == count
    files = board.gerber(attributes="files", units=units)
    assert seen(board_from({**files, "board.ipc": board.testnet(units=units)})) == labelled
    settings = f'[nets]\nground_at = "{ground}"'
    assert seen(board_from(files, settings), settings) == labelled
