"""Points on the board as settings write them: "12.5, -3" in mm, or "12.5, -3, L2" for one layer of it."""

from __future__ import annotations

import re
from typing import Self

_COORDINATE = r"([+-]?(?:\d+\.?\d*|\.\d+))"
_SPOT = re.compile(rf"\s*{_COORDINATE}\s*,\s*{_COORDINATE}\s*(?:,\s*L([1-9]\d{{0,2}})\s*)?")


class Spot(str):
    """One point, in mm; `layer` counts from 1, None where any layer may be meant."""

    x: float
    y: float
    layer: int | None

    @classmethod
    def parse(cls, text: object) -> Self:
        """Raises ValueError for anything but two numbers, and a layer after them or none."""
        match = _SPOT.fullmatch(text) if isinstance(text, str) else None
        if match is None:
            shown = f'"{text}"' if isinstance(text, str) else repr(text)
            raise ValueError(f'{shown} is not a point of the board; write it as "12.5, -3" in mm, or "12.5, -3, L2"')
        spot = cls(match.string.strip())
        spot.x, spot.y = float(match[1]), float(match[2])
        spot.layer = int(match[3]) if match[3] else None
        return spot


class Spots(tuple[Spot, ...]):
    """One or several points."""

    @classmethod
    def parse(cls, value: object) -> Self:
        """From one text or a list of them. Raises ValueError where one is no point, or the list is empty."""
        texts = value if isinstance(value, list) else [value]
        if not texts:
            raise ValueError("names no point")
        return cls(Spot.parse(text) for text in texts)
