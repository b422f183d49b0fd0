"""The quarter-wave resonance of a barrel's unused length."""

from __future__ import annotations

import math

from fencepost.physics.waves import SPEED_OF_LIGHT, require


def stub_resonance(length: float, permittivity: float) -> float:
    """c / (4 L sqrt(er)) Hz: where a line of `length` mm with an open end shorts what it hangs on.

    Source: the quarter-wave open line, D. M. Pozar, Microwave Engineering, ch. 2. Pads on the stub add capacitance and
    lower it. Raises ValueError for a length that is not above zero, or a permittivity below 1.
    """
    require(0 < length < math.inf, "a stub length", length, "mm", "must be above zero")
    require(1 <= permittivity < math.inf, "a relative permittivity", permittivity, "", "must be 1 or more")
    return SPEED_OF_LIGHT / (4 * length * math.sqrt(permittivity))


def stub_length(frequency: float, permittivity: float) -> float:
    """c / (4 f sqrt(er)) mm: the stub that resonates at `frequency` Hz. Errors as `stub_resonance`."""
    require(0 < frequency < math.inf, "a frequency", frequency, "Hz", "must be above zero")
    require(1 <= permittivity < math.inf, "a relative permittivity", permittivity, "", "must be 1 or more")
    return SPEED_OF_LIGHT / (4 * frequency * math.sqrt(permittivity))
