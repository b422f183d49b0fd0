"""Places on the board with units, as waivers name them: `"31.2 mm, 18.45 mm"`, and boxes by two opposite corners.

A unit stands behind each number, or once behind the last for all of them: `"31.2, 18.45 mm"`.
"""

from __future__ import annotations

import math
import re
from typing import Self

from fencepost.units import Length

_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+))\s*([^\d\s,.+-]*)\s*")


class _Numbers(str):
    """Lengths in mm, of either sign, and the text that they were read from."""

    mm: tuple[float, ...]
    _count = 0
    _kind = ""
    example = ""

    @classmethod
    def pattern(cls) -> str:
        """A regular expression of what is accepted, for editors."""
        units = "|".join(map(re.escape, Length.units))
        number = r"\s*[+-]?(?:\d+\.?\d*|\.\d+)\s*"
        return f"^(?:{number}(?:{units})?\\s*,){{{cls._count - 1}}}{number}(?:{units})\\s*$"

    @classmethod
    def parse(cls, text: object) -> Self:
        """Raises ValueError for anything but so many numbers with a known unit of length."""
        if not isinstance(text, str):
            raise ValueError(f'{text!r} is not {cls._kind}; write it as "{cls.example}"')
        matches = [_NUMBER.fullmatch(part) for part in text.split(",")]
        parts = [match.groups() for match in matches if match is not None]
        if len(parts) != len(matches) or len(parts) != cls._count:
            raise ValueError(f'"{text}" is not {cls._kind}; write it as "{cls.example}"')
        last = parts[-1][1]
        if not last:
            raise ValueError(f'"{text}" has no unit; write it as "{cls.example}"')
        for _, unit in parts:
            if (unit or last) not in Length.units:
                raise ValueError(f'"{unit or last}" is not a unit of length; use one of {", ".join(Length.units)}')
        value = cls(text.strip())
        value.mm = tuple(float(number) * Length.units[unit or last] for number, unit in parts)
        if not all(map(math.isfinite, value.mm)):
            raise ValueError(f'"{text}" is too large')
        return value


class Point(_Numbers):
    """A point of the board."""

    _count = 2
    _kind = "a point of the board"
    example = "31.2 mm, 18.45 mm"

    def distance_mm(self, x_mm: float, y_mm: float) -> float:
        """How far a place is from it."""
        return math.hypot(x_mm - self.mm[0], y_mm - self.mm[1])


class Box(_Numbers):
    """A rectangle along the axes, by any two opposite corners; its rim is part of it."""

    _count = 4
    _kind = "a box of the board"
    example = "10 mm, 5 mm, 20 mm, 15 mm"

    def holds(self, x_mm: float, y_mm: float) -> bool:
        """Whether a place is in it."""
        x0, y0, x1, y1 = self.mm
        return min(x0, x1) <= x_mm <= max(x0, x1) and min(y0, y1) <= y_mm <= max(y0, y1)
