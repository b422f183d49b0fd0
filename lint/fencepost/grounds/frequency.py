"""The frequency that the ground of a board must hold, and how far apart its ties may be for that."""

from __future__ import annotations

from fencepost.frozen import dataclass
from fencepost.physics.waves import pitch_for
from fencepost.settings.model import Settings
from fencepost.signals.limits import Limit
from fencepost.units import with_prefix

NO_FREQUENCY = (
    "no frequency is known that the ground must hold: give [board] a frequency, or a class a frequency or a rise time"
)
"""Why a rule that needs one could not look."""


@dataclass(frozen=True)
class GroundFrequency:
    """In Hz, and in words for the user: `868 MHz`, or `the 868 MHz of class "radio"`."""

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
    return GroundFrequency(value, f'the {with_prefix(value, "Hz")} of class "{name}"')


def ground_pitch(frequency: GroundFrequency, permittivity: float, fraction: float, distance: float) -> Limit:
    """The smaller of wavelength / `fraction` and `distance` (mm). Both are common practice, no source."""
    by_wave = pitch_for(frequency.value, permittivity, fraction)
    if by_wave < distance:
        return Limit(by_wave, f"1/{fraction:g} of a wavelength at {frequency.words}")
    return Limit(distance, "the distance in the settings")
