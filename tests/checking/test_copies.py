"""A check that several processes do says what one process says, and how long each stage took."""

from __future__ import annotations

import datetime
import os
from dataclasses import replace
from pathlib import Path

import pytest

from fencepost import processes
from fencepost.checking import copies
from fencepost.checking.rule import Rule
from fencepost.checking.runner import run
from fencepost.checking.stages import Stages
from fencepost.cli.job import Job, check_package
from fencepost.cli.order import Order
from fencepost.errors import RuleCrash
from fencepost.report.result import Result
from fencepost.settings.model import Settings
from handmade import board, place

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are not copied on this system")

DEMO = Path(__file__).parents[2] / "fixtures" / "tide-gauge" / "fab"


@pytest.fixture
def copied(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (processes, copies):
        monkeypatch.setattr(module, "can_fork", lambda: True)
    monkeypatch.setattr(processes, "cpu_count", lambda: 3)
    monkeypatch.setattr(copies, "FEW_PARTS", 0)


@pytest.mark.parametrize("drawn", (False, True))
def test_the_findings_are_those_of_one_process(drawn: bool, request: pytest.FixtureRequest) -> None:
    order = Order(datetime.date(2026, 1, 1), drawn=drawn)
    alone = check_package(Job(DEMO, order))
    request.getfixturevalue("copied")
    together = check_package(Job(DEMO, order))
    assert list(together.seconds) == list(alone.seconds)
    assert alone.result is not None and alone.result.findings
    assert _timeless(together.result) == _timeless(alone.result)


def test_rules_that_share_nothing_find_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """As on a board so large that each lets go of what it computed."""
    order = Order(datetime.date(2026, 1, 1))
    sharing = check_package(Job(DEMO, order))
    monkeypatch.setattr(copies, "MANY_PARTS", 0)
    forgetting = check_package(Job(DEMO, order))
    assert forgetting.result is not None and forgetting.result.findings
    assert _timeless(forgetting.result) == _timeless(sharing.result)


def _timeless(result: Result | None) -> Result | None:
    return result and replace(
        result, drawing=None, elapsed_s=0.0, rules=tuple(replace(rule, seconds=0.0) for rule in result.rules)
    )


class Each(Rule):
    """Says in which process it ran."""

    name = "each"
    summary = "says where it runs"

    def check(self, board, options, settings):
        yield self.finding(str(os.getpid()), place(1))


class Crashing(Each):
    """Fails."""

    name = "crashing"

    def check(self, board, options, settings):
        raise ZeroDivisionError("by no hole")


def test_a_crash_is_told_as_such(copied: None) -> None:
    with pytest.raises(RuleCrash, match="rule crashing failed: ZeroDivisionError: by no hole"):
        run(board(), {"crashing": Crashing, "each": Each}, Settings())


def test_only_the_first_process_tells_what_it_does(copied: None) -> None:
    """A line that is drawn by two is not legible; and whoever draws it may hold a lock that a copy would wait for."""
    told: list[tuple[str, int]] = []
    stages = Stages(lambda name: told.append((name, os.getpid())))
    kinds = {f"each-{i}": Each for i in range(6)}
    run(board(), kinds, Settings(), stages)
    assert {process for _, process in told} <= {os.getpid()}
    assert list(stages.seconds) == list(kinds)


class Long(Each):
    """Says in which process it ran."""

    name = "long"
    long = True


def test_a_long_rule_is_begun_first_and_by_a_copy(copied: None) -> None:
    stages = Stages()
    rules = {"each-1": Each, "each-2": Each, "each-3": Each, "long": Long}
    outcome = run(board(), rules, Settings(), stages)
    (ran,) = [finding.message for finding in outcome.findings if finding.rule == "long"]
    assert ran != str(os.getpid())
    assert list(stages.seconds) == list(rules)


def test_rules_know_when_copies_pay(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(copies, "can_fork", lambda: True)
    assert not copies.copies_pay(board())
    monkeypatch.setattr(copies, "FEW_PARTS", 0)
    assert copies.copies_pay(board())
    monkeypatch.setattr(copies, "MANY_PARTS", -1)
    assert not copies.copies_pay(board())
