"""How grave a finding is."""

from __future__ import annotations

from enum import IntEnum


class Severity(IntEnum):
    """Ordered, so that the fail level is a comparison."""

    NOTE = 1
    WARNING = 2
    ERROR = 3

    @property
    def label(self) -> str:
        return self.name.lower()
