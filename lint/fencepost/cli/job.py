"""One package to check, as it is handed to whatever process does it, and what comes back. All of it can be pickled.

What an earlier run kept is looked for first, and only where there is nothing are the engine and the rules imported.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import field, replace
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

from fencepost.checking.severity import Severity
from fencepost.checking.stages import Stages
from fencepost.cli.failing import told
from fencepost.cli.order import Order
from fencepost.cli.parcel import Parcel, own_warnings, read_parcel
from fencepost.frozen import dataclass
from fencepost.limits import Deadline
from fencepost.settings.load import shown_path

if TYPE_CHECKING:
    from fencepost.caching.store import Store
    from fencepost.checking.registry import Rules
    from fencepost.report.result import Judgement, Result

NEVER = "never"
LEVELS = {severity.label: severity for severity in sorted(Severity, reverse=True)}

Tell = Callable[[str], None]


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
    return replace(job, parcel=read_parcel(job.path, order.config, order.given))


def check_package(job: Job, tell: Tell | None = None, rules: Rules | None = None) -> Answer:
    """Do the job, with the rules that are installed or with these. What goes wrong is part of the answer.

    Only an interruption is raised.
    """
    stages = Stages(tell)
    try:
        result = _check(job, rules, stages)
    except Exception as error:
        code, lines = told(error)
        return Answer(job.shown, None, code, lines)
    return Answer(job.shown, result, seconds=stages.seconds)


def _check(job: Job, rules: Rules | None, stages: Stages) -> Result:
    start, order = perf_counter(), job.order
    with stages.of("reading"):
        parcel = job.parcel or read_parcel(job.path, order.config, order.given)
    stages.limited(parcel.package.name, Deadline(parcel.loaded.settings.limits))
    judgement = _judgement(parcel, order, stages, rules, _store() if order.cached else None)
    return replace(_result(judgement, parcel, order), elapsed_s=perf_counter() - start)


def _store() -> Store | None:
    from fencepost.caching.store import user_store

    return user_store()


def _judgement(parcel: Parcel, order: Order, stages: Stages, rules: Rules | None, store: Store | None) -> Judgement:
    """An earlier run's, with a store that has one; a drawing would take as much room there as its package."""
    if store is None or rules is not None or order.drawn:
        return _judged(parcel, order, stages, rules, store)
    from fencepost.caching.judgements import judgement_key, keep_judgement, kept_judgement

    with stages.of("cache"):
        key = judgement_key(parcel.package, parcel.loaded, order.only, order.skip)
        judgement = kept_judgement(store, key)
    if judgement is None:
        judgement = _judged(parcel, order, stages, rules, store)
        keep_judgement(store, key, judgement)
    return judgement


def _judged(parcel: Parcel, order: Order, stages: Stages, rules: Rules | None, store: Store | None) -> Judgement:
    from fencepost.cli.reading import begun

    with begun(parcel, store) as reading:
        # This process imports all that is needed to judge while a copy of it reads.
        from fencepost.cli.judging import judged

        return judged(parcel, order, stages, rules, reading)


def _result(judgement: Judgement, parcel: Parcel, order: Order) -> Result:
    """What counts of it today, for this command line."""
    from fencepost.checking.waivers import weigh
    from fencepost.report.result import Result

    settings = parcel.loaded.settings
    weighed = weigh(judgement.findings, settings.waive, order.today, [rule.name for rule in judgement.rules])
    return Result(
        package=parcel.package.name,
        board=judgement.board,
        assumptions=judgement.assumptions,
        findings=weighed.findings,
        unchecked=judgement.unchecked,
        warnings=(*judgement.warnings, *own_warnings(weighed.remarks, parcel.loaded)),
        elapsed_s=0.0,
        rules=judgement.rules,
        waived=weighed.waived,
        fail_level=LEVELS.get(order.fail_on or settings.check.fail_on),
        drawing=judgement.drawing,
    )
