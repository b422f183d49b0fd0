"""What the cases of several formats have in common: a file that is made of lines."""

from __future__ import annotations


class Written:
    """`ending` stands after each line."""

    lines: tuple[str, ...]
    ending: str

    @property
    def data(self) -> bytes:
        """The file."""
        return self.joined(self.lines)

    def without(self, number: int) -> bytes:
        """The file without one of its lines; in XML an element with all that is in it."""
        return self.joined(self.lines[:number] + self.lines[number + 1 :])

    def joined(self, lines: tuple[str, ...]) -> bytes:
        """A file of other lines, written alike."""
        return "".join(line + self.ending for line in lines).encode()
