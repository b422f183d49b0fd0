"""A package and its settings, read but not yet understood. Light: nothing here needs arrays or shapes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from fencepost.errors import SettingsError
from fencepost.frozen import dataclass
from fencepost.intake import Package, open_package
from fencepost.settings.load import Loaded, find_settings, load
from fencepost.settings.origins import COMMAND_LINE, Origins


@dataclass(frozen=True, eq=False)
class Parcel:
    """A package that lies in memory, and its settings: all that a board is made from, wherever that is done."""

    package: Package
    loaded: Loaded


def read_parcel(path: Path, config: Path | None, given: Mapping[str, Any] | None = None) -> Parcel:
    """Read settings, then the package. Raises InputError, InputErrors, SettingsError or UsageError."""
    loaded = load(config or find_settings(path), given)
    return Parcel(open_package(path, loaded.settings.limits), loaded)


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
