"""`fencepost rules`: what is installed."""

from __future__ import annotations

import click

from fencepost.checking.registry import installed_rules
from fencepost.cli.printing import print_text
from fencepost.report.escape import escape


@click.command()
def command() -> None:
    """List the rules that are installed, each with its severity and what it finds."""
    rules = installed_rules().values()
    wide = max(len(rule.name) for rule in rules)
    listed = (f"{rule.name:<{wide}}  {rule.severity.label:<7}  {rule.summary}" for rule in rules)
    print_text("".join(f"{escape(line)}\n" for line in listed))
