"""Values as the settings file writes them: the way back from a number in base units to text with a unit."""

from __future__ import annotations

import json
import re
from enum import Enum
from typing import Any

from fencepost.units import Frequency, Length, Quantity, Ratio, Time

_DOUBLE = re.compile(r"#(?=#)")

_SHORTEST = {
    Length: ("mm",),
    Frequency: ("GHz", "MHz", "kHz", "Hz"),
    Time: ("s", "ms", "us", "ns", "ps"),
}


def written(value: Any) -> str:
    """A value in TOML, such that reading it gives the value back: `"1.5 mm"`, `8`, `"error"`, `["GND"]`."""
    if isinstance(value, Quantity):
        return f'"{_quantity(value)}"'
    if isinstance(value, Ratio):
        return _number(float(value))
    if isinstance(value, Enum):
        return f'"{value.name.lower()}"'
    if isinstance(value, tuple | list):
        return f"[{', '.join(written(item) for item in value)}]"
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{key_part(key)} = {written(item)}' for key, item in value.items())} }}"
    if isinstance(value, str):
        return _quoted(value)
    return json.dumps(value) if isinstance(value, bool | int | float) else str(value)


def _quantity(value: Quantity) -> str:
    """In the largest unit that keeps the number at or above 1, or else in the smallest."""
    known = _SHORTEST.get(type(value), tuple(value.units)[:1])
    unit = next((unit for unit in known if float(value) >= value.units[unit] * (1 - 1e-9)), known[-1])
    return f"{_number(float(value) / value.units[unit])} {unit}"


def _number(value: float) -> str:
    return f"{value:.12g}"


def key_part(key: str) -> str:
    """A key as TOML writes it: bare where it can be, else quoted."""
    bare = key and all(char.isascii() and (char.isalnum() or char in "-_") for char in key)
    return key if bare else _quoted(key)


def _quoted(text: str) -> str:
    """JSON's quoting is TOML's. What a terminal or a build's log would obey is written by its number as well."""
    quoted = "".join(char if char.isprintable() else _number_of(char) for char in json.dumps(text, ensure_ascii=False))
    return _DOUBLE.sub(r"\\u0023", quoted)


def _number_of(char: str) -> str:
    return f"\\u{ord(char):04x}" if ord(char) < 0x10000 else f"\\U{ord(char):08x}"
