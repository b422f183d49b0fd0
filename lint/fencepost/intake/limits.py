"""How much a package may ask for before it is refused."""

from __future__ import annotations

from dataclasses import dataclass

from fencepost.errors import InputError

_MIB = 1024 * 1024


@dataclass(frozen=True)
class IntakeLimits:
    """Bounds that no fabrication package comes near. An error names the one that was passed.

    file_bytes        one file after decompression, and an archive as it lies on the disk
    total_bytes       all files that are read, together, after decompression
    files             entries of a folder with its subfolders, or of an archive
    ratio             size of a file after decompression to its size before; files of up to `ratio_free_bytes` may be
                      smaller yet
    depth             folders one inside another, the package's own not counted
    name_length       characters of a file's path inside the package
    """

    file_bytes: int = 256 * _MIB
    total_bytes: int = 1024 * _MIB
    files: int = 2_000
    ratio: float = 250.0
    ratio_free_bytes: int = _MIB
    depth: int = 4
    name_length: int = 250


DEFAULT_LIMITS = IntakeLimits()


@dataclass
class Budget:
    """What one package has used up so far. Its methods raise InputError where a limit is passed."""

    package: str
    limits: IntakeLimits
    files: int = 0
    bytes: int = 0

    def count(self, inner: str) -> None:
        """One more entry, by its path inside the package."""
        self.files += 1
        if self.files > self.limits.files:
            raise _passed(self.package, f"holds more than {self.limits.files:,} files", "files")
        if len(inner) > self.limits.name_length:
            text = f"holds a name of {len(inner)} characters; {self.limits.name_length} are allowed"
            raise _passed(self.package, text, "name_length")
        if inner.count("/") > self.limits.depth:
            shown = inner.rpartition("/")[0]
            text = f"holds the folder {shown}, deeper than {self.limits.depth} folders one inside another"
            raise _passed(self.package, text, "depth")

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
