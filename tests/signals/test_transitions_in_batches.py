"""Layer changes are the same, whether their traces are followed all at once or a few at a time."""

from __future__ import annotations

from pathlib import Path

import pytest

from fencepost.board.load import load_board
from fencepost.intake import open_package
from fencepost.settings.model import Settings
from fencepost.signals import leavings
from fencepost.signals.transitions import Transition, transitions_of

DEMO = Path(__file__).parents[2] / "fixtures" / "tide-gauge" / "fab"


def found() -> tuple[Transition, ...]:
    return transitions_of(load_board(open_package(DEMO), Settings()))


@pytest.mark.parametrize(("at_once", "samples"), ((1, 0), (7, 100), (1_000_000, 0)))
def test_batches_make_no_difference(at_once: int, samples: int, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = found()
    assert len(whole) > 20
    monkeypatch.setattr(leavings, "AT_ONCE", at_once)
    monkeypatch.setattr(leavings, "SAMPLES", samples)
    assert found() == whole
