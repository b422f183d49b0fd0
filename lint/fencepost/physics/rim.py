"""The rim of a rectangular board: posts round it, and the resonances of the space between its planes."""

from __future__ import annotations

import math

from fencepost.physics.waves import frequency_for, require


def gaps_along(side: float, pitch: float) -> int:
    """The least number of equal gaps along a side that keep to the pitch, with a post at both ends; lengths in mm."""
    require(0 < side < math.inf, "a side", side, "mm", "must be above zero")
    require(0 < pitch < math.inf, "a pitch", pitch, "mm", "must be above zero")
    return math.ceil(side / pitch * (1 - 1e-9))


def rim_posts(width: float, height: float, pitch: float) -> int:
    """Posts round the outline of a board, one at each corner: as many as there are gaps, since the ring is closed."""
    return 2 * (gaps_along(width, pitch) + gaps_along(height, pitch))


def open_resonance(width: float, height: float, permittivity: float) -> float:
    """The lowest resonance (Hz) between two bare planes: c / (2 sqrt(er) w), half a wave along the longer side w in mm.

    Source: D. M. Pozar, Microwave Engineering, the rectangular cavity, with magnetic walls at the open rim.
    """
    require(min(width, height) > 0, "a side", min(width, height), "mm", "must be above zero")
    return frequency_for(max(width, height), permittivity, 2)


def fenced_resonance(width: float, height: float, permittivity: float) -> float:
    """The same with a rim that is a wall: c / (2 sqrt(er)) sqrt(1/w^2 + 1/h^2), half a wave along both sides.

    Source: D. M. Pozar, Microwave Engineering, the rectangular cavity, mode 110.
    """
    return math.hypot(frequency_for(width, permittivity, 2), frequency_for(height, permittivity, 2))
