"""Where fencepost.toml is found, and how it is read, with the files that it extends."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path, PurePath
from typing import Any

from fencepost.errors import SettingsError
from fencepost.frozen import dataclass
from fencepost.settings.decode import decode
from fencepost.settings.model import NetClass, Settings, Waiver
from fencepost.settings.origins import COMMAND_LINE, Merger, Origins
from fencepost.settings.written import key_part

FILE_NAME = "fencepost.toml"
LARGEST_BYTES = 1_000_000
"""No settings that a person writes come near this size."""

LONGEST_CHAIN = 10

_POSITION = re.compile(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", re.DOTALL)


def find_settings(package: Path) -> Path | None:
    """The nearest fencepost.toml: in the package's folder, beside its file, or in a folder above."""
    place = package.resolve()
    start = place if place.is_dir() else place.parent
    return next((found for folder in (start, *start.parents) if (found := folder / FILE_NAME).is_file()), None)


@dataclass(frozen=True)
class Loaded:
    """Settings as they hold, and the tables that they were read from. `file` is the nearest, "" where there is none."""

    settings: Settings
    file: str
    origins: Origins
    tables: Mapping[str, Any]


def load_settings(path: Path | None) -> Settings:
    """The settings that a file and those that it extends make; see `load`."""
    return load(path).settings


def load(path: Path | None, given: Mapping[str, Any] | None = None) -> Loaded:
    """Read a settings file; None gives what holds without one. Raises SettingsError.

    `given` are tables from the command line, which go over the file's, as these go over those that it extends. Names
    and options of rules are left as they stand: `checking.options` reads them.
    """
    layers = list(reversed(_chain(path))) if path is not None else []
    if given:
        _read(given, COMMAND_LINE)
        layers.append((dict(given), COMMAND_LINE))
    merger = Merger()
    for tables, file in layers:
        merger.add(tables, file)
    merger.tables.pop("extends", None)
    origins = Origins(merger.places)
    settings = decode(merger.tables, Settings, "")
    return Loaded(settings, shown_path(path) if path else "", origins, merger.tables)


def _chain(path: Path) -> list[tuple[dict[str, Any], str]]:
    """The tables of a file and of those that it extends, each checked by itself; the nearest first."""
    layers: list[tuple[dict[str, Any], str]] = []
    seen: dict[Path, str] = {}
    asked = ""
    while True:
        file = shown_path(path)
        place = path.resolve()
        if place in seen:
            circle = " -> ".join([*list(seen.values())[list(seen).index(place) :], file])
            raise SettingsError(asked, "extends", f"goes in a circle: {circle}")
        if len(seen) == LONGEST_CHAIN:
            raise SettingsError(asked, "extends", f"more than {LONGEST_CHAIN} files extend one another")
        if asked and not path.is_file():
            raise SettingsError(asked, "extends", f"there is no file {file}")
        seen[place] = file
        tables = _tables(path, file)
        settings = _read(tables, file)
        layers.append((tables, file))
        if settings.extends is None:
            return layers
        if not settings.extends.strip() or "\0" in settings.extends:
            raise SettingsError(file, "extends", "names no file")
        path, asked = path.parent / settings.extends, file


def _read(tables: Mapping[str, Any], file: str) -> Settings:
    """The settings of one file by itself, so that what is wrong is said with the file it stands in."""
    settings = decode(tables, Settings, file)
    _check_classes(settings.classes, file)
    _check_waivers(settings.waive, file)
    for table, entries in (("layers", settings.layers), ("drill", settings.drill)):
        for name in entries:
            if not PurePath(name).name:
                raise SettingsError(file, f"{table}.{key_part(name)}", "is not the name of a file")
    return settings


def shown_path(path: Path) -> str:
    """Relative to the working directory, so that a terminal can open it, where that is the shorter way to say it."""
    try:
        return min(os.path.relpath(path), str(path), key=len)
    except ValueError:
        return str(path)


def _tables(path: Path, file: str) -> dict[str, Any]:
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise SettingsError(file, "", f"cannot be read: {error.strerror or error}") from None
    if len(data) > LARGEST_BYTES:
        raise SettingsError(file, "", f"is larger than {LARGEST_BYTES} bytes")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise SettingsError(f"{file}:{line}:1", "", "is not UTF-8 text") from None
    import tomllib  # Not needed where there is no file.

    try:
        return tomllib.loads(text)
    except RecursionError:
        raise SettingsError(file, "", "is nested too deep") from None
    except ValueError as error:
        raise _syntax_error(file, text, str(error)) from None


def _syntax_error(file: str, text: str, said: str) -> SettingsError:
    match = _POSITION.fullmatch(said)
    if match is None:
        return SettingsError(file, "", said)
    lines = text.split("\n")
    reason, line, column = match.groups()
    place = f"{line}:{column}" if line else f"{len(lines)}:{len(lines[-1]) + 1}"
    return SettingsError(f"{file}:{place}", "", reason)


def _check_classes(classes: tuple[NetClass, ...], file: str) -> None:
    """What a class must say beyond its types."""
    first: dict[str, int] = {}
    for i, entry in enumerate(classes):
        key = f"class[{i}]"
        if entry.name in first:
            raise SettingsError(file, f"{key}.name", f'class[{first[entry.name]}] is called "{entry.name}" already')
        first[entry.name] = i
        if not entry.nets:
            raise SettingsError(file, f"{key}.nets", f'class "{entry.name}" names no nets')
        if entry.highest_frequency is None:
            message = f'class "{entry.name}" needs a frequency = "868 MHz" or a rise_time = "1 ns"'
            raise SettingsError(file, key, message)
        if entry.frequency is not None and entry.rise_time is not None:
            message = f'class "{entry.name}" has a frequency and a rise_time; keep the one that counts'
            raise SettingsError(file, key, message)


def _check_waivers(waivers: tuple[Waiver, ...], file: str) -> None:
    """What a waiver must say beyond its types."""
    for i, waiver in enumerate(waivers):
        if not waiver.reason.strip():
            raise SettingsError(file, f"waive[{i}].reason", "must say why these findings are accepted")
        if (waiver.at is None) != (waiver.radius is None):
            message = 'at and radius go together: at = "31.2 mm, 18.45 mm", radius = "1 mm"'
            raise SettingsError(file, f"waive[{i}]", message)
