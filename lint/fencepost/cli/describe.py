"""`fencepost describe`: what was read from a package."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from fencepost.checking.registry import installed_rules
from fencepost.cli.opening import Opened, open_board
from fencepost.cli.printing import print_text
from fencepost.report.description import Row, description

PATH = click.Path(path_type=Path)


@click.command()
@click.argument("path", type=PATH)
@click.option("--config", metavar="FILE", type=PATH, help="Settings; else the nearest fencepost.toml.")
def command(path: Path, config: Path | None) -> None:
    """Show what was read from a package, and how it was understood: files, layers, nets, holes, components."""
    opened = open_board(path, config, installed_rules())
    print_text(description(opened.board, _files(opened), opened.settings_file))


def _files(opened: Opened) -> Iterator[Row]:
    taken_for = {**opened.board.files, opened.settings_file: "settings"}
    for entry in opened.package.files:
        name = entry.source.name
        yield name, entry.kind.value, taken_for.get(name, "not used")
