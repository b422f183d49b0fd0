"""Stackups: which layers lie on which, how thick, and of what permittivity."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import field

from fencepost.frozen import dataclass
from fencepost.readers.ipc2581.document import Node
from fencepost.readers.ipc2581.layers import Layer
from fencepost.readers.ipc2581.notes import Notes
from fencepost.readers.ipc2581.values import Values
from fencepost.readers.material import permittivity_fault, thickness_fault

_NUMBER = re.compile(r"\s*(\d+(?:\.\d*)?|\.\d+)")
_MOST_SHEETS = 1_000


@dataclass(frozen=True)
class Sheet:
    """One layer of a stackup, from the top; `thickness` in mm. What the file does not give is None."""

    layer: str
    thickness: float | None
    permittivity: float | None


@dataclass(frozen=True)
class Stack:
    """A Stackup element. `thickness` in mm."""

    name: str
    thickness: float | None
    sheets: tuple[Sheet, ...]


def permittivity_of(spec: Node, values: Values) -> float | None:
    """The relative permittivity that a Spec gives, as a number or as the beginning of a text."""
    for dielectric in spec.all("Dielectric"):
        if values.word(dielectric, "type") != "DIELECTRIC_CONSTANT":
            continue
        for said in dielectric.all("Property"):
            match = _NUMBER.match(said.attributes.get("text", ""))
            value = values.number(said, "value", float(match.group()) if match else 0.0)
            if value > 0:
                if fault := permittivity_fault(value):
                    raise values.source.error(said.offset, fault)
                return value
    return None


@dataclass(eq=False)
class StackReader:
    """Reads Stackup elements. `permittivity` is by the names of Specs, `layers` by their own."""

    values: Values
    scale: float
    permittivity: Mapping[str, float]
    layers: Mapping[str, Layer]
    notes: Notes
    _opened: int = field(default=0, init=False)

    def read(self, node: Node) -> Stack:
        """A Stackup. Its sheets are in the order of their sequence numbers, else in that of the file.

        Raises InputError for groups inside themselves, and more sheets than any stackup has.
        """
        self._opened = 0
        groups = {self.values.name(group, "name"): group for group in node.all("StackupGroup")}
        inner = {self._name(entry) for group in groups.values() for entry in group.all("StackupLayer")} - {*self.layers}
        sheets = [sheet for name, group in groups.items() if name not in inner for sheet in self._open(group, groups)]
        return Stack(
            self.values.name(node, "name"),
            self.values.size(node, "overallThickness", self.scale, 0.0) or None,
            tuple(sheet for _, sheet in (sheets if inner & groups.keys() else _in_sequence(sheets))),
        )

    def _open(self, group: Node, groups: Mapping[str, Node]) -> list[tuple[float | None, Sheet]]:
        """Sequence number and sheet of everything in a group, and in the groups inside it."""
        self._opened += 1
        sheets: list[tuple[float | None, Sheet]] = []
        for entry in group.all("StackupLayer"):
            self._opened += 1
            if self._opened > _MOST_SHEETS:
                said = f"a stackup of more than {_MOST_SHEETS} sheets, or a group inside itself"
                raise self.values.source.error(entry.offset, said)
            name = self._name(entry)
            if name in groups and name not in self.layers:
                sheets += self._open(groups[name], groups)
            else:
                sheets.append((self._sequence(entry), self._sheet(name, entry, group)))
        return _in_sequence(sheets)

    def _sheet(self, name: str, entry: Node, group: Node) -> Sheet:
        layer = self.layers.get(name)
        if layer is None:
            self.notes.add("a StackupLayer names no layer of the file", entry.offset)
        specs = [self.values.name(spec, "id") for spec in entry.all("SpecRef")]
        specs += layer.specs if layer else ()
        specs += [self.values.name(spec, "id") for spec in group.all("SpecRef")]
        constants = (self.permittivity[spec] for spec in specs if spec in self.permittivity)
        thickness = self.values.size(entry, "thickness", self.scale, 0.0) or None
        if thickness and (fault := thickness_fault(thickness)):
            raise self.values.source.error(entry.offset, fault)
        return Sheet(name, thickness, next(constants, None))

    def _name(self, entry: Node) -> str:
        return self.values.name(entry, "layerOrGroupRef")

    def _sequence(self, entry: Node) -> float | None:
        return self.values.number(entry, "sequence") if "sequence" in entry.attributes else None


def _in_sequence(sheets: list[tuple[float | None, Sheet]]) -> list[tuple[float | None, Sheet]]:
    numbers = [number for number, _ in sheets]
    if None in numbers or len(set(numbers)) < len(numbers):
        return sheets
    return sorted(sheets, key=lambda sheet: sheet[0] or 0.0)
