"""From changed files, as a commit hook has them, to the packages that they belong to.

What a file is, is told by its content. Nothing above the working directory is looked at.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from fencepost.frozen import dataclass
from fencepost.intake.classify import HEAD_BYTES, SIGNATURES, FileKind, classify
from fencepost.settings.load import FILE_NAME, shown_path

MOST_FILES = 2_000
"""Files of a folder that are looked at; a package holds no more (intake/limits.py)."""

DEPTH = 4
"""Folders one inside another, likewise."""

_DRILLS = re.compile(rb"FileFunction,(?:Non)?Plated")


@dataclass(frozen=True)
class Grouped:
    """Packages in the order of their names, and a note for each file that belongs to none."""

    packages: tuple[Path, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Holds:
    """What a folder's files are made for."""

    artwork: bool = False
    drills: bool = False

    @property
    def whole(self) -> bool:
        return self.artwork and self.drills

    def __or__(self, other: Holds) -> Holds:
        return Holds(self.artwork or other.artwork, self.drills or other.drills)


def packages_of(changed: Sequence[Path], top: Path) -> Grouped:
    """Group files by package.

    An archive and an IPC-2581 file are packages by themselves. Another file belongs to the lowest folder about it that
    holds artwork and drills, in its subfolders as well; where no folder does, to its own if that holds any of them. A
    file that was deleted belongs to what is left of its folder, and settings to all packages below them. Folders are
    taken as packages.
    """
    packages: set[Path] = set()
    notes = []
    for path in changed:
        found = list(_packages_of(path, top.resolve()))
        packages.update(found)
        if not found:
            notes.append(f"{shown_path(path)}: note: belongs to no fabrication package; ignored")
    outer = [one for one in packages if not any(other in packages for other in one.parents)]
    return Grouped(tuple(sorted(Path(shown_path(one)) for one in outer)), tuple(notes))


def _packages_of(path: Path, top: Path) -> Iterator[Path]:
    place = path.resolve()
    if place.is_dir():
        yield place
    elif path.name == FILE_NAME:
        yield from _below(place.parent)
    elif _is_alone(place):
        yield place
    elif not place.exists() or _kind(place) is not FileKind.OTHER:
        yield from _about(place.parent, top)


def _about(folder: Path, top: Path) -> Iterator[Path]:
    """The package that a folder is, or is a part of."""
    if not folder.is_dir():
        return
    for one in (folder, *folder.parents):
        if _holds(one, DEPTH).whole:
            if not _holds_packages(one):
                yield one
                return
            break
        if one == top or top not in one.parents:
            break
    if _has_data(folder):
        yield folder


def _below(folder: Path) -> Iterator[Path]:
    """The highest folders that are packages, and the files that are."""
    if _has_data(folder) or (_holds(folder, DEPTH).whole and not _holds_packages(folder)):
        yield folder
        return
    yield from (path for path in _files(folder, 0) if _is_alone(path))
    for sub in _folders(folder):
        yield from _below(sub)


def _has_data(folder: Path) -> bool:
    return _holds(folder, 0) != Holds()


def _holds_packages(folder: Path) -> bool:
    """Whether a folder of it is whole by itself, so that it is none of them."""
    return any(_holds(sub, DEPTH).whole for sub in _folders(folder))


def _holds(folder: Path, depth: int) -> Holds:
    found = Holds()
    for path in _files(folder, depth):
        found |= _made_for(path)
        if found.whole:
            break
    return found


def _made_for(path: Path) -> Holds:
    head = _head(path)
    kind = classify(head)
    if kind is FileKind.DRILL or (kind is FileKind.GERBER and _DRILLS.search(head)):
        return Holds(drills=True)
    return Holds(artwork=kind is FileKind.GERBER)


def _is_alone(path: Path) -> bool:
    return path.is_file() and (_head(path).startswith(SIGNATURES) or _kind(path) is FileKind.IPC2581)


def _kind(path: Path) -> FileKind:
    return classify(_head(path))


def _head(path: Path) -> bytes:
    """The beginning of a file; nothing of what is none, or cannot be read: the check itself says why."""
    if not path.is_file():
        return b""
    try:
        with path.open("rb") as stream:
            return stream.read(HEAD_BYTES)
    except OSError:
        return b""


def _files(folder: Path, depth: int) -> list[Path]:
    """Files of a folder, and of its folders down to a depth, without those whose names begin with a dot."""
    found: list[Path] = []
    for place, folders, names in os.walk(folder):
        level = len(Path(place).relative_to(folder).parts)
        folders[:] = sorted(name for name in folders if level < depth and not name.startswith("."))
        found += (Path(place, name) for name in sorted(names) if not name.startswith("."))
        if len(found) > MOST_FILES:
            break
    return found[:MOST_FILES]


def _folders(folder: Path) -> Iterable[Path]:
    return sorted(one for one in folder.iterdir() if one.is_dir() and not one.is_symlink() and one.name[0] != ".")
