"""`fencepost init`: settings for a board that has none."""

from __future__ import annotations

import tomllib
from pathlib import Path

import click

from fencepost.board.load import load_board
from fencepost.board.model import Board, NetKind
from fencepost.cli.parcel import named_settings
from fencepost.cli.printing import print_text
from fencepost.errors import UsageError
from fencepost.intake import open_package
from fencepost.report.draft import draft
from fencepost.report.escape import escape
from fencepost.report.text import counted
from fencepost.settings.decode import decode
from fencepost.settings.load import FILE_NAME, find_settings, load_settings, shown_path
from fencepost.settings.model import NetSettings, Settings
from fencepost.settings.patterns import matches
from fencepost.signals.recognition import with_classes

PATH = click.Path(path_type=Path)
STDOUT = Path("-")


@click.command()
@click.argument("path", type=PATH)
@click.option("--config", metavar="FILE", type=PATH, help="Settings to start from; else the nearest fencepost.toml.")
@click.option("--output", metavar="FILE", type=PATH, help="Where to write, - for stdout; else beside the package.")
@click.option("--force", is_flag=True, help="Replace the file that is there.")
def command(path: Path, config: Path | None, output: Path | None, force: bool) -> None:
    """Write a fencepost.toml for a package.

    It holds what is recognised by names in common use: ground and power nets, classes of fast nets, radio nets. Every
    guess is marked, and a check finds the same with it as without. Of settings that are there already, [board],
    [[pair]], [layers], [drill] and the points of ground are taken over, and nothing else.
    """
    target = output or beside(path)
    if target != STDOUT and target.exists() and not force:
        raise UsageError(f"{shown_path(target)} is there already; --force replaces it, --output names another file")
    place = config or find_settings(path)
    with named_settings(shown_path(place) if place else ""):
        board, settings = _understood(path, load_settings(place))
        text = draft(board, settings)
    _check(text, board, settings)
    if target == STDOUT:
        print_text(text)
        return
    with target.open("wb" if force else "xb") as stream:
        stream.write(text.encode("utf-8"))
    print_text(f"{escape(shown_path(target))}: {_summary(board, settings)}; check the lines marked as guesses\n")


def beside(package: Path) -> Path:
    """Where the settings of a package belong: in the folder that it lies in, so that a new export leaves them alone.

    In the package itself where that is the working directory: what lies above was not spoken of.
    """
    place = package.resolve()
    return (place if place == Path.cwd().resolve() else place.parent) / FILE_NAME


def _understood(path: Path, given: Settings) -> tuple[Board, Settings]:
    """The board, and the settings it was read with, classes as recognised."""
    kept = Settings(
        board=given.board,
        nets=NetSettings(ground_at=given.nets.ground_at),
        pairs=given.pairs,
        layers=given.layers,
        drill=given.drill,
    )
    board = load_board(open_package(path), kept)
    return board, with_classes(board, kept)[0]


def _check(text: str, board: Board, settings: Settings) -> None:
    """What is written must say what was understood, of every net. Raises UsageError where it does not."""
    drafted = decode(tomllib.loads(text), Settings, "")
    given = {NetKind.GROUND: drafted.nets.ground, NetKind.POWER: drafted.nets.power}
    lists = {kind: patterns for kind, patterns in given.items() if patterns is not None}
    for net in board.nets:
        kinds = [kind for kind, patterns in lists.items() if matches(net.name, patterns)]
        classes = [entry.name for entry in drafted.classes if matches(net.name, entry.nets)]
        meant = [entry.name for entry in settings.classes if net.name in entry.nets]
        if kinds != [kind for kind in lists if net.kind is kind] or classes != meant:
            raise UsageError(f'no pattern tells net "{net.name}" from others; rename it, or write the settings by hand')


def _summary(board: Board, settings: Settings) -> str:
    kinds = [f"{len(board.nets_of(kind))} {kind.value}" for kind in (NetKind.GROUND, NetKind.POWER)]
    nets = sum(len(entry.nets) for entry in settings.classes)
    classes = f"{len(settings.classes)} {'class' if len(settings.classes) == 1 else 'classes'}"
    return f"{' and '.join(kinds)} nets, {classes} with {counted(nets, 'net')}"
