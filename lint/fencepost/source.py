"""A file of the package, and where in it something stands."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from fencepost.errors import InputError
from fencepost.frozen import dataclass

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True)
class Location:
    """A place in a file as compilers print it; line and column count from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, eq=False)
class SourceFile:
    """`name` is relative to the working directory, so that a terminal can open it; `data` is the whole file."""

    name: str
    data: bytes

    @cached_property
    def _line_starts(self) -> NDArray[np.int64]:
        """Byte offsets at which lines begin; lines end with LF, CR LF or a lone CR."""
        import numpy as np

        data = np.frombuffer(self.data, dtype=np.uint8)
        ends = data == 10
        lone = np.flatnonzero(data == 13)
        lone = lone[~ends[np.minimum(lone + 1, len(data) - 1)]]
        return np.sort(np.concatenate([[0], np.flatnonzero(ends) + 1, lone + 1])).astype(np.int64)

    def locate(self, offset: int) -> Location:
        """Line and column of a byte offset; the column counts characters, not bytes."""
        line = int(self._line_starts.searchsorted(offset, side="right"))
        start = int(self._line_starts[line - 1])
        column = len(self.data[start:offset].decode("utf-8", errors="replace")) + 1
        return Location(self.name, line, column)

    def error(self, offset: int, message: str, cure: str = "") -> InputError:
        """An InputError at a byte offset, for the caller to raise."""
        place = self.locate(offset)
        return InputError(place.file, place.line, place.column, message, cure)
