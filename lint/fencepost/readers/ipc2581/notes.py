"""What a reading could not resolve or had to take one way or the other, said once with the first place."""

from __future__ import annotations

from dataclasses import dataclass, field

from fencepost.source import SourceFile


@dataclass
class Notes:
    """Remarks for the user. The same text counts up; it is printed with the number and the first place."""

    source: SourceFile
    _found: dict[str, list[int]] = field(default_factory=dict)

    def add(self, text: str, offset: int) -> None:
        """One more occurrence, at a byte offset."""
        found = self._found.setdefault(text, [0, offset])
        found[0] += 1

    def lines(self) -> tuple[str, ...]:
        """All remarks in the order in which they first came up."""
        return tuple(
            f"{self.source.locate(offset)}: {text}" + (f" ({count} times)" if count > 1 else "")
            for text, (count, offset) in self._found.items()
        )
