"""From a path on the command line to a board: what several commands do first."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from fencepost.board.load import load_board
from fencepost.board.model import Board
from fencepost.checking.options import check_rule_settings
from fencepost.checking.registry import Rules
from fencepost.errors import SettingsError
from fencepost.intake import Package, open_package
from fencepost.settings.load import find_settings, load_settings, shown_path
from fencepost.settings.model import Settings
from fencepost.settings.patterns import unmatched_files, unmatched_patterns
from fencepost.signals.recognition import with_classes


@dataclass(frozen=True, eq=False)
class Opened:
    """A package that was read whole. `settings_file` is "" where there is none; `warnings` are about the settings.

    `recognised` are the assumptions that say which classes were taken from names.
    """

    package: Package
    board: Board
    settings: Settings
    settings_file: str
    warnings: tuple[str, ...]
    recognised: tuple[str, ...]


def open_board(path: Path, config: Path | None, rules: Rules) -> Opened:
    """Read settings, then the package. Raises InputError, InputErrors or SettingsError."""
    place = config or find_settings(path)
    file = shown_path(place) if place else ""
    settings = load_settings(place)
    with named_settings(file):
        check_rule_settings(rules, settings)
        package = open_package(path)
        board = load_board(package, settings)
        warnings = unmatched_patterns((net.name for net in board.nets), settings)
        warnings += unmatched_files((entry.source.name for entry in package.files), settings)
    settings, recognised = with_classes(board, settings)
    board = replace(board, assumptions=(*board.assumptions, *recognised))
    if settings.waive:
        warnings.append("waive: waivers are read but do not yet count; what they name is reported")
    return Opened(package, board, settings, file, tuple(f"{file}: {warning}" for warning in warnings), recognised)


@contextmanager
def named_settings(file: str) -> Iterator[None]:
    """Whoever finds settings at fault further in does not know the file they came from: it is added here."""
    try:
        yield
    except SettingsError as error:
        raise (error if error.file else replace(error, file=file)) from error.__cause__
