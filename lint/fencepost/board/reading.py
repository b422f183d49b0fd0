"""The Gerber and drill files of a package, each read by itself: by several processes where that pays."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import PurePath
from typing import TypeVar

from fencepost.errors import InputError
from fencepost.intake import FileKind, Package, PackageFile
from fencepost.limits import Deadline
from fencepost.parallel import can_fork
from fencepost.processes import in_processes
from fencepost.readers.artwork import Artwork, DrillHits
from fencepost.readers.drill import read_drill
from fencepost.settings.model import Settings
from fencepost.source import SourceFile

Value = TypeVar("Value")
GerberReader = Callable[[SourceFile], Artwork]
Reading = Artwork | DrillHits | InputError

FEW_BYTES, MANY_BYTES = 300_000, 50_000_000
"""Of all files: below, they are read before a copy of this process has begun; above, what it hands back is in memory
twice."""


def read_files(package: Package, settings: Settings, read: GerberReader) -> tuple[Reading, ...]:
    """What was read of each Gerber and drill file, or why it cannot be, in the order of the package.

    `read` reads a Gerber file. Raises InputError where the time is over.
    """
    deadline = Deadline(settings.limits)

    def reading_of(entry: PackageFile) -> Reading:
        if late := deadline.passed():
            raise InputError(package.name, 0, 0, f"reading {late}")
        try:
            made = read(entry.source) if entry.kind is FileKind.GERBER else _drill(entry.source, settings)
        except InputError as error:
            return error
        return replace(made, source=SourceFile(entry.source.name, b""))  # Its bytes need not come back.

    entries = [entry for entry in package.files if entry.kind in (FileKind.GERBER, FileKind.DRILL)]
    sizes = {entry: len(entry.source.data) for entry in entries}
    entries.sort(key=sizes.__getitem__, reverse=True)
    copied = can_fork() and FEW_BYTES <= sum(sizes.values()) <= MANY_BYTES
    readings = in_processes(reading_of, entries) if copied else tuple(map(reading_of, entries))
    of = dict(zip(entries, readings, strict=True))
    return tuple(_with_source(of[entry], entry.source) for entry in package.files if entry in of)


def _drill(source: SourceFile, settings: Settings) -> DrillHits:
    return read_drill(source, named(settings.drill, source), settings.limits)


def _with_source(reading: Reading, source: SourceFile) -> Reading:
    return reading if isinstance(reading, InputError) else replace(reading, source=source)


def named(table: dict[str, Value], source: SourceFile) -> Value | None:
    """The entry for a file, by its name without folders or by its path's end."""
    path = PurePath(source.name)
    return next((value for name, value in table.items() if path.match(name)), None)
