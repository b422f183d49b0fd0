"""From a path, or from files in memory, to a package."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path

from fencepost.errors import InputError, UsageError
from fencepost.intake.classify import HEAD_BYTES, SIGNATURES, FileKind, classify
from fencepost.intake.folder import read_folder
from fencepost.intake.limits import Budget
from fencepost.intake.package import Package, PackageFile, assembled
from fencepost.intake.reading import inside, open_regular, read_file, read_rest
from fencepost.limits import DEFAULT_LIMITS, Limits
from fencepost.settings.load import shown_path
from fencepost.source import SourceFile


def open_package(path: Path, limits: Limits = DEFAULT_LIMITS) -> Package:
    """Read a folder with its subfolders, a .zip archive, or a single IPC-2581 file.

    Every file is told by its content and never by its name. Raises UsageError where there is nothing at `path`, and
    InputError where what is there is no package, cannot be read whole or passes a limit.
    """
    shown = Path(shown_path(path)).as_posix()
    if not path.exists():
        raise UsageError(f"{shown}: no such file or folder")
    budget = Budget(shown, limits)
    return assembled(shown, read_folder(path, budget) if path.is_dir() else _read_single(path, budget))


def package_from(name: str, files: Mapping[str, bytes], limits: Limits = DEFAULT_LIMITS) -> Package:
    """A package of files in memory, by their names inside it."""
    budget = Budget(name, limits)
    for inner in files:
        budget.count(inner)
    return assembled(
        name,
        [read_file(io.BytesIO(data), inside(name, inner), budget) for inner, data in sorted(files.items())],
    )


def _read_single(path: Path, budget: Budget) -> list[PackageFile]:
    shown = budget.package
    with open_regular(path.resolve(), shown) as stream:
        head = stream.read(HEAD_BYTES)
        if head.startswith(SIGNATURES):
            from fencepost.intake.archive import read_archive  # Most packages are folders.

            archive = read_rest(head, stream, shown, Budget(shown, budget.limits))
            return read_archive(archive, budget)
        kind = classify(head)
        if kind is FileKind.IPC2581:
            return [PackageFile(SourceFile(shown, read_rest(head, stream, shown, budget)), kind)]
    if kind is FileKind.OTHER:
        raise InputError(shown, 0, 0, "is neither a folder, a .zip archive nor an IPC-2581 file")
    raise InputError(shown, 0, 0, f"is one {kind.value}; name the folder or the archive of the whole package")
