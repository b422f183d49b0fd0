"""From a path on the command line to a board: what several commands do first."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from fencepost.board.load import load_board
from fencepost.board.model import Board
from fencepost.board.reading import FileReading
from fencepost.checking.options import check_rule_settings
from fencepost.checking.registry import Rules
from fencepost.cli.parcel import Parcel, named_settings, own_warnings, read_parcel
from fencepost.frozen import dataclass
from fencepost.intake import Package
from fencepost.settings.model import Settings
from fencepost.settings.origins import Origins
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
    origins: Origins


def open_board(path: Path, config: Path | None, rules: Rules) -> Opened:
    """Read settings, package and board. Raises InputError, InputErrors, SettingsError or UsageError."""
    return open_parcel(read_parcel(path, config), rules)


def open_parcel(parcel: Parcel, rules: Rules, reading: FileReading | None = None) -> Opened:
    """The board in a package; `reading` is that of its files, where it has begun already.

    Raises InputError, InputErrors or SettingsError: also where the settings do not fit the rules that are installed.
    """
    package, settings, origins = parcel.package, parcel.loaded.settings, parcel.loaded.origins
    file = parcel.loaded.file
    with named_settings(file, origins):
        check_rule_settings(rules, settings)
        board = load_board(package, settings, reading=reading)
        warnings = unmatched_patterns((net.name for net in board.nets), settings)
        warnings += unmatched_files((entry.source.name for entry in package.files), settings)
        settings, recognised = with_classes(board, settings)
    board = replace(board, assumptions=(*board.assumptions, *recognised))
    return Opened(package, board, settings, file, own_warnings(warnings, parcel.loaded), recognised, origins)
