"""An IPC-2581 file holds the board as it was defined: read back here element by element, by no code of the engine.

Elements, attributes and their order are held against the schemas of the IPC where those are at hand (`../shared`).
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import shapely
from lxml import etree
from shapely import affinity
from shapely.geometry.base import BaseGeometry

import tide_gauge as demo
from sketch import Path as Track
from sketch import Sketch
from sketch.items import Pad
from sketch.path import Pose

SCHEMAS = Path(__file__).parents[3] / "shared" / "ipc2581" / "schema"
NAMES_B = re.escape(r"([a-zA-Z][a-zA-Z0-9_\-#]*)(:[a-zA-Z][a-zA-Z0-9_\-#]*)*")
NAMES_C = r"([^:]+)(:[^:]+)?"
"""What a name may be in revision B, where no pin can be called 1 and no net +3V3, and in revision C."""

UNITS = {"MILLIMETER": 1.0, "INCH": 25.4, "MICRON": 0.001}


def everything() -> Sketch:
    """A board with one of each thing."""
    board = Sketch(layers=4, size=(20, 12), corner=1.5)
    board.cutout((8, 1, 10, 2))
    board.cutout(Track.arc((13, 2), (13, 2), (12.5, 2)))
    board.pour("GND", 2, cut="clear")
    board.pour("GND", 3, thermal=("via",))
    board.copper("VCC", 1, shapely.box(1, 8, 3, 10).difference(shapely.box(1.5, 8.5, 2.5, 9.5)), label="")
    board.trace("A", 1, [(3, 3), (6, 5), (6, 7)], 0.2)
    board.trace("A", 1, [(3, 3), (2, 3)], 0.15)
    board.arc("A", 4, (4, 5), (6, 5), (5, 5), 0.2, clockwise=True)
    board.arc("A", 4, (14, 8), (14, 8), (13, 8), 0.2)
    board.via("GND", (4, 6), drill=0.3, pad=0.7, label="A")
    board.via("GND", (12, 9), drill=0.25, pad=0.5, span=(1, 2))
    board.pad("U1", "1", "A", 1, (6, 7), (1.0, 0.4), angle=20)
    board.pad("U1", "2", "GND", 1, (7, 9), (1.0, 0.4), "oval", angle=-70)
    board.pad("C1", "1", "GND", 4, (15, 4), (0.6, 0.5))
    board.pad("C1", "2", "VCC", 4, (16, 4), (0.6, 0.5))
    board.through_pad("J1", "A1", "GND", (17, 9), pad=(1.7, 2.4), shape="oval", angle=45)
    board.slot((15, 6), (17, 7), 0.8, plated=True, net="GND", pad=1.4)
    board.hole((2, 2), 1.1)
    board.component("C1", "100n", bottom=True, angle=30, package="0402", CMfr="anyone")
    board.component("J1", "socket", mount="TH")
    return board


class Read:
    """A file as it stands: areas by layer and net, pads, holes. Only what the writer is known to write."""

    def __init__(self, data: bytes) -> None:
        self.root = ET.fromstring(data)
        for node in self.root.iter():
            node.tag = node.tag.split("}")[1]
        self.header = self.root.find("Ecad/CadHeader")
        self.step = self.root.find("Ecad/CadData/Step")
        self.scale = UNITS[self.header.get("units")]
        self.shapes = {entry.get("id"): self.primitive(entry[0]) for entry in self.root.iter("EntryStandard")}
        self.widths = {e.get("id"): self.number(e[0], "lineWidth") for e in self.root.iter("EntryLineDesc")}

    def number(self, node: ET.Element, name: str) -> float:
        return float(node.get(name)) * self.scale

    def point(self, node: ET.Element, x: str = "x", y: str = "y") -> tuple[float, float]:
        return self.number(node, x), self.number(node, y)

    def primitive(self, node: ET.Element) -> BaseGeometry:
        if node.tag == "Circle":
            return shapely.Point(0, 0).buffer(self.number(node, "diameter") / 2, quad_segs=64)
        w, h = self.number(node, "width") / 2, self.number(node, "height") / 2
        if node.tag == "RectCenter":
            return shapely.box(-w, -h, w, h)
        r = min(w, h)
        return shapely.LineString([(r - w, r - h), (w - r, h - r)]).buffer(r, quad_segs=64)

    def placed(self, node: ET.Element, location: tuple[float, float] | None = None) -> BaseGeometry:
        xform, ref = node.find("Xform"), node.find("StandardPrimitiveRef")
        shape = self.shapes[ref.get("id")]
        if xform is not None:
            shape = affinity.rotate(shape, float(xform.get("rotation")), origin=(0, 0))
        return affinity.translate(shape, *(location or self.point(node.find("Location"))))

    def path(self, node: ET.Element) -> Track:
        steps = []
        for child in node:
            if child.tag == "PolyBegin":
                start = self.point(child)
            elif child.tag == "PolyStepSegment":
                steps.append((self.point(child), None, False))
            elif child.tag == "PolyStepCurve":
                clockwise = child.get("clockwise") == "true"
                steps.append((self.point(child), self.point(child, "centerX", "centerY"), clockwise))
        points = [start]
        for end, centre, clockwise in steps:
            own = Track.line([points[-1], end]) if centre is None else Track.arc(points[-1], end, centre, clockwise)
            points += own.coords()[1:]
        return points

    def area(self, node: ET.Element) -> BaseGeometry:
        """A Contour or Profile."""
        holes = [shapely.Polygon(self.path(hole)) for hole in node.findall("Cutout")]
        return shapely.Polygon(self.path(node.find("Polygon"))).difference(shapely.union_all(holes))

    def drawn(self, node: ET.Element) -> BaseGeometry:
        if node.tag == "Contour":
            return self.area(node)
        width = self.widths[node.find("LineDescRef").get("id")]
        if node.tag == "Polyline":
            points = self.path(node)
        else:
            points = [self.point(node, "startX", "startY"), self.point(node, "endX", "endY")]
            if node.tag == "Arc":
                centre = self.point(node, "centerX", "centerY")
                points = Track.arc(*points, centre, node.get("clockwise") == "true").coords()
        return shapely.LineString(points).buffer(width / 2, quad_segs=64)

    def layer(self, name: str) -> tuple[BaseGeometry, dict[str | None, BaseGeometry]]:
        """The image of a copper layer, and what is drawn dark by net."""
        image: BaseGeometry = shapely.Polygon()
        nets: dict[str | None, list[BaseGeometry]] = {}
        for entry in self.step.findall(f"LayerFeature[@layerRef='{name}']/Set"):
            shapes = []
            for node in entry:
                inner = [c for c in node if c.tag not in ("Location", "Xform", "PinRef", "StandardPrimitiveRef")]
                shapes.append(self.drawn(inner[0]) if inner else self.placed(node))
            area = shapely.union_all(shapes)
            if entry.get("polarity") == "NEGATIVE":
                image = image.difference(area)
            else:
                image = image.union(area)
                nets.setdefault(entry.get("net"), []).append(area)
        for stack in self.step.findall("PadStack"):
            for pad in stack.findall(f"LayerPad[@layerRef='{name}']"):
                image = image.union(self.placed(pad))
                nets.setdefault(stack.get("net"), []).append(self.placed(pad))
        return image, {net: shapely.union_all(shapes) for net, shapes in nets.items()}

    def holes(self) -> list[tuple[tuple[float, float], float, str, tuple[str, str], str | None]]:
        """Centre, width, plating, span and net of every hole that is round."""
        spans = {layer.get("name"): layer.find("Span") for layer in self.root.iter("Layer")}
        found = [
            (hole, spans[place.get("layerRef")], entry.get("net"))
            for place in self.step.findall("LayerFeature")
            for entry in place
            for hole in entry.findall("Hole")
        ]
        for stack in self.step.findall("PadStack"):
            found += [(hole, hole.find("Span"), stack.get("net")) for hole in stack.findall("LayerHole")]
        return [
            (
                self.point(h),
                self.number(h, "diameter"),
                h.get("platingStatus"),
                (s.get("fromLayer"), s.get("toLayer")),
                n,
            )
            for h, s, n in found
        ]


BOARDS: dict[str, Callable[[], Sketch]] = {
    "everything": everything,
    "demo": lambda: demo.tide_gauge(demo.DEMO_FAULTS),
    "bare": lambda: Sketch(layers=2),
}
POSES = [{}, {"turn": 33.3, "move": (120.5, -70.25), "mirror": True}]
FORMS = [
    {"forms": "current", "units": "mm"},
    {"forms": "current", "units": "inch"},
    {"forms": "older", "units": "micron"},
]


@pytest.mark.skipif(not SCHEMAS.exists(), reason="the schemas are not part of the project")
@pytest.mark.parametrize("pose", POSES, ids=["plain", "placed"])
@pytest.mark.parametrize("form", FORMS, ids=str)
@pytest.mark.parametrize("board", BOARDS.values(), ids=BOARDS.keys())
def test_files_are_valid(board: Callable[[], Sketch], form: dict[str, str], pose: dict[str, object]) -> None:
    """Against the schema of their revision. In the older form names are those of revision C, and no list of makers
    stands for the parts, as in files that are about."""
    revision = "C" if form["forms"] == "current" else "B"
    text = (SCHEMAS / f"IPC-2581{revision}.xsd").read_text()
    schema = etree.XMLSchema(etree.fromstring(re.sub(NAMES_B, lambda _: NAMES_C, text).encode()))
    schema.validate(etree.fromstring(board().ipc2581(**form, **pose)))
    wrong = [error.message for error in schema.error_log if "OEMDesignNumberKeyRef" not in error.message]
    assert wrong == []


@pytest.mark.parametrize("pose", POSES, ids=["plain", "placed"])
@pytest.mark.parametrize("form", FORMS, ids=str)
def test_copper_is_where_it_was_defined(form: dict[str, str], pose: dict[str, object]) -> None:
    """The image of every layer to within 1 µm all around, and the areas that each label names."""
    board = everything()
    read = Read(board.ipc2581(**form, **pose))
    place = Pose(**pose)
    for layer in range(1, 5):
        image, nets = read.layer(f"L{layer}")
        model = place.geometry(board.image(layer))
        assert shapely.hausdorff_distance(image.boundary, model.boundary) < 0.0011
        labels: dict[str | None, list[BaseGeometry]] = {}
        for feature in board.features(layer):
            if feature.dark:
                labels.setdefault(feature.label or None, []).append(place.geometry(feature.shape.polygon()))
        assert set(nets) == set(labels)
        for net, shapes in labels.items():
            assert nets[net].symmetric_difference(shapely.union_all(shapes)).area < 0.005


@pytest.mark.parametrize("form", FORMS, ids=str)
def test_holes_are_where_they_were_defined(form: dict[str, str]) -> None:
    """Place and diameter to 1 nm, plating, span and net; slots by their outline."""
    board = everything()
    read = Read(board.ipc2581(**form, turn=90.0, move=(50.0, 0.0)))
    wanted = {
        (44.0, 4.0, 0.3, "VIA", ("L1", "L4"), "A"),
        (41.0, 12.0, 0.25, "VIA", ("L1", "L2"), "GND"),
        (41.0, 17.0, 1.0, "PLATED", ("L1", "L4"), "GND"),
        (48.0, 2.0, 1.1, "NONPLATED", ("L1", "L4"), None),
    }
    found = {(round(x, 6), round(y, 6), round(d, 6), *rest) for (x, y), d, *rest in read.holes()}
    assert found == wanted
    (slot,) = read.step.iter("SlotCavity")
    inner = slot.find("Line")
    area = read.drawn(inner) if inner is not None else read.placed(slot)
    ends = shapely.LineString([(50 - 6, 15), (50 - 7, 17)])
    assert shapely.hausdorff_distance(area.boundary, ends.buffer(0.4, quad_segs=64).boundary) < 0.001


@pytest.mark.parametrize("pose", POSES, ids=["plain", "placed"])
def test_pins_of_packages_lie_on_their_pads(pose: dict[str, object]) -> None:
    """Rotated, then mirrored at the bottom, then moved to the part's place, every pin of a package is on its pad."""
    board = demo.tide_gauge()
    read = Read(board.ipc2581(**pose))
    packages = {package.get("name"): package for package in read.step.findall("Package")}
    pins = {}
    for component in read.step.findall("Component"):
        xform, (x, y) = component.find("Xform"), read.point(component.find("Location"))
        turn = math.radians(float(xform.get("rotation", 0))) if xform is not None else 0.0
        flip = -1 if xform is not None and xform.get("mirror") == "true" else 1
        for pin in packages[component.get("packageRef")].findall("Pin"):
            a, b = read.point(pin.find("Location"))
            at = (flip * (a * math.cos(turn) - b * math.sin(turn)) + x, a * math.sin(turn) + b * math.cos(turn) + y)
            pins[component.get("refDes"), pin.get("number")] = at
    pads = {(pad.component, pad.pin): Pose(**pose).point(pad.at) for pad in board.find(Pad)}
    assert set(pins) == set(pads)
    assert max(math.dist(pins[pin], pads[pin]) for pin in pads) < 0.001
    assert len(packages) < len(read.step.findall("Component")) / 2


