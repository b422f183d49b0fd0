"""Elements that are passed over because they hold no copper, hole or part of a board. Others are errors.

Source: the schemas of the revisions A, B and C.
"""

from __future__ import annotations

from collections.abc import Iterable

from fencepost.readers.ipc2581.document import Node
from fencepost.readers.ipc2581.values import Values

ATTRIBUTES = frozenset(
    {
        *("Attribute", "NonstandardAttribute", "BooleanAttribute", "IntegerAttribute", "DoubleAttribute"),
        *("TextAttribute", "OptionAttribute"),
    }
)
"""May stand in anything."""

OF_A_SET = ATTRIBUTES | {"SpecRef", "Color", "ColorRef", "ColorTerm", "FillDesc", "FillDescRef"}

OF_A_STEP = ATTRIBUTES | {
    *("Datum", "VplPackage", "VplComponent", "DfxMeasurementList", "Dfx", "BendArea", "StackupZone", "Port", "Model")
}


def check_known(node: Node, known: Iterable[str], values: Values) -> None:
    """Raise InputError for a child that is none of these and no attribute. Other namespaces are passed over."""
    for child in node.children:
        if child.tag not in known and child.tag not in ATTRIBUTES and ":" not in child.tag:
            said = f"<{child.tag}> is no part of a <{node.tag}> that is known, so what it holds would be lost"
            raise values.source.error(child.offset, said)
