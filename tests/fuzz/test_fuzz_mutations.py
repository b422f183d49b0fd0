"""Damaged files are read or refused: nothing else is raised. And what was damaged is never passed over in silence.

A little of it in the suite, the same each time; see `asked` for more, and `campaign` for long runs under limits.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import pytest

from fuzz import faulty, oracle, samples
from fuzz.asked import SEED, asked
from fuzz.mutation import mutated, mutated_package, packed
from fuzz.statements import destroy_one
from fuzz.targets import REFUSED, outcome, targets

SHARE = {
    "gerber": 0.3, "drill": 0.2, "testnet": 0.12, "job": 0.08, "ipc2581": 0.12, "settings": 0.08, "archive": 0.06,
    "board": 0.04,
}  # fmt: skip
"""How many of all inputs go to each target: most to what is read most."""


def tried(case: Callable[[int], str], count: int) -> Counter[str]:
    """What came of so many seeds. Fails with each seed that repeats a defect."""
    counts: Counter[str] = Counter()
    defects: list[str] = []
    for seed in range(SEED, SEED + count):
        try:
            counts[case(seed)] += 1
        except Exception as error:
            defects.append(f"seed {seed}: {type(error).__name__}: {error}")
    assert not defects, "\n".join(defects[:20])
    return counts


@pytest.mark.parametrize("name", SHARE)
def test_a_damaged_file_is_read_or_refused(name: str) -> None:
    """Whatever is raised beside an error for the user fails, and so does a result that cannot be."""
    target = targets()[name]
    counts = tried(
        lambda seed: outcome(target, mutated(seed, target.originals)), max(int(asked("", 700) * SHARE[name]), 20)
    )
    assert counts[REFUSED], "no damage was found: the mutation does nothing"


def test_a_damaged_package_is_read_or_refused() -> None:
    """Files dropped, doubled, swapped, renamed, emptied, or one of them damaged."""
    board = targets()["board"]
    packages = samples.packages()
    counts = tried(lambda seed: outcome(board, packed(mutated_package(seed, packages))), max(asked("", 700) // 20, 20))
    assert len(counts) == 2


def test_no_fault_is_lost_by_damage_that_leaves_it_on_the_board() -> None:
    """The whole check: a finding that is gone is gone because the board, as it was read, is another one about it."""
    counts = tried(oracle.judge, asked("_GATES", 14))
    assert counts["the same faults"] and counts["refused"]


@pytest.mark.parametrize("name", faulty.FAULTS)
def test_each_faulty_board_has_its_fault(name: str) -> None:
    """Or else the test above would look at nothing."""
    number = len(faulty.packages()) - 2 * len(faulty.FAULTS) + 2 * list(faulty.FAULTS).index(name)
    assert faulty.FAULTS[name][0] in {finding["rule"] for finding in oracle.original(number).verdict.findings}


@pytest.mark.parametrize("form", range(len(faulty.FORMS)))
def test_the_sound_board_has_none(form: int) -> None:
    """Likewise."""
    assert oracle.look_at(faulty.FORMS[form](faulty.sound())).verdict.code == oracle.CLEAN


@pytest.mark.parametrize("ending", [".gbr", ".drl", ".ipc", ".xml"])
def test_a_destroyed_statement_is_an_error_or_another_board(ending: str) -> None:
    """Deleted, or one character of it made nonsense, in files of whole packages as the intake tells them apart."""
    files = samples.named(ending)
    tried(lambda seed: destroy_one(seed, files[seed % len(files)]), max(asked("", 700) // 20, 20))
