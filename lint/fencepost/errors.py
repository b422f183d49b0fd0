"""The ways a run can end without a verdict. All but the last, a fault of the program, lead to exit code 2."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass
from typing import Any


class FencepostError(Exception):
    """Something that keeps a board from being checked; its text is for the user."""

    def __reduce__(self) -> str | tuple[Any, ...]:
        """To go from one process to another: by itself an exception keeps only what is given without a name."""
        if not is_dataclass(self):
            return super().__reduce__()
        return type(self), tuple(getattr(self, each.name) for each in fields(self))


@dataclass(eq=False)
class InputError(FencepostError):
    """A file that cannot be read as what it is. `line` and `column` count from 1; 0 means the whole file.

    `cure` holds lines of settings that would mend it, ready to paste, where there are any.
    """

    file: str
    line: int
    column: int
    message: str
    cure: str = ""

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        text = f"{place}: error: {self.message}"
        return f"{text}\n\n{self.cure}" if self.cure else text


@dataclass(eq=False)
class InputErrors(FencepostError):
    """Several of them, found in one reading."""

    errors: tuple[InputError, ...]

    def __str__(self) -> str:
        return "\n".join(str(error) for error in self.errors)


@dataclass(eq=False)
class SettingsError(FencepostError):
    """Settings that do not say what they must: `file`, the key's path in it, and what is wrong."""

    file: str
    key: str
    message: str

    def __str__(self) -> str:
        return ": ".join(part for part in (self.file, "error", self.key, self.message) if part)


class UsageError(FencepostError):
    """A command line that asks for what cannot be done."""


class RuleCrash(Exception):
    """A fault of a rule and not of the board: exit code 3. What the rule raised is chained to it."""
