"""The files of a folder and its subfolders."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from fencepost.errors import InputError
from fencepost.intake.limits import Budget
from fencepost.intake.package import PackageFile
from fencepost.intake.reading import inside, open_regular, read_file, unreadable


def read_folder(folder: Path, budget: Budget) -> list[PackageFile]:
    """All files of a folder, in the order of their names. Names that begin with a dot are no part of a package.

    Raises InputError for links that leave the folder, links to folders, pipes and devices, for what cannot be read,
    and where a limit is passed.
    """
    root = Path(os.path.realpath(folder))
    files = []
    for inner in _walk(root, "", budget):
        shown = inside(budget.package, inner)
        with open_regular(_target(root, inner, shown), shown) as stream:
            files.append(read_file(stream, shown, budget))
    return files


def _walk(root: Path, inner: str, budget: Budget) -> Iterator[str]:
    """Paths inside the package of everything that is not a folder."""
    try:
        with os.scandir(root / inner) as scan:
            entries = sorted((entry for entry in scan if not entry.name.startswith(".")), key=lambda entry: entry.name)
    except OSError as error:
        raise unreadable(inside(budget.package, inner) if inner else budget.package, error) from None
    for entry in entries:
        path = f"{inner}/{entry.name}" if inner else entry.name
        budget.count(path)
        if entry.is_dir(follow_symlinks=False):
            yield from _walk(root, path, budget)
        else:
            yield path


def _target(root: Path, inner: str, shown: str) -> Path:
    """The file itself, where a link stands for it."""
    path = root / inner
    if not path.is_symlink():
        return path
    target = Path(os.path.realpath(path))
    if not target.is_relative_to(root):
        raise InputError(shown, 0, 0, "is a link to a place outside the package; it is not followed")
    if target.is_dir():
        raise InputError(shown, 0, 0, "is a link to a folder; it is not followed")
    return target
