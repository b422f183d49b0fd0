"""Step elements, but for their layers' features: profile, pad stacks, components, nets."""

from __future__ import annotations

from fencepost.readers.ipc2581.document import Node, Section
from fencepost.readers.ipc2581.harmless import OF_A_STEP
from fencepost.readers.ipc2581.holes import HoleColumns
from fencepost.readers.ipc2581.layerfeatures import LayerFeatures
from fencepost.readers.ipc2581.names import Sort
from fencepost.readers.ipc2581.padstacks import Definition, definition_of, stacked
from fencepost.readers.ipc2581.parts import part_of, pins_of
from fencepost.readers.ipc2581.paths import Path, polygon_of
from fencepost.readers.ipc2581.placing import xform_of
from fencepost.readers.ipc2581.reading import Repeat, Step
from fencepost.readers.ipc2581.shop import Shop

_COPPER = frozenset({"Set", "Pad", "Features", "Hole", "Slot", "SlotCavity", "LayerPad", "LayerHole"})


class Steps:
    """Reads Step elements one after the other; `found` grows."""

    def __init__(self, shop: Shop) -> None:
        self.found: list[Step] = []
        self._shop = shop
        self._values = shop.values
        self._definitions: dict[str, Definition] = {}
        self._features = LayerFeatures(shop)
        self.section = Section(
            {
                "PadStack": self._padstack,
                "PadStackDef": self._padstack_definition,
                "Route": self._features.route,
                "Profile": self._profile,
                "StepRepeat": self._repeat,
                "Package": self._package,
                "Component": self._component,
                "LogicalNet": self._logical_net,
                "PhyNetGroup": Section({"PhyNet": self._physical_net}),
                "LayerFeature": self._features.section,
            },
            begin=self._begin,
            other=self._refuse,
        )

    @property
    def _step(self) -> Step:
        return self.found[-1]

    def _begin(self, node: Node) -> bool:
        shop, values = self._shop, self._values
        if not shop.scale:
            raise values.source.error(node.offset, "a Step before the CadHeader that says its units")
        self.found.append(
            Step(
                values.name(node, "name"),
                values.word(node, "type"),
                values.name(node, "stackupRef"),
                node.offset,
                HoleColumns(values, shop.budget, shop.notes),
                HoleColumns(values, shop.budget, shop.notes),
            )
        )
        self._definitions.clear()
        self._draughtsman = shop.draughtsman(shop.scale)
        self._features.begin_step(self._step, self._definitions)
        return True

    def _refuse(self, node: Node) -> None:
        if node.tag in _COPPER:
            said = f"<{node.tag}> outside a LayerFeature, so its copper would be lost"
            raise self._values.source.error(node.offset, said)
        if node.tag not in OF_A_STEP and ":" not in node.tag:
            said = f"<{node.tag}> is no part of a Step that is known, so what it holds would be lost"
            raise self._values.source.error(node.offset, said)

    def _padstack(self, node: Node) -> None:
        stacked(node, self._shop, self._draughtsman, self._step)

    def _padstack_definition(self, node: Node) -> None:
        self._definitions[self._values.name(node, "name")] = definition_of(node, self._shop, self._draughtsman)

    def _profile(self, node: Node) -> None:
        outer = node.child("Polygon")
        if outer is None:
            raise self._values.source.error(node.offset, "the profile has no Polygon")
        try:
            area = polygon_of(self._ring(outer), [self._ring(cutout) for cutout in node.all("Cutout")])
        except ValueError as error:
            raise self._values.source.error(node.offset, f"expected {error}") from None
        if area.is_empty:
            raise self._values.source.error(node.offset, "the profile encloses no area")
        self._step.profile = area

    def _ring(self, node: Node) -> Path:
        placed = xform_of(node, self._values, self._shop.scale, self._shop.notes)
        return Path.of(node, self._shop.scale).moved(placed.transform.matrix, placed.shift)

    def _repeat(self, node: Node) -> None:
        count = self._values.number(node, "nx", 1.0) * self._values.number(node, "ny", 1.0)
        self._step.repeats.append(Repeat(self._values.name(node, "stepRef"), int(count)))

    def _package(self, node: Node) -> None:
        self._step.packages[self._values.name(node, "name")] = pins_of(node, self._values, self._shop.scale)

    def _component(self, node: Node) -> None:
        shop = self._shop
        self._step.parts.append(part_of(node, self._values, shop.scale, shop.materials, shop.notes))

    def _logical_net(self, node: Node) -> None:
        values, step = self._values, self._step
        name = values.name(node, "name")
        kind = values.word(node, "netClass")
        if kind:
            step.net_classes[name] = kind
        pair = values.name(node, "netPair")
        if pair:
            step.net_pairs[name] = pair
        for pin in node.all("PinRef"):
            step.pin_nets[values.name(pin, "componentRef"), values.name(pin, "pin")] = name

    def _physical_net(self, node: Node) -> None:
        net = self._shop.names.index(Sort.NET, self._values.name(node, "name"))
        for point in node.all("PhyNetPoint"):
            x, y = self._values.position(point, "x", "y", self._shop.scale)
            self._step.points.setdefault(self._values.name(point, "layerRef"), []).append((x, y, net))
