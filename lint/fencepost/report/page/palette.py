"""Colours of the report: one ramp for the layers from top to bottom, in a light and a dark version.

The ramp goes from amber over plum to indigo and falls in lightness all the way, so that neighbours stay apart for
readers who tell few hues. What a layer is, is also written beside its colour.
"""

from __future__ import annotations

Colour = tuple[int, int, int]

LIGHT: tuple[Colour, ...] = ((0xD0, 0x7A, 0x00), (0xA2, 0x3E, 0x6E), (0x2B, 0x3C, 0x8E))
DARK: tuple[Colour, ...] = ((0xFF, 0xC9, 0x66), (0xE3, 0x80, 0xA8), (0x76, 0x88, 0xE8))


def ramp(stops: tuple[Colour, ...], count: int) -> list[str]:
    """As many colours as there are layers, evenly from the first stop to the last."""
    return [_between(stops, i / max(count - 1, 1)) for i in range(count)]


def _between(stops: tuple[Colour, ...], share: float) -> str:
    place = share * (len(stops) - 1)
    low = min(int(place), len(stops) - 2)
    part = place - low
    mixed = (round(a + (b - a) * part) for a, b in zip(stops[low], stops[low + 1], strict=True))
    return "#" + "".join(f"{value:02x}" for value in mixed)
