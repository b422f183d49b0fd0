"""Limits of manufacture: by performance class and level of difficulty.

Where a figure comes from a standard, it is named; all of these are quoted from memory. The rest is common practice,
without a source. Whoever knows their fabricator's figures puts those into the settings of the rules.
"""

from __future__ import annotations

from fencepost.frozen import dataclass
from fencepost.settings.model import BoardSettings

TOLERANCE_MM = 0.001
"""Lengths that miss a limit by no more than this meet it: files round places and sizes (design: 1 µm)."""

PLATING_MM = 0.1
"""By how much a plated hole is drilled wider than it ends up (common practice)."""

KEPT_RING_MM = {2: (0.0, 0.0), 3: (0.05, 0.025)}
"""Ring that must be left on the finished board, on outer and on inner layers, by class: IPC-6012D, from memory. Class 2
accepts a hole that breaks out of its land over a quarter of its round, so nothing is planned to be left."""

ALLOWANCE_MM = {"A": 0.4, "B": 0.25, "C": 0.2}
"""Of the diameter of a land, for all that shifts between drill and artwork, by level: IPC-2221B, table 9-1, from
memory."""

UNPLATED_RING_MM = 0.15
"""Around a hole without plating, on outer layers: IPC-2221B, table 9-2, from memory."""

DRILL_MM = {"A": 0.35, "B": 0.3, "C": 0.25}
"""Smallest drill (common practice)."""

ASPECT = {"A": 6.0, "B": 8.0, "C": 10.0}
"""Deepest hole that is plated well, as a multiple of its drill (common practice)."""

WALL_MM = {"A": 0.3, "B": 0.25, "C": 0.2}
"""Thinnest wall between two holes as drilled (common practice)."""

SPACING_MM = {"A": 0.2, "B": 0.15, "C": 0.1}
"""Between copper of two nets (common practice; 0.1 mm is also what IPC-2221B, table 6-1, asks for on bare outer layers
up to 30 V, from memory)."""

BARREL_MM = {"A": 0.25, "B": 0.2, "C": 0.15}
"""From the wall of a plated hole as drilled to copper of another net (common practice)."""

UNPLATED_MM = {"A": 0.3, "B": 0.25, "C": 0.2}
"""From the wall of a hole without plating to any copper (common practice)."""


@dataclass(frozen=True)
class Build:
    """Limits in mm, `aspect` without a unit. Rings are as drawn, around the finished hole."""

    plating: float
    ring_outer: float
    ring_inner: float
    drill: float
    aspect: float
    wall: float
    spacing: float
    barrel: float
    unplated: float


def build_of(settings: BoardSettings) -> Build:
    """The limits of the board's class and level; class 2 and level C where the settings are silent.

    A ring as drawn is the ring that must be kept and half the fabrication allowance (IPC-2221B, 9.1.1, from memory:
    land = finished hole + twice the ring + allowance).
    """
    level = settings.level or "C"
    outer, inner = KEPT_RING_MM[settings.build_class or 2]
    shift = ALLOWANCE_MM[level] / 2
    return Build(
        plating=PLATING_MM if settings.plating is None else float(settings.plating),
        ring_outer=outer + shift,
        ring_inner=inner + shift,
        drill=DRILL_MM[level],
        aspect=ASPECT[level],
        wall=WALL_MM[level],
        spacing=SPACING_MM[level],
        barrel=BARREL_MM[level],
        unplated=UNPLATED_MM[level],
    )
