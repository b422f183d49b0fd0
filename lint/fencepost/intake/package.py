"""A fabrication package: its files and what they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fencepost.errors import InputError
from fencepost.intake.classify import FileKind
from fencepost.source import SourceFile


@dataclass(frozen=True)
class PackageFile:
    """A file and its kind. Of a file of kind OTHER only the name is kept; its data is empty."""

    source: SourceFile
    kind: FileKind


@dataclass(frozen=True)
class Package:
    """`name` is what was asked for: a folder, an archive or a file. The files are in the order of their names."""

    name: str
    files: tuple[PackageFile, ...]

    def of_kind(self, kind: FileKind) -> tuple[SourceFile, ...]:
        """The files of one kind."""
        return tuple(file.source for file in self.files if file.kind is kind)


def assembled(name: str, files: Sequence[PackageFile]) -> Package:
    """A package that has something in it. Raises InputError for one that has not."""
    if not files:
        raise InputError(name, 0, 0, "holds no files")
    if all(file.kind is FileKind.OTHER for file in files):
        raise InputError(name, 0, 0, "holds no fabrication data: no Gerber, drill, netlist or IPC-2581 file")
    return Package(name, tuple(files))
