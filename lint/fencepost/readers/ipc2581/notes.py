"""What a reading could not resolve or had to take one way or the other, said once with the first place."""

from __future__ import annotations

from dataclasses import dataclass, field

from fencepost.source import SourceFile


@dataclass
class Notes:
    """Remarks for the user. The same text counts up; it is printed with the number and the first place."""

    source: SourceFile
    _found: dict[str, tuple[int, int | None]] = field(default_factory=dict)

    def add(self, text: str, offset: int | None = None, times: int = 1) -> None:
        """More occurrences, the first at a byte offset; without one, of the file as a whole."""
        count, first = self._found.get(text, (0, offset))
        self._found[text] = count + times, first

    def lines(self) -> tuple[str, ...]:
        """All remarks in the order in which they first came up."""
        return tuple(
            (text if offset is None else f"{self.source.locate(offset)}: {text}")
            + (f" ({count} times)" if count > 1 else "")
            for text, (count, offset) in self._found.items()
        )
