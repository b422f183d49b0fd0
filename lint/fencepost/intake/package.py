"""A fabrication package: its files and what they are."""

from __future__ import annotations

import re
from collections.abc import Sequence

from fencepost.errors import InputError, InputErrors
from fencepost.frozen import dataclass
from fencepost.intake.classify import FileKind
from fencepost.source import SourceFile

_DATA_NAME = re.compile(r"\.(?:gbr|ger|gbrjob|g[tb]l|gko|gm?\d+|drl|xln|exc|d356)$", re.IGNORECASE)
"""Endings of names that are in use for copper, profile, holes, netlists and job files. Common practice, no source."""


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
    """A package that has something in it.

    Raises InputError for one that has not, and for a file that is named as fabrication data and is of no kind: what is
    left of a layer or of holes must not be taken for a note beside them.
    """
    if not files:
        raise InputError(name, 0, 0, "holds no files")
    if all(file.kind is FileKind.OTHER for file in files):
        raise InputError(name, 0, 0, "holds no fabrication data: no Gerber, drill, netlist or IPC-2581 file")
    strange = [
        InputError(file.source.name, 0, 0, "is named as fabrication data, and is none; export it again or leave it out")
        for file in files
        if file.kind is FileKind.OTHER and _DATA_NAME.search(file.source.name)
    ]
    if strange:
        raise InputErrors(tuple(strange)) if len(strange) > 1 else strange[0]
    return Package(name, tuple(files))
