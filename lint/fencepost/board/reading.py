"""The Gerber and drill files of a package, each read by itself: by several processes where that pays."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import PurePath
from typing import Self, TypeVar

from fencepost.errors import InputError
from fencepost.intake import FileKind, Package, PackageFile
from fencepost.limits import Deadline
from fencepost.processes import Work
from fencepost.readers.artwork import Artwork, DrillHits
from fencepost.readers.gerber import read_gerber
from fencepost.settings.model import Settings
from fencepost.source import SourceFile

Reading = Artwork | DrillHits | InputError
Value = TypeVar("Value")
GerberReader = Callable[[SourceFile], Artwork]

FEW_BYTES, MANY_BYTES = 300_000, 50_000_000
"""Of all files: below, they are read before a copy of this process has begun; above, what it hands back is in memory
twice."""


class FileReading:
    """The Gerber and drill files of a package on their way: copies of this process begin at once where that pays.

    As a context it leaves none of them running behind.
    """

    def __init__(self, package: Package, settings: Settings, read: GerberReader | None = None) -> None:
        """`read` reads a Gerber file in the place of the reader itself: one that keeps what it has read, say."""
        read = read or partial(read_gerber, limits=settings.limits)
        entries = [entry for entry in package.files if entry.kind in (FileKind.GERBER, FileKind.DRILL)]
        sizes = {entry: len(entry.source.data) for entry in entries}
        self._entries = entries
        self._largest_first = sorted(entries, key=sizes.__getitem__, reverse=True)
        self._work = Work(
            partial(_reading_of, package.name, settings, read, Deadline(settings.limits)),
            self._largest_first,
            copied=FEW_BYTES <= sum(sizes.values()) <= MANY_BYTES,
        )

    def finished(self) -> tuple[Reading, ...]:
        """What was read of each file, or why it cannot be, in the order of the package.

        Raises InputError where the time is over.
        """
        of = dict(zip(self._largest_first, self._work.finished(), strict=True))
        return tuple(_with_source(of[entry], entry.source) for entry in self._entries)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *ended: object) -> None:
        self._work.__exit__(*ended)


def _reading_of(
    package: str, settings: Settings, read: GerberReader, deadline: Deadline, entry: PackageFile
) -> Reading:
    if late := deadline.passed():
        raise InputError(package, 0, 0, f"reading {late}")
    try:
        made = read(entry.source) if entry.kind is FileKind.GERBER else _drill(entry.source, settings)
    except InputError as error:
        return error
    return replace(made, source=SourceFile(entry.source.name, b""))  # Its bytes need not come back.


def _drill(source: SourceFile, settings: Settings) -> DrillHits:
    # The largest files are read first, and are not drill files: its reader is imported meanwhile.
    from fencepost.readers.drill.excellon import read_drill

    return read_drill(source, named(settings.drill, source), settings.limits)


def _with_source(reading: Reading, source: SourceFile) -> Reading:
    return reading if isinstance(reading, InputError) else replace(reading, source=source)


def named(table: dict[str, Value], source: SourceFile) -> Value | None:
    """The entry for a file, by its name without folders or by its path's end."""
    path = PurePath(source.name)
    return next((value for name, value in table.items() if path.match(name)), None)
