"""`fencepost describe`: what was read from a package."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from fencepost.checking.options import rule_options
from fencepost.checking.registry import Rules, installed_rules
from fencepost.cli.opening import Opened, open_board
from fencepost.cli.parcel import named_settings
from fencepost.cli.printing import print_text, write_file
from fencepost.report import description, description_json
from fencepost.report.survey import File, survey_of
from fencepost.settings.model import Settings
from fencepost.signals.kinds import Reach

PATH = click.Path(path_type=Path)

TRANSITION_RULE = "transition-return"
"""Where the settings say how far a tie may be."""


@click.command()
@click.argument("path", type=PATH)
@click.option("--config", metavar="FILE", type=PATH, help="Settings; else the nearest fencepost.toml.")
@click.option("--verbose", is_flag=True, help="Print all names, however many there are.")
@click.option("--format", "kind", type=click.Choice(["text", "json"]), default="text", show_default=True)
@click.option("--html", metavar="FILE", type=PATH, help="Write a page with a picture of the board as well.")
def command(path: Path, config: Path | None, verbose: bool, kind: str, html: Path | None) -> None:
    """Show what was read from a package, and how it was understood.

    Files, layers, nets, classes, pairs, the copper that traces run over, transitions, holes, components, assumptions.
    JSON holds all names, one object on a line.
    """
    rules = installed_rules()
    opened = open_board(path, config, rules)
    with named_settings(opened.settings_file):
        survey = survey_of(
            opened.board,
            opened.settings,
            _reach(rules, opened.settings),
            files=_files(opened),
            settings_file=opened.settings_file,
            recognised=opened.recognised,
            warnings=opened.warnings,
        )
    if html is not None:
        from fencepost.report.page import inventory
        from fencepost.report.page.drawing import drawing_of

        write_file(html, inventory(survey, drawing_of(opened.board)))
    print_text(description_json.render(survey) if kind == "json" else description.render(survey, verbose))


def _files(opened: Opened) -> Iterator[File]:
    taken_for = {**opened.board.files, opened.settings_file: "settings"}
    for entry in opened.package.files:
        name = entry.source.name
        yield File(name, entry.kind.value, taken_for.get(name, "not used"))


def _reach(rules: Rules, settings: Settings) -> Reach:
    """How far the rule looks, as the settings have it; the defaults where it is not installed."""
    if TRANSITION_RULE not in rules:
        return Reach()
    options = rule_options({TRANSITION_RULE: rules[TRANSITION_RULE]}, settings)[TRANSITION_RULE]
    given = {name: float(getattr(options, name, default)) for name, default in vars(Reach()).items()}
    return Reach(**given)
