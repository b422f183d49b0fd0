"""The frequency that the ground of a board must hold."""

from __future__ import annotations

from dataclasses import dataclass

from fencepost.settings.model import Settings
from fencepost.units import with_prefix

UNKNOWN = (
    "no frequency is known that the ground must hold; give [board] a frequency, or a class a frequency or a rise time"
)
"""Why a rule that needs one could not look."""


@dataclass(frozen=True)
class GroundFrequency:
    """In Hz, and in words for the user, as `868 MHz`."""

    value: float
    words: str


def ground_frequency(settings: Settings) -> GroundFrequency | None:
    """The frequency of the board, else the highest of its classes; None where nothing gives one."""
    if settings.board.frequency is not None:
        return GroundFrequency(settings.board.frequency, with_prefix(settings.board.frequency, "Hz"))
    known = [(entry.highest_frequency, entry.name) for entry in settings.classes if entry.highest_frequency]
    if not known:
        return None
    value, name = max(known)
    return GroundFrequency(value, f'{with_prefix(value, "Hz")}, of class "{name}", the highest')
