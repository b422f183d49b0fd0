"""Layers, what they are for, and their order: from the stackup, else from their sides."""

from __future__ import annotations

from fencepost.frozen import dataclass
from fencepost.readers.ipc2581.document import Node
from fencepost.readers.ipc2581.values import Values

COPPER = frozenset({"CONDUCTOR", "SIGNAL", "PLANE", "MIXED", "CONDFILM", "CONDFOIL", "POWER_GROUND"})
"""Layer functions of copper. The last is in no schema but in use."""

DIELECTRIC = frozenset({"DIELBASE", "DIELCORE", "DIELPREG", "DIELADHV", "DIELBONDPLY", "DIELCOVERLAY"})

DRILLED = frozenset({"DRILL", "ROUT"})

OPEN = frozenset({"", "OTHER"})
"""Functions that say nothing, like any word that no schema has."""

_WITHOUT_COPPER = frozenset(
    {
        *("ASSEMBLY", "BOARDFAB", "BOARD_OUTLINE", "CAPACITIVE", "COATINGCOND", "COATINGNONCOND", "COMPONENT"),
        *("COMPONENT_BOTTOM", "COMPONENT_TOP", "COMPONENT_EMBEDDED", "COMPONENT_FORMED", "EMBEDDED_COMPONENT"),
        *("CONDUCTIVE_ADHESIVE", "COURTYARD", "DOCUMENT", "FIXTURE", "GLUE", "GRAPHIC", "HOLEFILL", "SOLDERBUMP"),
        *("PASTEMASK", "LANDPATTERN", "LEGEND", "PIN", "PROBE", "RESISTIVE", "SILKSCREEN", "SOLDERMASK", "SOLDERPASTE"),
        *("STACKUP_COMPOSITE", "REWORK", "V_CUT", "EDGE_CHAMFER", "EDGE_PLATING", "THIEVING_KEEP_INOUT", "STIFFENER"),
    }
)
CONDUCTING = frozenset({"CAPACITIVE", "COATINGCOND", "CONDUCTIVE_ADHESIVE", "EDGE_PLATING", "RESISTIVE"})
"""Functions of what conducts and is no copper layer."""

KNOWN = COPPER | DIELECTRIC | DRILLED | _WITHOUT_COPPER
"""All functions of the schemas A to C but OTHER."""


@dataclass(frozen=True)
class Layer:
    """A Layer element. `function` and `side` in capitals; `span` are the layers of its Span, "" for one left out."""

    name: str
    function: str
    side: str
    positive: bool
    span: tuple[str, str] | None
    specs: tuple[str, ...]
    offset: int

    @property
    def is_open(self) -> bool:
        """Whether its function leaves open what it holds."""
        return self.function not in KNOWN


def layer_of(node: Node, values: Values) -> Layer:
    """A Layer element. Raises InputError where it has no name."""
    name = values.name(node, "name")
    if not name:
        raise values.source.error(node.offset, "a layer without a name")
    span = node.child("Span")
    return Layer(
        name,
        values.word(node, "layerFunction"),
        values.word(node, "side"),
        values.word(node, "polarity", "POSITIVE") != "NEGATIVE",
        None if span is None else span_of(span, values),
        tuple(values.name(spec, "id") for spec in node.all("SpecRef")),
        node.offset,
    )


def span_of(node: Node, values: Values) -> tuple[str, str]:
    """The first and the last layer that a Span names."""
    return values.name(node, "fromLayer"), values.name(node, "toLayer")
