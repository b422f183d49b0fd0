"""The whole check of a package that nobody has checked before: reading, rules, suggestions."""

from __future__ import annotations

from fencepost.board.reading import FileReading
from fencepost.checking.mending import seeker_of, with_suggestions
from fencepost.checking.options import rule_options
from fencepost.checking.registry import Rules, chosen, installed_rules
from fencepost.checking.rule import RuleOptions
from fencepost.checking.runner import run
from fencepost.checking.stages import Stages
from fencepost.cli.opening import open_parcel
from fencepost.cli.order import Order
from fencepost.cli.parcel import Parcel, named_settings
from fencepost.report.result import Judgement, RuleInfo, summary_of
from fencepost.signals.pairs import pairs_of, said_of_pairs


def judged(parcel: Parcel, order: Order, stages: Stages, rules: Rules | None, reading: FileReading) -> Judgement:
    """What the rules say, those that are installed where none are given; `reading` is that of the parcel's files.

    Raises InputError, InputErrors, SettingsError, UsageError, RulePackError or RuleCrash.
    """
    rules = installed_rules() if rules is None else rules
    wanted = parcel.loaded.settings.check
    chosen(rules, order.only, order.skip)
    with stages.of("assembling"):
        opened = open_parcel(parcel, rules, reading)
    board, settings = opened.board, opened.settings
    selected = chosen(rules, order.only or wanted.rules, (*order.skip, *(() if order.only else wanted.skip)))
    with named_settings(opened.settings_file, opened.origins):
        seeker = seeker_of(board, settings)
        outcome = run(board, selected, settings, stages, evidence=order.drawn, spare=seeker)
        with stages.of("suggesting"):
            outcome = with_suggestions(board, outcome, seeker)
        options = rule_options(selected, settings)
    drawing = None
    if order.drawn:
        from fencepost.report.page.drawing import drawing_of

        with stages.of("drawing"):
            drawing = drawing_of(board)
    return Judgement(
        board=summary_of(board),
        assumptions=(*board.assumptions, *said_of_pairs(pairs_of(board, settings))),
        findings=outcome.findings,
        unchecked=outcome.unchecked,
        warnings=opened.warnings,
        rules=tuple(_info(selected, options[name], name, stages.seconds[name]) for name in selected),
        drawing=drawing,
    )


def _info(rules: Rules, options: RuleOptions, name: str, seconds: float) -> RuleInfo:
    rule = rules[name]
    return RuleInfo(name, rule.summary, rule.page(), options.severity or rule.severity, seconds)
