"""Running rules on a board."""

from __future__ import annotations

import math
import traceback
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial

from fencepost.board.model import Board
from fencepost.checking.copies import copies_pay, is_large
from fencepost.checking.finding import Finding, Severity, Unchecked
from fencepost.checking.options import rule_options
from fencepost.checking.registry import Rules, RuleType
from fencepost.checking.rule import RuleOptions
from fencepost.checking.stages import Stages
from fencepost.errors import FencepostError, RuleCrash
from fencepost.frozen import dataclass
from fencepost.processes import in_processes
from fencepost.settings.model import Settings
from fencepost.settings.patterns import check_classes

Judged = tuple[list[Finding | Unchecked], float]
"""What a rule said, and the seconds that it took."""


@dataclass(frozen=True)
class Outcome:
    """What the rules found, in `Finding.order`, and what they could not look at."""

    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]


def run(
    board: Board,
    rules: Rules,
    settings: Settings,
    stages: Stages | None = None,
    evidence: bool = True,
    spare: Callable[[Finding], Finding] | None = None,
) -> Outcome:
    """Run these rules, each a stage. Raises SettingsError, without the file's name, and RuleCrash.

    Without `evidence` it is dropped from each finding as it comes: on a large board it takes more room than the copper.
    `spare` is done with findings while a process has nothing else to do: with none of them, some or all.
    Raises InputError where `stages` have a time that is over.
    """
    stages = stages or Stages()
    options = rule_options(rules, settings)
    check_classes(settings, (net.name for net in board.nets))  # An error of the settings whichever rules run.

    def judge(name: str) -> Judged:
        with stages.of(name):
            said = list(_said_by(rules[name], board, options[name], settings, stages, evidence))
            if is_large(board):
                board.forget()
        return said, stages.seconds[name]

    if copies_pay(board):
        longest_first = sorted(rules, key=lambda name: not rules[name].long)
        more = partial(_with_more, spare) if spare else None
        judged = dict(zip(longest_first, in_processes(judge, longest_first, more), strict=True))
    else:
        judged = {name: judge(name) for name in rules}
    stages.took({name: judged[name][1] for name in rules})
    said = [item for name in rules for item in judged[name][0]]
    findings = sorted((item for item in said if isinstance(item, Finding)), key=lambda finding: finding.order)
    unchecked = dict.fromkeys(item for item in said if isinstance(item, Unchecked))
    return Outcome(tuple(findings), tuple(unchecked))


def _with_more(spare: Callable[[Finding], Finding], judged: Judged, others_at_work: Callable[[], bool]) -> Judged:
    said, seconds = judged
    return [spare(item) if isinstance(item, Finding) and others_at_work() else item for item in said], seconds


def _said_by(
    rule: RuleType, board: Board, options: RuleOptions, settings: Settings, stages: Stages, evidence: bool
) -> Iterator[Finding | Unchecked]:
    said: list[Finding | Unchecked] = []
    try:
        one = rule()
        one.drawn = evidence
        for item in one.check(board, options, settings):
            stages.ask()
            said.append(item if evidence or not isinstance(item, Finding) else replace(item, evidence=()))
    except (FencepostError, MemoryError):
        raise
    except Exception as error:
        where = traceback.extract_tb(error.__traceback__)[-1]
        reason = f"{type(error).__name__}: {error} ({where.filename}:{where.lineno})"
        raise RuleCrash(f"rule {rule.name} failed: {reason}") from error
    for item in said:
        if isinstance(item, Finding):
            _check_numbers(item)
            yield replace(item, severity=_severity(item.severity, rule.severity, options.severity))
        elif isinstance(item, Unchecked):
            yield item
        else:
            raise RuleCrash(f"rule {rule.name} failed: it yielded {type(item).__name__}, not a finding")


def _severity(found: Severity, own: Severity, wanted: Severity | None) -> Severity:
    """A finding of the rule's own severity gets the wanted one. Milder ones do not rise with it."""
    if wanted is None:
        return found
    return wanted if found >= own else min(found, wanted)


def _check_numbers(finding: Finding) -> None:
    """A report must not print a place or a figure that is no number."""
    places = [finding.place, *(remark.place for remark in finding.remarks)]
    numbers = [number for place in places for number in (place.x_mm, place.y_mm)]
    numbers += [figure.value for figure in (finding.measured, finding.limit) if figure is not None]
    if finding.suggestion is not None:
        one = finding.suggestion
        numbers += [one.x_mm, one.y_mm, one.drill_mm, one.pad_mm]
    numbers += [number for shape in finding.evidence for number in shape.numbers()]
    if not all(math.isfinite(number) for number in numbers):
        raise RuleCrash(f'rule {finding.rule} failed: a number in "{finding.message}" is not finite')
