"""Quantities with units, as settings and the command line write them: "80 mil", "9.375 GHz", "0.5 ns".

Inside, everything is a plain float in the base unit: millimetres, square millimetres, hertz, seconds, ohms, henries,
decibels.
"""

from __future__ import annotations

import math
import re
from typing import ClassVar, Self

MM_PER_INCH = 25.4

_QUANTITY = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([^\d\s.+-]\S*)\s*")
_STEPS = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))


class Quantity(float):
    """A float in the base unit, made from text. Each kind says which units it knows."""

    kind: ClassVar[str]
    units: ClassVar[dict[str, float]]
    example: ClassVar[str]
    least: ClassVar[str] = ""
    most: ClassVar[str] = ""
    """Beyond these a quantity is a slip, and a computation might take longer than anybody waits; "" for no bound."""

    @classmethod
    def parse(cls, text: object) -> Self:
        """Read `"80 mil"`. Raises ValueError where the unit is missing or unknown, or the number not above 0."""
        if not isinstance(text, str):
            raise ValueError(f'{text!r} is not a {cls.kind} with a unit; write it as "{cls.example}"')
        match = _QUANTITY.fullmatch(text)
        if match is None:
            raise ValueError(f'"{text}" is not a {cls.kind} with a unit; write it as "{cls.example}"')
        number, unit = match.groups()
        if unit not in cls.units:
            raise ValueError(f'"{unit}" is not a unit of {cls.kind}; use one of {", ".join(cls.units)}')
        value = float(number) * cls.units[unit]
        if not math.isfinite(value) or value <= 0:
            raise ValueError(f'"{text}" must be above zero')
        if cls.least and text != cls.least and value < cls.parse(cls.least):
            raise ValueError(f'"{text}" must be {cls.least} or more')
        if cls.most and text != cls.most and value > cls.parse(cls.most):
            raise ValueError(f'"{text}" must be {cls.most} or less')
        return cls(value)


class Length(Quantity):
    """Millimetres."""

    kind = "length"
    units: ClassVar[dict[str, float]] = {
        **{"mm": 1.0, "um": 1e-3, "µm": 1e-3, "cm": 10.0},
        **{"mil": MM_PER_INCH / 1000, "in": MM_PER_INCH, "inch": MM_PER_INCH},
    }
    example = "1.5 mm"


class Area(Quantity):
    """Square millimetres."""

    kind = "area"
    units: ClassVar[dict[str, float]] = {
        **{"mm²": 1.0, "mm2": 1.0, "cm²": 100.0, "cm2": 100.0},
        **{"mil²": (MM_PER_INCH / 1000) ** 2, "mil2": (MM_PER_INCH / 1000) ** 2},
        **{"in²": MM_PER_INCH**2, "in2": MM_PER_INCH**2},
    }
    example = "1 mm²"


class Frequency(Quantity):
    """Hertz."""

    kind = "frequency"
    units: ClassVar[dict[str, float]] = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6, "GHz": 1e9}
    example = "868 MHz"
    most = "1000 GHz"


class Time(Quantity):
    """Seconds."""

    kind = "time"
    units: ClassVar[dict[str, float]] = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "ns": 1e-9, "ps": 1e-12}
    example = "0.5 ns"
    least = "0.1 ps"


class Impedance(Quantity):
    """Ohms."""

    kind = "impedance"
    units: ClassVar[dict[str, float]] = {"ohm": 1.0, "Ω": 1.0, "kohm": 1e3}
    example = "50 ohm"


class Ratio(float):
    """A plain number above zero: a fraction of a wavelength, an aspect ratio, a permittivity. It has no unit."""

    @classmethod
    def parse(cls, value: object) -> Self:
        """Raises ValueError for anything but a finite number above zero."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ValueError(f"{value!r} is not a number")
        if not math.isfinite(value) or value <= 0:
            raise ValueError(f"{value} must be above zero")
        return cls(value)


def with_prefix(value: float, unit: str, digits: int = 3) -> str:
    """`9.37 GHz` for 9.37e9 and "Hz"; the shortest prefix that keeps the number at or above 1."""
    scale, prefix = next(((s, p) for s, p in _STEPS if abs(value) >= s * (1 - 1e-9)), _STEPS[-1])
    rounded = float(f"{value / scale:.{digits}g}")
    return f"{rounded:g} {prefix}{unit}"