def test_components_nets_and_stackup_are_named() -> None:
    """Values in the bill, pins in the nets that the files name, thickness and permittivity from the top."""
    board = everything()
    read = Read(board.ipc2581(units="inch"))
    bill = {
        ref.get("name"): item.find("Characteristics/Textual").get("textualCharacteristicValue")
        for item in read.root.findall("Bom/BomItem")
        for ref in item.findall("RefDes")
        if item.find("Characteristics/Textual") is not None
    }
    assert bill == {"C1": "100n", "J1": "socket"}
    nets = {
        net.get("name"): {(pin.get("componentRef"), pin.get("pin")) for pin in net}
        for net in read.step.findall("LogicalNet")
    }
    assert nets == {"A": {("U1", "1")}, "GND": {("U1", "2"), ("C1", "1"), ("J1", "A1")}, "VCC": {("C1", "2")}}
    pinned = {(ref.get("componentRef"), ref.get("pin")) for ref in read.step.findall("LayerFeature/Set/Pad/PinRef")}
    assert pinned == set().union(*nets.values())
    constants = {spec.get("name"): float(spec.find("Dielectric/Property").get("value")) for spec in read.header}
    sheets = [
        (entry.get("layerOrGroupRef"), read.number(entry, "thickness"), sum(constants[ref.get("id")] for ref in entry))
        for entry in read.root.iter("StackupLayer")
    ]
    assert [name for name, _, _ in sheets] == ["L1", "D1", "L2", "D2", "L3", "D3", "L4"]
    assert np.array([sheet[1:] for sheet in sheets]) == pytest.approx(
        np.array([(0.035, 0), (0.2, 4.2), (0.035, 0), (1.06, 4.5), (0.035, 0), (0.2, 4.2), (0.035, 0)]),
        abs=1e-6,
    )


