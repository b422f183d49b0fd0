"""Attributes of elements as numbers, names and flags, in mm where they are lengths."""

from __future__ import annotations

import math

from fencepost.frozen import dataclass
from fencepost.limits import Limits, name_fault
from fencepost.readers.ipc2581.document import FLAGS, Node
from fencepost.source import SourceFile
from fencepost.units import MM_PER_INCH

UNITS = {"MILLIMETER": 1.0, "MICRON": 1e-3, "INCH": MM_PER_INCH}
"""Source: the type unitsType of the schemas A to C."""


@dataclass(frozen=True, eq=False)
class Values:
    """Reads attributes of one file. Every method raises InputError, at the element, for what cannot be."""

    source: SourceFile
    limits: Limits

    def unit(self, node: Node) -> float:
        """Millimetres in the unit of an element that says `units`."""
        text = node.attributes.get("units")
        if text is None:
            raise self.source.error(node.offset, f"<{node.tag}> does not say its units")
        if text.upper() not in UNITS:
            known = ", ".join(UNITS)
            raise self.source.error(node.offset, f"the unit {text!r} of <{node.tag}> is none of {known}")
        return UNITS[text.upper()]

    def number(self, node: Node, key: str, default: float | None = None) -> float:
        """A finite number."""
        text = node.attributes.get(key)
        if text is None and default is not None:
            return default
        try:
            value = float(text) if text is not None else math.nan
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            said = f", not {text!r}" if text is not None else ""
            raise self.source.error(node.offset, f"expected a number for {key} of <{node.tag}>{said}")
        return value

    def position(self, node: Node, x: str, y: str, scale: float, default: float | None = None) -> tuple[float, float]:
        """Two coordinates in mm."""
        said, reach = node.attributes, self.limits.reach
        try:
            place = float(said[x]) * scale, float(said[y]) * scale
        except (KeyError, ValueError):
            place = math.nan, math.nan
        if -reach <= place[0] <= reach and -reach <= place[1] <= reach:
            return place
        return self._within(node, x, scale, default), self._within(node, y, scale, default)

    def _within(self, node: Node, key: str, scale: float, default: float | None) -> float:
        value = self.number(node, key, default) * scale
        if abs(value) > self.limits.reach:
            said = f"{key} of <{node.tag}> is more than {self.limits.reach:g} mm (limit reach)"
            raise self.source.error(node.offset, said)
        return value

    def size(self, node: Node, key: str, scale: float, default: float | None = None) -> float:
        """A length in mm that is not negative."""
        value = self._within(node, key, scale, default)
        if value < 0:
            raise self.source.error(node.offset, f"{key} of <{node.tag}> is negative")
        return value

    def flag(self, node: Node, key: str, default: bool = False) -> bool:
        """True or false."""
        text = node.attributes.get(key)
        if text is None:
            return default
        if text.lower() not in FLAGS:
            raise self.source.error(node.offset, f"expected true or false for {key} of <{node.tag}>, not {text!r}")
        return FLAGS[text.lower()]

    def word(self, node: Node, key: str, default: str = "") -> str:
        """One of a list of words, in capitals."""
        return node.attributes.get(key, default).upper()

    def name(self, node: Node, key: str) -> str:
        """A name; "" where the attribute is missing."""
        text = node.attributes.get(key, "")
        if said := name_fault(text, self.limits):
            raise self.source.error(node.offset, f"{key} of <{node.tag}>: {said}")
        return text
