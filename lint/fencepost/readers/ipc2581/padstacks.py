"""Pad stacks: definitions (PadStackDef), and those of revision A, which are the copper and the hole themselves."""

from __future__ import annotations

from fencepost.frozen import dataclass
from fencepost.readers.ipc2581.columns import Labels
from fencepost.readers.ipc2581.document import Node
from fencepost.readers.ipc2581.drawing import Draughtsman, Shape
from fencepost.readers.ipc2581.harmless import check_known
from fencepost.readers.ipc2581.holes import Place
from fencepost.readers.ipc2581.layers import span_of
from fencepost.readers.ipc2581.placing import Placement, locations_of, xform_of
from fencepost.readers.ipc2581.reading import Step
from fencepost.readers.ipc2581.shop import Shop


@dataclass(frozen=True, eq=False)
class Definition:
    """A PadStackDef: what its pads look like, by layer, and its holes with the layers that its pads are on."""

    pads: dict[str, tuple[Shape, Placement]]
    holes: tuple[Node, ...]
    span: tuple[str, str]


def definition_of(node: Node, shop: Shop, own: Draughtsman) -> Definition:
    """A PadStackDef. Only its regular pads on copper layers are looked at."""
    check_known(node, ("PadstackPadDef", "PadstackHoleDef"), shop.values)
    pads: dict[str, tuple[Shape, Placement]] = {}
    for pad in node.all("PadstackPadDef"):
        layer = shop.layers.get(shop.values.name(pad, "layerRef"))
        if layer is None or not shop.keeps(layer) or shop.values.word(pad, "padUse", "REGULAR") != "REGULAR":
            continue
        shape = shop.shape(pad, own)
        if shape is not None:
            where = xform_of(pad, shop.values, own.scale, shop.notes)
            pads[layer.name] = shape, where.at(*locations_of(pad, shop.values, own.scale)[0])
    order = [name for name in shop.layers if name in pads]
    return Definition(pads, tuple(node.all("PadstackHoleDef")), (order[0], order[-1]) if order else ("", ""))


def stacked(node: Node, shop: Shop, own: Draughtsman, step: Step) -> None:
    """A PadStack of revision A: a hole and pads in their own places. Raises InputError for a layer that is missing."""
    check_known(node, ("LayerHole", "LayerPad"), shop.values)
    net = shop.net(node)
    for hole in node.all("LayerHole"):
        span = hole.child("Span")
        step.holes.add(hole, own.scale, net, Place("", span_of(span, shop.values) if span else ("", "")))
    for pad in node.all("LayerPad"):
        name = shop.values.name(pad, "layerRef")
        layer = shop.layers.get(name)
        if layer is None and shop.claims.get(name, True):
            raise shop.values.source.error(pad.offset, f"a pad on the layer {name!r}, which the file does not have")
        if layer is not None and layer.is_open and name not in shop.claims and net >= 0:
            step.unknown.setdefault(name, pad.offset)
        if layer is None or not shop.keeps(layer):
            continue
        shape = shop.shape(pad, own)
        if shape is None:
            raise shop.values.source.error(pad.offset, "a pad without a shape, so its copper would be lost")
        pin, component = shop.pin(pad)
        where = xform_of(pad, shop.values, own.scale, shop.notes)
        columns = step.stacked.setdefault(name, shop.columns())
        for x, y in locations_of(pad, shop.values, own.scale):
            columns.flash(shape, where.at(x, y), True, Labels(net, pin, component), pad.offset)
