"""What all parts of one reading share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from fencepost.readers.ipc2581.columns import Budget, Columns, ToolTable
from fencepost.readers.ipc2581.document import Node
from fencepost.readers.ipc2581.drawing import NOT_DRAWN, Dictionaries, Draughtsman, Shape, shape_of
from fencepost.readers.ipc2581.layers import COPPER, Layer
from fencepost.readers.ipc2581.names import Names, Sort
from fencepost.readers.ipc2581.notes import Notes
from fencepost.readers.ipc2581.parts import Materials
from fencepost.readers.ipc2581.values import Values

_REFERENCES = ("StandardPrimitiveRef", "UserPrimitiveRef")


@dataclass(eq=False)
class Shop:
    """Tables that grow while a file is read. `claims` are layers said to be copper, or not to be, whatever they say."""

    values: Values
    notes: Notes
    budget: Budget
    tools: ToolTable
    claims: Mapping[str, bool]
    names: Names = field(default_factory=Names)
    dictionaries: Dictionaries = field(default_factory=Dictionaries)
    materials: Materials = field(default_factory=Materials)
    layers: dict[str, Layer] = field(default_factory=dict)
    scale: float = 0.0
    """Millimetres in the unit of CadHeader; 0 before it was read."""
    _shapes: dict[tuple[str, str], Shape] = field(default_factory=dict)

    def draughtsman(self, scale: float) -> Draughtsman:
        """Who draws features in a unit."""
        return Draughtsman(self.values, self.dictionaries, self.notes, scale)

    def keeps(self, layer: Layer) -> bool:
        """Whether a layer's features are kept."""
        return self.claims.get(layer.name, layer.function in COPPER)

    def columns(self) -> Columns:
        """Empty columns."""
        return Columns(self.budget, self.tools)

    def net(self, owner: Node, default: int = -1) -> int:
        """The net that an element names."""
        return self.names.index(Sort.NET, self.values.name(owner, "net")) if "net" in owner.attributes else default

    def pin(self, owner: Node) -> tuple[int, int]:
        """Pin and component that an element's PinRef names, -1 for none."""
        reference = owner.child("PinRef")
        if reference is None:
            return -1, -1
        component, pin = self.values.name(reference, "componentRef"), self.values.name(reference, "pin")
        if not component or not pin:
            self.notes.add("a PinRef names no component or no pin", reference.offset)
            return -1, -1
        return self.names.index(Sort.PIN, component, pin), self.names.index(Sort.COMPONENT, component)

    def shape(self, owner: Node, own: Draughtsman) -> Shape | None:
        """What all features in an element draw, as one shape; None where it has none."""
        features = [child for child in owner.children if child.tag not in NOT_DRAWN]
        if not features:
            return None
        if len(features) > 1 or features[0].tag not in _REFERENCES:
            return self._drawn(owner, own)
        key = (features[0].tag, features[0].attributes.get("id", ""))
        if key not in self._shapes:
            self._shapes[key] = self._drawn(owner, own)
        return self._shapes[key]

    def _drawn(self, owner: Node, own: Draughtsman) -> Shape:
        try:
            return shape_of(own.drawn_by(owner))
        except ValueError as error:
            raise self.values.source.error(owner.offset, f"expected {error}") from None
