"""One file, as far as it is worth reading."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import IO

from fencepost.errors import InputError
from fencepost.intake.classify import HEAD_BYTES, FileKind, classify
from fencepost.intake.limits import Budget
from fencepost.intake.package import PackageFile
from fencepost.source import SourceFile

# A pipe must not keep us waiting, and what was a file a moment ago must not have become a link to elsewhere.
_OPEN_FLAGS = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)


def open_regular(path: Path, shown: str) -> IO[bytes]:
    """Open a file that is neither link, pipe nor device. Raises InputError for those and where it cannot be read."""
    try:
        descriptor = os.open(path, _OPEN_FLAGS)
    except OSError as error:
        raise unreadable(shown, error) from None
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        os.close(descriptor)
        raise InputError(shown, 0, 0, "is not a regular file; it is not opened")
    return os.fdopen(descriptor, "rb")


def read_file(stream: IO[bytes], shown: str, budget: Budget) -> PackageFile:
    """Classify a file by its beginning, and read on if some reader will want it.

    Raises InputError for an empty file, which may be what is left of a layer, and for one that is too large.
    """
    head = stream.read(HEAD_BYTES)
    if not head.strip():
        raise InputError(shown, 0, 0, "is empty; what it was to hold is missing")
    kind = classify(head)
    if kind is FileKind.OTHER:
        return PackageFile(SourceFile(shown, b""), kind)
    return PackageFile(SourceFile(shown, read_rest(head, stream, shown, budget)), kind)


def read_rest(head: bytes, stream: IO[bytes], shown: str, budget: Budget) -> bytes:
    """The whole of a file whose beginning has been read. Raises InputError where it is too large."""
    data = head + stream.read(max(budget.limits.file_bytes + 1 - len(head), 0))
    budget.spend(shown, len(data))
    return data


def unreadable(shown: str, error: OSError) -> InputError:
    """What the operating system says against reading a file."""
    return InputError(shown, 0, 0, f"cannot be read: {error.strerror or error}")


def inside(package: str, inner: str) -> str:
    """The name of a file of a package, for the user."""
    return inner if package == "." else f"{package}/{inner}"
