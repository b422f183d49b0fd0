"""The files of a .zip archive, read in memory."""

from __future__ import annotations

import io
import stat
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager

from fencepost.errors import InputError
from fencepost.intake.limits import Budget
from fencepost.intake.package import PackageFile
from fencepost.intake.reading import inside, read_file

_ENTRY = b"PK\x01\x02"
"""What an entry of the list of files begins with. Those of archives inside this one are counted as well."""

_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_FAILURES = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, OSError, ValueError, RuntimeError)
_ENCRYPTED = 1


def read_archive(data: bytes, budget: Budget) -> list[PackageFile]:
    """All files of an archive, in the order of their names. Names that begin with a dot are no part of a package.

    Raises InputError for a broken archive, for entries that are encrypted, links, of one name, outside the archive or
    packed in an unusual way, and where a limit is passed.
    """
    if data.count(_ENTRY) > budget.limits.files:
        raise budget.too_many()
    with _broken_is_an_error(budget.package):
        archive = zipfile.ZipFile(io.BytesIO(data))
    files = []
    for inner, entry in sorted(_entries(archive, budget).items()):
        shown = inside(budget.package, inner)
        _check(entry, shown)
        budget.inflate(shown, entry.compress_size, entry.file_size)
        with _broken_is_an_error(shown), archive.open(entry) as stream:
            files.append(read_file(stream, shown, budget))
    return files


def _entries(archive: zipfile.ZipFile, budget: Budget) -> dict[str, zipfile.ZipInfo]:
    entries: dict[str, zipfile.ZipInfo] = {}
    for entry in archive.infolist():
        inner = entry.orig_filename.replace("\\", "/").rstrip("/")
        budget.count(inner)
        parts = inner.split("/")
        if "\0" in inner or ".." in parts or "" in parts:
            raise InputError(budget.package, 0, 0, f"holds the name {inner!r}, which is not a place inside the archive")
        if entry.is_dir() or any(part.startswith(".") for part in parts):
            continue
        if inner in entries:
            raise InputError(budget.package, 0, 0, f"holds two files of the name {inner!r}")
        entries[inner] = entry
    return entries


def _check(entry: zipfile.ZipInfo, shown: str) -> None:
    if entry.flag_bits & _ENCRYPTED:
        raise InputError(shown, 0, 0, "is encrypted; it cannot be read")
    if stat.S_IFMT(entry.external_attr >> 16) not in (0, stat.S_IFREG):
        raise InputError(shown, 0, 0, "is a link or a device inside the archive; it is not followed")
    if entry.compress_type not in _METHODS:
        raise InputError(shown, 0, 0, "is packed by a method other than deflate; pack it anew")


@contextmanager
def _broken_is_an_error(shown: str) -> Iterator[None]:
    try:
        yield
    except InputError:
        raise
    except _FAILURES as error:
        raise InputError(shown, 0, 0, f"cannot be unpacked: {error}") from None
