"""What one package has used up of its limits."""

from __future__ import annotations

from dataclasses import dataclass

from fencepost.errors import InputError
from fencepost.limits import Limits


@dataclass
class Budget:
    """What one package has used up so far. Its methods raise InputError where a limit is passed."""

    package: str
    limits: Limits
    files: int = 0
    bytes: int = 0

    def count(self, inner: str) -> None:
        """One more entry, by its path inside the package."""
        self.files += 1
        if self.files > self.limits.files:
            raise self.too_many()
        if len(inner) > self.limits.path_length:
            text = f"holds a name of {len(inner)} characters; {self.limits.path_length} are allowed"
            raise _passed(self.package, text, "path_length")
        if inner.count("/") > self.limits.depth:
            shown = inner.rpartition("/")[0]
            text = f"holds the folder {shown}, deeper than {self.limits.depth} folders one inside another"
            raise _passed(self.package, text, "depth")

    def too_many(self) -> InputError:
        """What to raise for more entries than there may be."""
        return _passed(self.package, f"holds more than {self.limits.files:,} files", "files")

    def spend(self, file: str, size: int) -> None:
        """A file of `size` bytes is kept."""
        self.bytes += size
        if size > self.limits.file_bytes:
            raise _passed(file, f"is larger than {self.limits.file_bytes:,} bytes", "file_bytes")
        if self.bytes > self.limits.total_bytes:
            raise _passed(self.package, f"holds more than {self.limits.total_bytes:,} bytes", "total_bytes")

    def inflate(self, file: str, packed: int, unpacked: int) -> None:
        """A file says that it grows from `packed` to `unpacked` bytes."""
        if unpacked > self.limits.ratio_free_bytes and unpacked > packed * self.limits.ratio:
            raise _passed(file, f"grows more than {self.limits.ratio:g} times when it is unpacked", "ratio")


def _passed(file: str, text: str, limit: str) -> InputError:
    return InputError(file, 0, 0, f"{text} (limit {limit})")
