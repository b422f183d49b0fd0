"""What the shell is offered for names of rules and formats. The scripts for bash, zsh and fish are click's own."""

from __future__ import annotations

import click
from click.shell_completion import CompletionItem

from fencepost.report import FOLDERS, FORMATS


def rule_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Names of rules, the last of several where commas stand between them. Nothing where a rule pack is broken."""
    from fencepost.checking.registry import RulePackError, installed_rules

    before, comma, last = incomplete.rpartition(",")
    taken = set(before.split(","))
    try:
        rules = installed_rules()
    except RulePackError:
        return []
    return [
        CompletionItem(f"{before}{comma}{name}", help=rule.summary)
        for name, rule in rules.items()
        if name.startswith(last) and name not in taken
    ]


def outputs(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """FORMAT=; the name of the file is left to whoever writes it."""
    return [CompletionItem(f"{name}=") for name in (*FORMATS, *FOLDERS) if name.startswith(incomplete)]
