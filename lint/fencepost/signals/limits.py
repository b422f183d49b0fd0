"""How far apart ground vias may be for a net: from its class's frequency, the dielectric and a plain distance."""

from __future__ import annotations

from fencepost.frozen import dataclass
from fencepost.physics.waves import pitch_for


@dataclass(frozen=True)
class Limit:
    """A distance in mm, and in words where it comes from."""

    distance: float
    reason: str


def wave_limit(frequency: float | None, permittivity: float, fraction: float, distance: float) -> Limit:
    """The smaller of wavelength / `fraction` at `frequency` (Hz, None where no class gives one) and `distance` (mm).

    Both are common practice, no source.
    """
    if frequency is not None:
        by_wave = pitch_for(frequency, permittivity, fraction)
        if by_wave < distance:
            return Limit(by_wave, f"1/{fraction:g} of a wavelength at {frequency / 1e9:.3g} GHz")
    return Limit(distance, "the distance in the settings")
