"""From a path on the command line to a board: what several commands do first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from fencepost.board.load import load_board
from fencepost.board.model import Board
from fencepost.caching.artworks import kept_reader
from fencepost.caching.store import Store
from fencepost.checking.options import check_rule_settings
from fencepost.checking.registry import Rules
from fencepost.cli.parcel import Parcel, named_settings, own_warnings, read_parcel
from fencepost.intake import Package
from fencepost.readers.gerber import read_gerber
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


def open_parcel(parcel: Parcel, rules: Rules, store: Store | None = None) -> Opened:
    """The board in a package; with a store, layers that were read before are taken from there.

    Raises InputError, InputErrors or SettingsError: also where the settings do not fit the rules that are installed.
    """
    package, settings, origins = parcel.package, parcel.loaded.settings, parcel.loaded.origins
    file = parcel.loaded.file
    read = partial(read_gerber, limits=settings.limits)
    with named_settings(file, origins):
        check_rule_settings(rules, settings)
        board = load_board(package, settings, read=kept_reader(store, read, settings.limits) if store else read)
        warnings = unmatched_patterns((net.name for net in board.nets), settings)
        warnings += unmatched_files((entry.source.name for entry in package.files), settings)
        settings, recognised = with_classes(board, settings)
    board = replace(board, assumptions=(*board.assumptions, *recognised))
    return Opened(package, board, settings, file, own_warnings(warnings, parcel.loaded), recognised, origins)
