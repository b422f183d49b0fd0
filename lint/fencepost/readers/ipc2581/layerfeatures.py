"""LayerFeature elements: what is etched and drilled on each layer."""

from __future__ import annotations

from typing import NamedTuple

from fencepost.readers.ipc2581.columns import Labels
from fencepost.readers.ipc2581.document import Node, Section
from fencepost.readers.ipc2581.drawing import LINE_TAGS
from fencepost.readers.ipc2581.harmless import OF_A_SET
from fencepost.readers.ipc2581.holes import Place
from fencepost.readers.ipc2581.layers import CONDUCTING, DRILLED
from fencepost.readers.ipc2581.names import Sort
from fencepost.readers.ipc2581.padstacks import Definition
from fencepost.readers.ipc2581.placing import Placement, locations_of, xform_of
from fencepost.readers.ipc2581.reading import Step
from fencepost.readers.ipc2581.shop import Shop

_FIDUCIALS = {
    "GlobalFiducial": ("FiducialPad", "Global"),
    "GoodPanelMark": ("FiducialPad", "Panel"),
    "BadBoardMark": ("FiducialPad", "Panel"),
    "LocalFiducial": ("FiducialPad", "Local"),
}
"""To the aperture functions of The Gerber Layer Format Specification (Ucamco, 2024.05)."""

_IDLE = frozenset({"TEXT", "GRAPHIC", "THIEVING"})
"""geometryUsage of copper that is no conductor."""


class _Set(NamedTuple):
    """What a Set says of all that is in it; `pad` is the function of pads, `other` that of the rest."""

    net: int = -1
    dark: bool = True
    pad: int = -1
    other: int = -1
    plated: bool | None = None


