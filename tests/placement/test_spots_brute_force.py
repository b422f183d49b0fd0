"""On boards made by chance: no suggestion is illegal, and no legal place is nearer, sampled at 10 µm."""

from __future__ import annotations

import os

import pytest

from placement.brute_force import trial

SEEDS = range(int(os.environ.get("FENCEPOST_RANDOM_BOARDS", "25")))
"""500 were tried: tests/bench/bench_placement.py."""


@pytest.mark.parametrize("seed", SEEDS)
def test_no_place_is_nearer_and_the_suggestion_is_legal(seed: int) -> None:
    tried = trial(seed)
    assert tried.is_legal, tried.spot
    assert not len(tried.nearer), (tried.spot, tried.nearer[:3])


def test_the_boards_are_such_that_both_outcomes_are_tried() -> None:
    """A test that never sees a board without room, or with some, would prove little."""
    found = [trial(seed).spot is not None for seed in range(12)]
    assert any(found)
