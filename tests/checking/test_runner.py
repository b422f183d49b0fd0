"""Running rules: options, severities, order, and what happens when a rule fails."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Annotated

import pytest
from msgspec import Meta

from fencepost.checking.finding import Figure, Finding, Remark, Severity, Suggestion, Unchecked
from fencepost.checking.options import check_rule_settings
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.checking.runner import run
from fencepost.errors import InputError, RuleCrash, SettingsError
from fencepost.settings.model import NetClass, Settings, Waiver
from fencepost.units import Frequency, Length, Ratio
from handmade import board, place

LINES = list(range(1, 8))
random.Random(1).shuffle(LINES)


class Post(Rule):
    """Yields one finding of each severity, and what its options are."""

    name = "post-rule"
    summary = "finds posts"

    class Options(RuleOptions, frozen=True, kw_only=True):
        distance: Annotated[Length, Meta(description="how far")] = Length(1.5)
        fraction: Ratio = Ratio(8)
        patterns: tuple[str, ...] = ()

    def check(self, board, options, settings):
        yield self.finding(f"{options.distance} {options.fraction} {options.patterns}", place(2))
        yield self.finding("mild", place(3), severity=Severity.NOTE)
        yield self.finding("grave", place(1), severity=Severity.ERROR)


class Many(Rule):
    """Yields findings in no order, and one thing twice that it could not look at."""

    name = "many-rule"
    summary = "finds many"

    def check(self, board, options, settings):
        for line in LINES:
            yield self.finding("x", place(line))
        yield self.unchecked("too dark")
        yield self.unchecked("too dark")


def rules(*kinds):
    return {kind.name: kind for kind in kinds}


def settings(**options):
    return Settings(rules={"post-rule": options})


def test_options_are_read_as_the_rule_types_them():
    outcome = run(board(), rules(Post), settings(distance="80 mil", fraction=20, patterns=["a", "b"]))
    assert outcome.findings[1].message == "2.032 20.0 ('a', 'b')"


@pytest.mark.parametrize(
    ("options", "key", "words"),
    [
        ({"distanze": "1 mm"}, "rules.post-rule.distanze", ['did you mean "distance"']),
        ({"distance": 1}, "rules.post-rule.distance", ["unit"]),
        ({"distance": "1 acre"}, "rules.post-rule.distance", ["acre", "mm"]),
        ({"fraction": 0}, "rules.post-rule.fraction", ["above zero"]),
        ({"patterns": ["a", 1]}, "rules.post-rule.patterns[1]", ["text"]),
        ({"severity": "eror"}, "rules.post-rule.severity", ['did you mean "error"']),
        ({"severity": 3}, "rules.post-rule.severity", ["note", "warning", "error"]),
    ],
)
def test_an_option_that_is_wrong_is_an_error_with_its_path(options, key, words):
    for attempt in (run, lambda board, rules, settings: check_rule_settings(rules, settings)):
        with pytest.raises(SettingsError) as caught:
            attempt(board(), rules(Post), settings(**options))
        assert caught.value.key == key
        assert [word for word in words if word not in caught.value.message] == []


@pytest.mark.parametrize(
    ("wrong", "key"),
    [
        (Settings(rules={"post-rul": {}}), "rules.post-rul"),
        (Settings(rules={"a b": {}}), 'rules."a b"'),
        (Settings(waive=(Waiver(rule="post-rul", reason="x"),)), "waive[0].rule"),
    ],
)
def test_settings_of_a_rule_that_is_not_installed_are_an_error(wrong, key):
    with pytest.raises(SettingsError) as caught:
        check_rule_settings(rules(Post), wrong)
    assert caught.value.key == key
    assert "no rule" in caught.value.message


@pytest.mark.parametrize(
    ("wanted", "grave", "own", "mild"),
    [
        (None, Severity.ERROR, Severity.WARNING, Severity.NOTE),
        ("error", Severity.ERROR, Severity.ERROR, Severity.NOTE),
        ("warning", Severity.WARNING, Severity.WARNING, Severity.NOTE),
        ("note", Severity.NOTE, Severity.NOTE, Severity.NOTE),
    ],
)
def test_a_severity_in_the_settings_moves_the_rule_s_own_and_caps_the_rest(wanted, grave, own, mild):
    options = {} if wanted is None else {"severity": wanted}
    outcome = run(board(), rules(Post), settings(**options))
    assert [finding.severity for finding in outcome.findings] == [grave, own, mild]


def test_findings_come_in_the_order_of_their_places_whatever_the_rules_did():
    outcome = run(board(), rules(Post, Many), Settings())
    assert [finding.place.location.line for finding in outcome.findings] == sorted([*LINES, 1, 2, 3])
    assert outcome.findings == run(board(), rules(Many, Post), Settings()).findings


def test_what_could_not_be_checked_is_said_once():
    assert run(board(), rules(Many), Settings()).unchecked == (Unchecked("many-rule", "too dark"),)


def test_a_net_in_two_classes_is_an_error_whatever_rules_run():
    classes = tuple(NetClass(name=name, nets=("A",), frequency=Frequency(1e9)) for name in ("one", "two"))
    with pytest.raises(SettingsError, match="class"):
        run(board(nets=("GND", "A")), rules(Many), Settings(classes=classes))


def rule_that(check):
    return type("That", (Rule,), {"name": "that-rule", "summary": "x", "check": check})


def raising(error):
    def check(self, board, options, settings):
        yield self.unchecked("so far so good")
        raise error

    return rule_that(check)


@pytest.mark.parametrize("error", [ZeroDivisionError("by zero"), KeyError("k"), RecursionError("deep")])
def test_an_exception_in_a_rule_is_a_crash_that_names_rule_and_place(error):
    with pytest.raises(RuleCrash) as caught:
        run(board(), rules(raising(error)), Settings())
    for word in ("that-rule", type(error).__name__, "test_runner.py:"):
        assert word in str(caught.value)
    assert caught.value.__cause__ is error


@pytest.mark.parametrize("error", [SettingsError("", "a", "b"), InputError("f", 1, 1, "m"), MemoryError()])
def test_an_error_for_the_user_passes_through_a_rule(error):
    with pytest.raises(type(error)):
        run(board(), rules(raising(error)), Settings())


def test_a_rule_that_yields_something_else_is_a_crash():
    with pytest.raises(RuleCrash, match="str"):
        run(board(), rules(rule_that(lambda *_: ["looks bad"])), Settings())


GOOD = Finding("that-rule", Severity.NOTE, "m", place(), suggestion=Suggestion(1.0, 1.0, 0.3, 0.6, ("L1", "L2")))
NAN, INF = float("nan"), float("inf")


@pytest.mark.parametrize(
    "finding",
    [
        replace(GOOD, place=replace(place(), x_mm=NAN)),
        replace(GOOD, measured=Figure("distance", INF, "mm")),
        replace(GOOD, limit=Figure("distance", NAN, "mm")),
        replace(GOOD, remarks=(Remark("r", replace(place(), y_mm=-INF)),)),
        replace(GOOD, suggestion=replace(GOOD.suggestion, pad_mm=NAN)),
    ],
)
def test_a_finding_with_a_number_that_is_none_is_a_crash(finding):
    with pytest.raises(RuleCrash, match="finite"):
        run(board(), rules(rule_that(lambda *_: [finding])), Settings())
    assert run(board(), rules(rule_that(lambda *_: [GOOD])), Settings()).findings == (GOOD,)
