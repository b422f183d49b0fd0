"""Options of the command line that stand for keys of the settings: `--set rules.fence-pitch.distance="2 mm"`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import click

from fencepost.settings.origins import COMMAND_LINE, Merger


def tables(ctx: click.Context, param: click.Parameter, values: Sequence[str]) -> dict[str, Any]:
    """KEY=VALUE, each value as TOML has it, or plain text without quotes."""
    merger = Merger()
    for value in values:
        key, equals, text = (part.strip() for part in value.partition("="))
        if not key or not equals or not text or "\n" in value or "\r" in value:
            raise click.BadParameter(f'"{value}" must be KEY=VALUE, as in rules.fence-pitch.distance="2 mm"')
        merger.add(_table(key, text), COMMAND_LINE)
    return merger.tables


def _table(key: str, text: str) -> dict[str, Any]:
    import tomllib  # Not needed where no key is given.

    try:
        return tomllib.loads(f"{key} = {text}")
    except ValueError:
        pass
    try:
        return tomllib.loads(f"{key} = {json.dumps(text)}")
    except ValueError:
        raise click.BadParameter(f'"{key}" is not the path of a key, as in rules.fence-pitch.distance') from None