def test_profile_has_its_corners_and_cutouts() -> None:
    """As area; round corners and the round cutout are arcs in the file."""
    board = everything()
    read = Read(board.ipc2581())
    profile = read.step.find("Profile")
    assert read.area(profile).symmetric_difference(board.profile).area < 1e-6
    assert len(list(profile.iter("PolyStepCurve"))) == 5


def test_pads_come_from_definitions_with_their_shape() -> None:
    """Revision C: the definition that a pad names has the pad's shape on that layer, and the hole's diameter."""
    read = Read(everything().ipc2581())
    stacks = {stack.get("name"): stack for stack in read.step.findall("PadStackDef")}
    pads = read.step.findall("LayerFeature")
    checked = Counter()
    for place in pads:
        for pad in place.iter("Pad"):
            entry = stacks[pad.get("padstackDefRef")].find(f"PadstackPadDef[@layerRef='{place.get('layerRef')}']")
            assert entry.find("StandardPrimitiveRef").get("id") == pad.find("StandardPrimitiveRef").get("id")
            checked[place.get("layerRef")] += 1
    assert checked == {"L1": 6, "L2": 4, "L3": 3, "L4": 5}
    holes = [hole.get("diameter") for stack in stacks.values() for hole in stack.findall("PadstackHoleDef")]
    assert sorted(holes) == ["0.25", "0.3", "1"]


@pytest.mark.parametrize("folder", demo.FOLDERS)
def test_committed_documents_are_what_the_script_writes(folder: str) -> None:
    """Byte for byte, but for the corners of pours, which may differ in the last digit and in number from one version
    of GEOS to another."""
    made = demo.documents()[folder]
    kept = (Path(demo.__file__).parent / folder / demo.DOCUMENT).read_bytes()
    if made == kept:
        return
    said = [[line for line in data.splitlines() if not line.startswith(b"<PolyStepSegment")] for data in (made, kept)]
    without = [[line for line in lines if not line.startswith(b"<PolyBegin")] for lines in said]
    assert without[0] == without[1]
    for layer in range(1, 5):
        images = [Read(data).layer(f"L{layer}")[0] for data in (made, kept)]
        assert images[0].symmetric_difference(images[1]).area < 1e-3


def test_unknown_options_are_refused() -> None:
    """Rather than written as something else."""
    with pytest.raises(ValueError, match="units are one of"):
        Sketch(layers=2).ipc2581(units="mil")
