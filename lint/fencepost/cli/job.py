"""One package to check, as it is handed to whatever process does it, and what comes back. All of it can be pickled."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from time import perf_counter
from typing import Any

from fencepost.checking.finding import Severity
from fencepost.checking.mending import with_suggestions
from fencepost.checking.options import rule_options
from fencepost.checking.registry import Rules, chosen, installed_rules
from fencepost.checking.rule import RuleOptions
from fencepost.checking.runner import Outcome, run
from fencepost.checking.stages import Stages
from fencepost.checking.waivers import weigh
from fencepost.cli.failing import told
from fencepost.cli.opening import Opened, Parcel, named_settings, open_parcel, own_warnings, read_parcel
from fencepost.report.result import Result, RuleInfo, summary_of
from fencepost.settings.load import Loaded, shown_path
from fencepost.signals.pairs import pairs_of, said_of_pairs

NEVER = "never"
LEVELS = {severity.label: severity for severity in sorted(Severity, reverse=True)}

Tell = Callable[[str], None]


@dataclass(frozen=True)
class Order:
    """What the command line says for all packages. `fail_on` is None where the settings decide.

    `drawn`: a report will draw the board, so that the result must hold its drawing.
    """

    today: datetime.date
    config: Path | None = None
    only: tuple[str, ...] = ()
    skip: tuple[str, ...] = ()
    fail_on: str | None = None
    given: Mapping[str, Any] = field(default_factory=dict)
    drawn: bool = False


@dataclass(frozen=True)
class Job:
    """A package to check. `parcel` holds it where it was read already, for a process that cannot read it itself."""

    path: Path
    order: Order
    parcel: Parcel | None = None

    @property
    def shown(self) -> str:
        """The package's name for the user."""
        return Path(shown_path(self.path)).as_posix()


@dataclass(frozen=True)
class Answer:
    """A result, or an exit code with lines that say why there is none. `seconds` says how long each stage took."""

    package: str
    result: Result | None
    code: int = 0
    lines: tuple[str, ...] = ()
    seconds: Mapping[str, float] = field(default_factory=dict)


def packed(job: Job) -> Job:
    """The job with its package in it. Raises InputError, InputErrors, SettingsError or UsageError."""
    order = job.order
    return replace(job, parcel=read_parcel(job.path, order.config, installed_rules(), order.given))


def check_package(job: Job, tell: Tell | None = None, rules: Rules | None = None) -> Answer:
    """Do the job. What goes wrong is part of the answer; only an interruption is raised."""
    stages = Stages(tell)
    try:
        result = _check(job, installed_rules() if rules is None else rules, stages)
    except Exception as error:
        code, lines = told(error)
        return Answer(job.shown, None, code, lines)
    return Answer(job.shown, result, seconds=stages.seconds)


def _check(job: Job, rules: Rules, stages: Stages) -> Result:
    start, order = perf_counter(), job.order
    with stages.of("reading"):
        parcel = job.parcel or read_parcel(job.path, order.config, rules, order.given)
    with stages.of("assembling"):
        opened = open_parcel(parcel)
    wanted = opened.settings.check
    selected = chosen(rules, order.only or wanted.rules, (*order.skip, *(() if order.only else wanted.skip)))
    with named_settings(opened.settings_file, opened.origins):
        outcome = run(opened.board, selected, opened.settings, stages)
        with stages.of("suggesting"):
            outcome = with_suggestions(opened.board, outcome, opened.settings)
        options = rule_options(selected, opened.settings)
    level = LEVELS.get(order.fail_on or wanted.fail_on)
    result = _result(opened, parcel.loaded, outcome, selected, order.today)
    infos = tuple(_info(selected, options, name, stages.seconds[name]) for name in selected)
    if order.drawn:
        from fencepost.report.page.drawing import drawing_of

        with stages.of("drawing"):
            result = replace(result, drawing=drawing_of(opened.board))
    return replace(result, rules=infos, fail_level=level, elapsed_s=perf_counter() - start)


def _result(opened: Opened, loaded: Loaded, outcome: Outcome, selected: Rules, today: datetime.date) -> Result:
    """Without what is known of the rules."""
    weighed = weigh(outcome.findings, opened.settings.waive, today, selected)
    return Result(
        package=opened.board.package,
        board=summary_of(opened.board),
        assumptions=(*opened.board.assumptions, *said_of_pairs(pairs_of(opened.board, opened.settings))),
        findings=weighed.findings,
        unchecked=outcome.unchecked,
        warnings=(*opened.warnings, *own_warnings(weighed.remarks, loaded)),
        elapsed_s=0.0,
        waived=weighed.waived,
    )


def _info(rules: Rules, options: Mapping[str, RuleOptions], name: str, seconds: float) -> RuleInfo:
    rule = rules[name]
    return RuleInfo(name, rule.summary, rule.page(), options[name].severity or rule.severity, seconds)
