"""Directions on the board in words, as one sees it with y upwards."""

from __future__ import annotations

import math

DIRECTIONS = ("right", "upper right", "upper", "upper left", "left", "lower left", "lower", "lower right")
"""By eighths of a turn, anticlockwise from the x axis."""


def direction_of(x: float, y: float) -> str:
    """The one of the eight that a vector points to most nearly."""
    return DIRECTIONS[round(math.degrees(math.atan2(y, x)) / 45) % 8]
