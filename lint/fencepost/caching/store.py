"""A folder of entries by key. An entry that is not exactly what was put there is as good as none."""

from __future__ import annotations

import hashlib
import os
import stat
import tempfile
from contextlib import suppress
from pathlib import Path

from fencepost.frozen import dataclass

MARK = b"fencepost cache 1\n"
HEAD_BYTES = len(MARK) + 65
LIMIT_BYTES = 512 * 2**20
"""Of all entries together; the ones not used for longest go first."""


@dataclass(frozen=True)
class Store:
    """Entries in a folder that only the user may read. Every failure to read or write is silent: a cache may miss.

    A folder that others may write to, or that is another's, is not used: what lies there may be made to mislead. An
    entry holds the key that it was stored under and a digest of its content, so that a file that is cut short,
    damaged, renamed or foreign is never taken for one.
    """

    folder: Path
    limit: int = LIMIT_BYTES

    def get(self, key: str) -> bytes | None:
        """The content stored under a key, None where there is none."""
        path = self._path(key)
        try:
            if not self._is_ours():
                return None
            data = path.read_bytes()
        except OSError:
            return None
        head = _head(key, data[HEAD_BYTES:])
        if not data.startswith(head):
            return None
        with suppress(OSError):
            os.utime(path)
        return data[len(head) :]

    def put(self, key: str, content: bytes) -> None:
        """Store content under a key, then drop the oldest entries beyond the limit."""
        with suppress(OSError):
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            if not self._is_ours():
                return
            # Created with mode 0600, complete before it gets its name: nobody sees half an entry.
            handle, name = tempfile.mkstemp(dir=self.folder, prefix="new-")
            try:
                with os.fdopen(handle, "wb") as file:
                    file.write(_head(key, content) + content)
                Path(name).replace(self._path(key))
            except OSError:
                Path(name).unlink(missing_ok=True)
                raise
            self._trim()

    def _path(self, key: str) -> Path:
        return self.folder / hashlib.sha256(key.encode()).hexdigest()

    def _is_ours(self) -> bool:
        status = self.folder.stat()
        if not hasattr(os, "getuid"):
            return True
        return status.st_uid == os.getuid() and not status.st_mode & (stat.S_IWGRP | stat.S_IWOTH)

    def _trim(self) -> None:
        entries = [(path, path.stat()) for path in self.folder.iterdir() if path.is_file()]
        total = sum(status.st_size for _, status in entries)
        for path, status in sorted(entries, key=lambda entry: entry[1].st_mtime):
            if total <= self.limit:
                break
            path.unlink(missing_ok=True)
            total -= status.st_size


def _head(key: str, content: bytes) -> bytes:
    """What stands before the content of an entry."""
    digest = hashlib.sha256(key.encode() + b"\0" + content).hexdigest()
    return MARK + digest.encode() + b"\n"


def user_store() -> Store:
    """The user's own cache folder, or FENCEPOST_CACHE where it is set."""
    from platformdirs import user_cache_path

    named = os.environ.get("FENCEPOST_CACHE")
    return Store(Path(named) if named else user_cache_path("fencepost", appauthor=False))
