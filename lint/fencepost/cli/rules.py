"""`fencepost rules`: what is installed, how it is set, and what of it can run on a package."""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from textwrap import wrap
from typing import Any

import click

from fencepost.checking.registry import Rules, installed_rules
from fencepost.checking.rule import RuleOptions
from fencepost.cli.failing import say
from fencepost.cli.job import Job, check_package
from fencepost.cli.order import Order
from fencepost.cli.printing import print_text
from fencepost.errors import UsageError
from fencepost.report.escape import escape
from fencepost.report.result import Result
from fencepost.report.text import counted
from fencepost.settings.written import written

PATH = click.Path(path_type=Path)
WIDTH = 110


@click.command()
@click.argument("path", required=False, type=PATH)
@click.option("--config", metavar="FILE", type=PATH, help="Settings; else the nearest fencepost.toml.")
@click.option("--schema", is_flag=True, help="Print the JSON schema of fencepost.toml, for editors.")
def command(path: Path | None, config: Path | None, schema: bool) -> int:
    """List the rules that are installed, each with its severity, what it finds and its settings.

    With a PATH all of them are run on that package, with its settings, and the list says of each what came of it: how
    many findings, or what it could not look at and why.
    """
    rules = installed_rules()
    if schema:
        print_text(_schema(rules))
        return 0
    if path is None:
        if config is not None:
            raise UsageError("--config goes with a PATH")
        print_text(_text(_listed(rules, {name: rule.Options() for name, rule in rules.items()})))
        return 0
    return _on_package(path, config, rules)


def _on_package(path: Path, config: Path | None, rules: Rules) -> int:
    from fencepost.checking.options import rule_options
    from fencepost.settings.load import find_settings, load

    order = Order(datetime.date.today(), config, tuple(rules), fail_on="never")
    answer = check_package(Job(path, order), rules=rules)
    for line in answer.lines:
        say(line)
    if answer.result is None:
        return answer.code
    options = rule_options(rules, load(config or find_settings(path)).settings)
    print_text(_text(_listed(rules, options, answer.result)))
    return 0


def _listed(rules: Rules, options: Mapping[str, RuleOptions], result: Result | None = None) -> Iterator[str]:
    wide = max(len(name) for name in rules)
    indent = " " * (wide + 2)
    for name, rule in rules.items():
        severity = options[name].severity or rule.severity
        yield f"{name:<{wide}}  {severity.label:<7}  {rule.summary}"
        yield from _folded(indent, "set: ", _settings(options[name]))
        if result is not None:
            yield from _came(indent, result, name)


def _folded(indent: str, head: str, said: str) -> list[str]:
    first, rest = indent + head, indent + " " * len(head)
    return wrap(said, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False) if said else []


def _settings(options: RuleOptions) -> str:
    """Those of the rule itself; the severity stands in its column."""
    values: dict[str, Any] = {name: getattr(options, name) for name in options.__struct_fields__ if name != "severity"}
    return ", ".join(f"{name} {'not set' if value is None else written(value)}" for name, value in values.items())


def _came(indent: str, result: Result, name: str) -> Iterator[str]:
    found = sum(finding.rule == name for finding in result.findings)
    waived = sum(one.finding.rule == name for one in result.waived)
    said = counted(found, "finding") + (f", {waived} waived" if waived else "")
    reasons = [one.reason for one in result.unchecked if one.rule == name]
    yield f"{indent}ran: {said}{'' if reasons else ', nothing left out'}"
    for reason in reasons:
        yield from _folded(indent, "not checked: ", reason)


def _schema(rules: Rules) -> str:
    from fencepost.settings.schema import settings_schema

    schema = settings_schema({name: (rule.summary, rule.Options) for name, rule in rules.items()})
    return json.dumps(schema, indent=2, ensure_ascii=True) + "\n"


def _text(lines: Iterator[str]) -> str:
    return "".join(f"{escape(line)}\n" for line in lines)
