"""Components, the packages that they are in, and what the bill of materials says of them."""

from __future__ import annotations

from dataclasses import field

from fencepost.frozen import dataclass
from fencepost.readers.artwork import Attributes
from fencepost.readers.ipc2581.document import Node
from fencepost.readers.ipc2581.notes import Notes
from fencepost.readers.ipc2581.placing import Placement, locations_of, xform_of
from fencepost.readers.ipc2581.values import Values

_MOUNTS = {"SMT": "SMD", "THMT": "TH", "PRESSFIT": "Pressfit"}
"""mountType to the values of the X3 attribute .CMnt; every other one is "Other"."""


@dataclass(frozen=True, eq=False)
class Part:
    """A Component element. `attributes` are named as in X3, "populate" where the bill of materials says so."""

    name: str
    package: str
    layer: str
    where: Placement
    attributes: Attributes


@dataclass(frozen=True)
class PackagePin:
    """A pin of a package, about the package's own origin in mm; `through` where it reaches all layers."""

    number: str
    x: float
    y: float
    through: bool


@dataclass(eq=False)
class Materials:
    """What the bills of materials say, by reference designator."""

    said: dict[str, Attributes] = field(default_factory=dict)

    def add(self, item: Node, values: Values) -> None:
        """A BomItem."""
        common: Attributes = {}
        for row in (*item.all("Characteristics"), item):
            for text in row.all("Textual"):
                if text.attributes.get("textualCharacteristicName", "").lower() == "value":
                    common[".CVal"] = (values.name(text, "textualCharacteristicValue"),)
        for designator in item.all("RefDes"):
            populate = {} if values.flag(designator, "populate", True) else {"populate": ("false",)}
            self.said[values.name(designator, "name")] = {**common, **populate}


def part_of(node: Node, values: Values, scale: float, materials: Materials, notes: Notes) -> Part:
    """A Component element."""
    name = values.name(node, "refDes")
    package = values.name(node, "packageRef")
    placed = xform_of(node, values, scale, notes)
    attributes: Attributes = dict(materials.said.get(name, {}))
    if package:
        attributes[".CFtp"] = (package,)
    mount = values.word(node, "mountType")
    if mount:
        attributes[".CMnt"] = (_MOUNTS.get(mount, "Other"),)
    attributes[".CRot"] = (f"{placed.transform.degrees:g}",)
    where = placed.at(*locations_of(node, values, scale)[0])
    return Part(name, package, values.name(node, "layerRef"), where, attributes)


def pins_of(package: Node, values: Values, scale: float) -> tuple[PackagePin, ...]:
    """The pins of a Package element."""
    return tuple(
        PackagePin(
            values.name(pin, "number"),
            *locations_of(pin, values, scale)[0],
            values.word(pin, "type") == "THRU",
        )
        for pin in package.all("Pin")
    )