class LayerFeatures:
    """Reads LayerFeature elements, and the Routes of revision A around them, into the step that `begin_step` names."""

    def __init__(self, shop: Shop) -> None:
        self._shop = shop
        self._values = shop.values
        self._route = -1
        self._set = _Set()
        self._holes_only = self._watched = False
        self._conductor = shop.names.index(Sort.FUNCTION, "Conductor")
        self._idle = shop.names.index(Sort.FUNCTION, "NonConductor")
        self._via = shop.names.index(Sort.FUNCTION, "ViaPad")
        contents = {
            "Pad": self._pad,
            "Features": self._features,
            "Hole": self._hole,
            **dict.fromkeys(("Slot", "SlotCavity"), self._slot),
            **dict.fromkeys(_FIDUCIALS, self._fiducial),
            **dict.fromkeys(LINE_TAGS, self._line),
            "NetShort": self._net_short,
        }
        sets = Section(contents, begin=self._begin_set, other=self._refuse)
        self.section = Section({"Set": sets}, begin=self._begin_layer, other=self._refuse)
        self.route = Section({"LayerFeature": self.section}, begin=self._begin_route, end=self._end_route)

    def begin_step(self, step: Step, definitions: dict[str, Definition]) -> None:
        """What follows belongs to this step. `definitions` are its pad stacks by name, read as they come up."""
        self._step = step
        self._definitions = definitions
        self._draughtsman = self._shop.draughtsman(self._shop.scale)

    def _begin_route(self, node: Node) -> bool:
        self._route = self._shop.net(node)
        return True

    def _end_route(self) -> None:
        self._route = -1

    def _begin_layer(self, node: Node) -> bool:
        name = self._values.name(node, "layerRef")
        layer = self._shop.layers.get(name)
        if layer is None:
            if self._shop.claims.get(name) is False:
                return False
            said = f"features of the layer {name!r}, which the file does not have; their copper would be lost"
            raise self._values.source.error(node.offset, said)
        self._layer = layer
        self._watched = False
        self._holes_only = layer.function in DRILLED and not self._shop.claims.get(name, False)
        if self._holes_only:
            return True
        self._watched = layer.is_open and name not in self._shop.claims
        if self._watched:
            said = f"the layer {name!r} has the function {layer.function!r}: it is left out"
            self._shop.notes.add(said, layer.offset)
            return True
        if not self._shop.keeps(layer):
            if layer.function in CONDUCTING:
                said = f"the layer {name!r} conducts ({layer.function}) and is left out: it is not taken for copper"
                self._shop.notes.add(said, layer.offset)
            return False
        self._columns = self._step.copper.setdefault(name, self._shop.columns())
        return True

    def _begin_set(self, node: Node) -> bool:
        said = node.attributes
        if self._watched:
            if self._shop.net(node) >= 0:
                self._step.unknown.setdefault(self._layer.name, node.offset)
            return False
        if "netPair" in said and "net" in said:
            self._step.net_pairs[self._values.name(node, "net")] = self._values.name(node, "netPair")
        polarity = said.get("polarity", "POSITIVE")
        if polarity not in ("POSITIVE", "NEGATIVE"):
            raise self._values.source.error(
                node.offset, f"expected POSITIVE or NEGATIVE for polarity, not {polarity!r}"
            )
        usage, idle = said.get("padUsage"), said.get("geometryUsage") in _IDLE
        self._set = _Set(
            net=self._shop.net(node, self._route),
            dark=polarity == "POSITIVE",
            pad=self._via if usage == "VIA" else self._idle if idle or usage == "THIEVING" else -1,
            other=self._idle if idle else self._conductor,
            plated=self._values.flag(node, "plate") if "plate" in said else None,
        )
        self._own = self._draughtsman
        return True

    def _refuse(self, node: Node) -> None:
        if node.tag not in OF_A_SET and not self._watched:
            lost = "holes" if self._holes_only else "copper"
            said = f"<{node.tag}> is no feature that is known, so its {lost} would be lost"
            raise self._values.source.error(node.offset, said)

    def _line(self, node: Node) -> None:
        if not self._holes_only:
            self._own = self._draughtsman.with_line(self._draughtsman.line_from(node))

    def _pad(self, node: Node) -> None:
        self._flash(node, self._set.pad)

    def _fiducial(self, node: Node) -> None:
        self._flash(node, self._shop.names.index(Sort.FUNCTION, *_FIDUCIALS[node.tag]))

    def _flash(self, node: Node, function: int) -> None:
        if self._holes_only:
            self._drawn_on_drill(node)
            return
        scale = self._shop.scale
        where = xform_of(node, self._values, scale, self._shop.notes)
        pin, component = self._shop.pin(node)
        labels = Labels(self._set.net, pin, component, function)
        defined = self._definitions.get(self._values.name(node, "padstackDefRef"))
        shape = self._shop.shape(node, self._own)
        inner: Placement | None = None
        if shape is None and defined is not None and self._layer.name in defined.pads:
            shape, inner = defined.pads[self._layer.name]
        if shape is None:
            said = "a pad without a shape, and without a pad stack that has one for this layer"
            raise self._values.source.error(node.offset, said)
        for x, y in locations_of(node, self._values, scale):
            placed = where.at(x, y)
            drawn = placed if inner is None else placed.after(inner)
            self._columns.flash(shape, drawn, self._set.dark, labels, node.offset)
            if defined is not None and self._set.dark:
                self._drill(defined, placed, node.offset)

    def _drill(self, defined: Definition, where: Placement, offset: int) -> None:
        place = Place("", defined.span)
        for hole in defined.holes:
            self._step.defined.add_defined(hole, self._shop.scale, self._set.net, place, where, offset)

    def _drawn_on_drill(self, node: Node) -> None:
        self._step.drawn.setdefault(self._layer.name, node.offset)

    def _features(self, node: Node) -> None:
        if self._holes_only:
            self._drawn_on_drill(node)
            return
        scale = self._shop.scale
        where = xform_of(node, self._values, scale, self._shop.notes)
        pieces = self._own.drawn_by(node)
        pin, component = self._shop.pin(node)
        labels = Labels(self._set.net, pin, component, self._set.other)
        for x, y in locations_of(node, self._values, scale):
            self._columns.add(pieces, where.at(x, y), self._set.dark, labels)

    def _hole(self, node: Node) -> None:
        place = Place(self._layer.name, None, self._set.plated)
        self._step.holes.add(node, self._shop.scale, self._set.net, place)

    def _slot(self, node: Node) -> None:
        place = Place(self._layer.name, None, self._set.plated)
        self._step.holes.add_slot(node, self._draughtsman, self._set.net, place)

    def _net_short(self, node: Node) -> None:
        self._shop.notes.add("nets that are meant to be joined (NetShort) are not told apart from shorts", node.offset)
