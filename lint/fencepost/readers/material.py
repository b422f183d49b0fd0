"""What the sheets of a board can be made of. The bounds are wide: beyond them a figure is a slip, not a material.

Common practice, no source.
"""

from __future__ import annotations

PERMITTIVITY = (1.0, 1000.0)
"""Relative; 1 is empty space."""

THICKNESS_MM = (1e-4, 100.0)


def permittivity_fault(value: float) -> str:
    """What is wrong with a relative permittivity, in words for the user; "" where nothing is."""
    low, high = PERMITTIVITY
    return "" if low <= value <= high else f"a relative permittivity is {low:g} to {high:g}, not {value:g}"


def thickness_fault(value: float) -> str:
    """Likewise with the thickness of a sheet or of a board, in mm."""
    low, high = THICKNESS_MM
    return "" if low <= value <= high else f"a thickness is {low:g} to {high:g} mm, not {value:g} mm"
