"""From a path on the command line to a board: what several commands do first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fencepost.board.load import load_board
from fencepost.board.model import Board
from fencepost.checking.options import check_rule_settings
from fencepost.checking.registry import Rules
from fencepost.errors import SettingsError
from fencepost.intake import Package, open_package
from fencepost.settings.load import Loaded, find_settings, load
from fencepost.settings.model import Settings
from fencepost.settings.origins import COMMAND_LINE, Origins
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


@dataclass(frozen=True, eq=False)
class Parcel:
    """A package that lies in memory, and its settings: all that a board is made from, wherever that is done."""

    package: Package
    loaded: Loaded


def read_parcel(path: Path, config: Path | None, rules: Rules, given: Mapping[str, Any] | None = None) -> Parcel:
    """Read settings, then the package. Raises InputError, InputErrors, SettingsError or UsageError."""
    loaded = load(config or find_settings(path), given)
    with named_settings(loaded.file, loaded.origins):
        check_rule_settings(rules, loaded.settings)
        return Parcel(open_package(path), loaded)


def open_board(path: Path, config: Path | None, rules: Rules) -> Opened:
    """Read settings, package and board. Raises InputError, InputErrors, SettingsError or UsageError."""
    return open_parcel(read_parcel(path, config, rules))


def open_parcel(parcel: Parcel) -> Opened:
    """The board in a package. Raises InputError, InputErrors or SettingsError."""
    package, settings, origins = parcel.package, parcel.loaded.settings, parcel.loaded.origins
    file = parcel.loaded.file
    with named_settings(file, origins):
        board = load_board(package, settings)
        warnings = unmatched_patterns((net.name for net in board.nets), settings)
        warnings += unmatched_files((entry.source.name for entry in package.files), settings)
        settings, recognised = with_classes(board, settings)
    board = replace(board, assumptions=(*board.assumptions, *recognised))
    return Opened(package, board, settings, file, own_warnings(warnings, parcel.loaded), recognised, origins)


def own_warnings(warnings: Iterable[str], loaded: Loaded) -> tuple[str, ...]:
    """Those about the nearest file and the command line, with its name: an extended one is made for many boards."""
    said = map(loaded.origins.said, warnings)
    return tuple(f"{file}: {own}" for file, own in said if file in (loaded.file, COMMAND_LINE))


@contextmanager
def named_settings(file: str, origins: Origins | None = None) -> Iterator[None]:
    """Whoever finds settings at fault further in does not know the file they came from: it is added here."""
    try:
        yield
    except SettingsError as error:
        if error.file:
            raise
        place, key = (origins.of(error.key) if origins else None) or (file, error.key)
        raise replace(error, file=place, key=key) from error.__cause__
