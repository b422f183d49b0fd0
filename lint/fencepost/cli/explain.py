"""`fencepost explain`: the page of a rule."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import click
import msgspec

from fencepost.checking.registry import RuleType, installed_rules, unknown_rule
from fencepost.cli.completion import rule_names
from fencepost.cli.printing import print_text
from fencepost.errors import UsageError
from fencepost.report.escape import escape
from fencepost.settings.written import written

CAUTION = """\
What fencepost finds is no substitute for measurement, for the fabricator's own check or for radio approval. It does not
check clearances for safety. Local codes and licensed practice come first."""


@click.command()
@click.argument("name", shell_complete=rule_names)
def command(name: str) -> None:
    """Print the page of the rule NAME: what goes wrong, how it is measured, how to fix it, and its settings."""
    rules = installed_rules()
    if name not in rules:
        raise UsageError(unknown_rule(name, rules))
    print_text("".join(f"{escape(line)}\n" for line in page(rules[name])))


def page(rule: RuleType) -> Iterator[str]:
    """The page, line by line."""
    yield f"{rule.name}: {rule.summary}"
    yield ""
    yield from rule.page().splitlines()
    yield ""
    yield f"Severity: {rule.severity.label}, where the settings do not change it."
    yield "Settings, with what holds where nothing is set:"
    yield ""
    yield f"    [rules.{rule.name}]"
    yield from (f"    {line}" for line in _options(rule))
    yield ""
    yield from CAUTION.splitlines()


def _options(rule: RuleType) -> list[str]:
    """A line of settings for each option, its meaning behind it."""
    pairs = []
    for field in msgspec.inspect.type_info(rule.Options).fields:  # type: ignore[attr-defined]
        default = _default(field)
        name = field.encode_name
        said = f"# {name} is not set" if default is None else f"{name} = {written(default)}"
        pairs.append((said, _description(field.type)))
    wide = max(len(said) for said, _ in pairs)
    return [f"{said:<{wide}}  # {meaning}".rstrip(" #") if meaning else said for said, meaning in pairs]


def _default(field: msgspec.inspect.Field) -> Any:
    if field.default_factory is not msgspec.NODEFAULT:
        return field.default_factory()
    return None if field.default is msgspec.NODEFAULT else field.default


def _description(kind: msgspec.inspect.Type) -> str:
    schema = kind.extra_json_schema if isinstance(kind, msgspec.inspect.Metadata) else None
    return str((schema or {}).get("description", ""))
