"""What an IPC-2581 file says of the board: layers, stackup, profile, holes, nets, pins, components."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from fencepost.board.assemble import assemble
from fencepost.board.model import HoleKind
from fencepost.board.sources import StackEntry
from fencepost.errors import InputError
from fencepost.settings.model import DrillClaim, Settings
from readers.ipc2581_files import (
    DATUM,
    DRILL,
    HOLE,
    PROFILE,
    TWO_LAYERS,
    board_of,
    copper,
    features,
    file,
    layer_feature,
    one_set,
    polygon,
    read,
    value,
)

DISC = '<Circle diameter="2"/>'


def layer(name: str, function: str = "CONDUCTOR", side: str = "INTERNAL", inside: str = "") -> str:
    return f'<Layer name="{name}" layerFunction="{function}" side="{side}" polarity="POSITIVE">{inside}</Layer>'


def four_layers(order: str, stackup: str = "", functions: tuple[str, ...] = ("CONDUCTOR",) * 4) -> bytes:
    """Layers A to D from the top, declared in `order`; a disc 1, 2, 3 and 4 mm wide on them."""
    sides = {"A": "TOP", "B": "INTERNAL", "C": "INTERNAL", "D": "BOTTOM"}
    use = dict(zip("ABCD", functions, strict=True))
    layers = "".join(layer(name, use[name], sides[name]) for name in order)
    copper_layers = "".join(
        layer_feature(name, features(f'<Circle diameter="{i}"/>')) for i, name in enumerate("ABCD", 1)
    )
    drill = layer("drill", "DRILL", "ALL", '<Span fromLayer="A" toLayer="D"/>')
    step = f"{DATUM}{PROFILE}{copper_layers}{layer_feature('drill', one_set(HOLE))}"
    return file(step, layers=layers + drill + DIELECTRICS + stackup, header=HEADER)


HEADER = (
    '<CadHeader units="MILLIMETER">'
    '<Spec name="prepreg"><Dielectric type="DIELECTRIC_CONSTANT"><Property value="4.1"/></Dielectric></Spec>'
    '<Spec name="core"><Dielectric type="LOSS_TANGENT"><Property value="0.02"/></Dielectric>'
    '<Dielectric type="DIELECTRIC_CONSTANT"><Property text="4.5 at 1 GHz"/></Dielectric></Spec></CadHeader>'
)
DIELECTRICS = layer("P1", "DIELPREG") + layer("K", "DIELCORE") + layer("P2", "DIELPREG") + layer("M", "SOLDERMASK")


def sheet(name: str, thickness: float, sequence: int, spec: str = "") -> str:
    inside = f'<SpecRef id="{spec}"/>' if spec else ""
    return (
        f'<StackupLayer layerOrGroupRef="{name}" thickness="{thickness}" tolPlus="0" tolMinus="0" '
        f'sequence="{sequence}">{inside}</StackupLayer>'
    )


SHEETS = [
    sheet("M", 0.02, 1), sheet("A", 0.035, 2), sheet("P1", 0.1, 3, "prepreg"), sheet("B", 0.018, 4),
    sheet("K", 1.2, 5, "core"), sheet("C", 0.018, 6), sheet("P2", 0.1, 7, "prepreg"), sheet("D", 0.035, 8),
]  # fmt: skip


def stackup(*sheets: str) -> str:
    return (
        '<Stackup name="s" overallThickness="1.506" tolPlus="0" tolMinus="0" whereMeasured="METAL">'
        f'<StackupGroup name="g" thickness="1.5" tolPlus="0" tolMinus="0">{"".join(sheets)}</StackupGroup></Stackup>'
    )


def sizes(data: bytes) -> list[float]:
    """Widths of the discs from the top copper layer down."""
    return [round(copper(artwork).bounds[2] * 2, 3) for artwork in read(data).copper]


@pytest.mark.parametrize("order", ["ABCD", "DBAC", "BCDA"])
def test_layers_are_counted_from_the_top_by_their_sides(order):
    """Inner layers keep the order in which the file has them; top and bottom go where they belong."""
    assert sizes(four_layers(order)) == [1, 2, 3, 4]


@pytest.mark.parametrize("order", ["ABCD", "DCBA", "CADB"])
@pytest.mark.parametrize("sheets", [SHEETS, SHEETS[::-1]], ids=["in sequence", "backwards"])
def test_the_stackup_orders_layers_whatever_the_order_in_the_file(order, sheets):
    """By the sequence numbers, and not by the order of the elements."""
    sources = read(four_layers(order, stackup(*sheets)))
    assert sizes(four_layers(order, stackup(*sheets))) == [1, 2, 3, 4]
    assert sources.thickness == 1.506
    assert sources.stack == (
        StackEntry(True, 0.035), StackEntry(False, 0.1, 4.1), StackEntry(True, 0.018), StackEntry(False, 1.2, 4.5),
        StackEntry(True, 0.018), StackEntry(False, 0.1, 4.1), StackEntry(True, 0.035),
    )  # fmt: skip


def test_the_stackup_reaches_the_board():
    """Gaps and copper as the file has them, nothing assumed."""
    built = assemble(read(four_layers("ABCD", stackup(*SHEETS))), Settings()).stackup
    assert [gap.thickness for gap in built.gaps] == [0.1, 1.2, 0.1]
    assert [gap.permittivity for gap in built.gaps] == [4.1, 4.5, 4.1]
    assert not any(gap.assumed for gap in built.gaps)
    assert built.copper == (0.035, 0.018, 0.018, 0.035)


def test_a_stackup_from_the_bottom_up_is_turned_over():
    """The sides say which end is the top."""
    upward = [text.replace('sequence="', 'sequence="-') for text in SHEETS]
    sources = read(four_layers("ABCD", stackup(*upward)))
    assert sizes(four_layers("ABCD", stackup(*upward))) == [1, 2, 3, 4]
    assert sources.stack[1] == StackEntry(False, 0.1, 4.1)


def test_a_stackup_with_a_group_inside_another_is_opened():
    """The inner group's sheets lie where the outer one refers to it."""
    core = "".join(SHEETS[3:6])
    outer = "".join([*SHEETS[1:3], '<StackupLayer layerOrGroupRef="inner" thickness="1.3"/>', *SHEETS[6:]])
    text = (
        f'<Stackup name="s" overallThickness="1.5"><StackupGroup name="outer" thickness="1.5">{outer}</StackupGroup>'
        f'<StackupGroup name="inner" thickness="1.2">{core}</StackupGroup></Stackup>'
    )
    assert [entry.copper for entry in read(four_layers("DCBA", text)).stack] == [True, False] * 3 + [True]


def test_a_stackup_that_lacks_a_layer_is_not_used():
    """The order is then that of the sides, and nothing is said of thicknesses."""
    sources = read(four_layers("ABCD", stackup(*SHEETS[:4])))
    assert sources.stack == ()
    assert sources.thickness is None


@pytest.mark.parametrize("function", ["CONDUCTOR", "SIGNAL", "PLANE", "MIXED", "CONDFILM", "CONDFOIL"])
def test_functions_of_copper(function):
    """Whatever word for copper a layer has, its features are copper."""
    assert sizes(four_layers("ABCD", functions=("SIGNAL", function, function, "SIGNAL"))) == [1, 2, 3, 4]


def test_a_layer_without_a_known_function_is_named_by_settings_or_refused():
    """With nets on it, it may be copper; settings say which."""
    sets = one_set(f"<Features>{DISC}</Features>", net="GND")
    layers = TWO_LAYERS + layer("mystery", "OTHER") + DRILL
    step = board_of([]) + layer_feature("mystery", sets)
    with pytest.raises(InputError, match="mystery") as caught:
        read(file(step, layers=layers))
    assert 'mystery = "L1"' in caught.value.cure
    assert len(read(file(step, layers=layers), Settings(layers={"mystery": "L2"})).copper) == 3
    assert len(read(file(step, layers=layers), Settings(layers={"mystery": "other"})).copper) == 2


def test_a_layer_without_a_known_function_or_nets_is_left_out_with_a_note():
    """Drawings need not be copper, and whatever stands on them is not looked at."""
    layers = TWO_LAYERS + layer("drawing", "OTHER") + DRILL
    step = board_of([]) + layer_feature("drawing", features('<Text textString="x" fontSize="1"/>'))
    assert any("'drawing'" in note and "left out" in note for note in read(file(step, layers=layers)).notes)


def test_what_conducts_and_is_no_copper_layer_is_said():
    """A film of resistors is left out, with a note."""
    layers = TWO_LAYERS + layer("film", "RESISTIVE") + DRILL
    sources = read(file(board_of([]) + layer_feature("film", features(DISC)), layers=layers))
    assert len(sources.copper) == 2
    assert any("'film' conducts" in note for note in sources.notes)


def test_the_profile_with_its_cutouts_and_curves():
    """A box of 60 by 60 with a round hole of 10 mm radius."""
    hole = (
        '<Cutout><PolyBegin x="40" y="30"/><PolyStepCurve x="20" y="30" centerX="30" centerY="30" clockwise="false"/>'
        '<PolyStepCurve x="40" y="30" centerX="30" centerY="30" clockwise="false"/></Cutout></Profile>'
    )
    profile = read(file(board_of([]).replace("</Profile>", hole))).profile
    assert profile.area == pytest.approx(3600 - math.pi * 100, rel=1e-4)


def test_a_file_without_a_profile_has_none():
    """It is not made up here."""
    assert read(file(board_of([]).replace(PROFILE, ""))).profile is None


# Holes


def hole(x: float, y: float, diameter: float = 0.3, plating: str = "VIA") -> str:
    return f'<Hole name="h" diameter="{diameter}" platingStatus="{plating}" plusTol="0" minusTol="0" x="{x}" y="{y}"/>'


def rows(data: bytes, settings: Settings | None = None) -> list[tuple[float, float, float, bool, int, int]]:
    """x, y, diameter, plated, first and last layer of all holes."""
    found = [
        (*(drilled.hits.start[i] + drilled.hits.end[i]) / 2, drilled.hits.diameter[i], *_said(drilled))
        for drilled in read(data, settings).drills
        for i in range(len(drilled.hits))
    ]
    return sorted((round(x, 6), round(y, 6), round(d, 6), *rest) for x, y, d, *rest in found)


def _said(drilled) -> tuple[bool, int, int]:
    return drilled.plated, drilled.first, drilled.last


@pytest.mark.parametrize(
    ("plating", "plated"), [("VIA", True), ("VIA_CAPPED", True), ("PLATED", True), ("NONPLATED", False)]
)
def test_plating_of_holes(plating, plated):
    """As the words say."""
    assert rows(file(board_of([], drill=[hole(1, 2, 0.4, plating)]))) == [(1, 2, 0.4, plated, 1, 2)]


def test_a_square_hole_is_said_to_be_taken_as_a_round_one():
    """Revision C knows them; the board does not."""
    notes = read(file(board_of([], drill=[HOLE.replace("<Hole", '<Hole type="SQUARE"')]))).notes
    assert any("square hole" in note for note in notes)


def test_a_hole_drilled_out_again_keeps_its_barrel_and_says_so():
    """A wider hole that is not plated, in the middle of a plated one: backdrilling is not counted."""
    wide = HOLE.replace('"VIA"', '"NONPLATED"').replace("0.3", "0.5")
    data = file(board_of([], drill=[HOLE, wide]))
    assert rows(data) == [(50, 50, 0.3, True, 1, 2)]
    assert any("barrels are taken to be whole" in note for note in read(data).notes)


def test_holes_go_from_layer_to_layer():
    """The Span of a drill layer, in copper layers from the top, either way round."""
    layers = "".join(layer(name, side=side) for name, side in zip("ABCD", ("TOP", "", "", "BOTTOM"), strict=True))
    drills = layer("d1", "DRILL", "ALL", '<Span fromLayer="C" toLayer="B"/>')
    drills += layer("d2", "DRILL", "ALL", '<Span fromLayer="mask" toLayer="B"/>') + layer("mask", "SOLDERMASK", "TOP")
    features_ = "".join(layer_feature(name) for name in "ABCD")
    features_ += layer_feature("d1", one_set(hole(1, 1))) + layer_feature("d2", one_set(hole(2, 2)))
    assert rows(file(features_, layers=layers + drills)) == [(1, 1, 0.3, True, 2, 3), (2, 2, 0.3, True, 1, 2)]


def test_a_drill_layer_without_a_span_goes_through_and_says_so():
    """It is an assumption, and printed."""
    data = file(board_of([]), layers=TWO_LAYERS + layer("drill", "DRILL", "ALL"))
    assert rows(data) == [(50, 50, 0.3, True, 1, 2)]
    assert any("does not say between which layers" in note for note in read(data).notes)


def test_settings_name_the_span_of_a_drill_layer():
    """What a person wrote comes first."""
    claim = Settings(drill={"drill": DrillClaim(plated=True, span=(1, 2))})
    layers = TWO_LAYERS + DRILL.replace('toLayer="BOTTOM"', 'toLayer="nowhere"')
    with pytest.raises(InputError, match="the layer 'nowhere'") as caught:
        read(file(board_of([]), layers=layers))
    assert "[drill.drill]" in caught.value.cure
    assert rows(file(board_of([]), layers=layers), claim) == [(50, 50, 0.3, True, 1, 2)]


@pytest.mark.parametrize(("name", "whole"), [("drill_1-2", True), ("drill_1-6", False), ("DRILL 1-4", False)])
def test_a_drill_layer_that_counts_more_layers_than_the_file_holds_is_refused(name, whole):
    """A file of the outer layers alone is not the board."""
    layers = TWO_LAYERS + DRILL.replace('name="drill"', f'name="{name}"')
    data = file(board_of([]).replace('layerRef="drill"', f'layerRef="{name}"'), layers=layers)
    if whole:
        assert len(read(data).copper) == 2
        return
    with pytest.raises(InputError, match="inner layers were left out") as caught:
        read(data)
    assert caught.value.line == 5
    claim = Settings(drill={name: DrillClaim(plated=True, span=(1, 2))})
    assert len(read(data, claim).copper) == 2


def slot(inside: str, plating: str = "PLATED") -> str:
    return f'<SlotCavity name="s" platingStatus="{plating}" plusTol="0" minusTol="0">{inside}</SlotCavity>'


PLACE = '<Location x="10" y="20"/>'
CAPSULE = (
    '<Outline><Polygon><PolyBegin x="9" y="19.5"/><PolyStepSegment x="11" y="19.5"/>'
    '<PolyStepCurve x="11" y="20.5" centerX="11" centerY="20" clockwise="false"/><PolyStepSegment x="9" y="20.5"/>'
    '<PolyStepCurve x="9" y="19.5" centerX="9" centerY="20" clockwise="false"/></Polygon>'
    '<LineDesc lineEnd="ROUND" lineWidth="0"/></Outline>'
)


@pytest.mark.parametrize(
    ("inside", "start", "end", "width"),
    [
        (f'{PLACE}<Oval width="3" height="1"/>', (9, 20), (11, 20), 1),
        (f'{PLACE}<Xform rotation="90"/><Oval width="3" height="1"/>', (10, 19), (10, 21), 1),
        (f'{PLACE}<RectRound width="3" height="1" radius="0.5"/>', (9, 20), (11, 20), 1),
        (f'{PLACE}<Circle diameter="1.5"/>', (10, 20), (10, 20), 1.5),
        (f'{PLACE}<RectCenter width="3" height="1"/>', (9, 20), (11, 20), 1),
        (CAPSULE, (9, 20), (11, 20), 1),
        (
            '<Line startX="9" startY="20" endX="11" endY="20"><LineDesc lineEnd="ROUND" lineWidth="1"/></Line>',
            (9, 20),
            (11, 20),
            1,
        ),
    ],
)
def test_slots(inside, start, end, width):
    """As revision C writes them with a place, and A and B with a line or an outline."""
    (drilled,) = read(file(board_of([], drill=[slot(inside)]))).drills
    ends = sorted(map(tuple, [drilled.hits.start[0], drilled.hits.end[0]]))
    assert np.array(ends) == pytest.approx(np.array([start, end]), abs=2e-3)
    assert drilled.hits.diameter[0] == pytest.approx(width, abs=2e-3)
    assert drilled.plated


def test_a_slot_of_revision_a():
    """Slot is the older name of SlotCavity."""
    text = slot(CAPSULE).replace("SlotCavity", "Slot")
    (drilled,) = read(file(board_of([], drill=[text]), revision="A")).drills
    assert drilled.hits.diameter[0] == pytest.approx(1, abs=2e-3)


def test_an_opening_that_is_no_slot_is_cut_out_of_the_profile_unless_it_is_plated():
    """A triangle of 50 mm²; plated, it cannot be read."""
    triangle = f"<Outline>{polygon((10, 10), (20, 10), (10, 20))}<LineDesc lineEnd='ROUND' lineWidth='0'/></Outline>"
    sources = read(file(board_of([], drill=[HOLE, slot(triangle, "NONPLATED")])))
    assert sources.profile.area == pytest.approx(3600 - 50)
    with pytest.raises(InputError, match="plated opening"):
        read(file(board_of([], drill=[HOLE, slot(triangle)])))


def test_holes_of_pad_stacks_count_where_the_file_lists_none_at_their_place():
    """The pad at (5, 5) has a listed hole, the one at (9, 9) has not."""
    definition = (
        '<PadStackDef name="v"><PadstackHoleDef name="h" diameter="0.4" platingStatus="VIA" plusTol="0" minusTol="0" '
        'x="0" y="0"/><PadstackPadDef layerRef="TOP" padUse="REGULAR"><Location x="0" y="0"/><Circle diameter="1"/>'
        '</PadstackPadDef><PadstackPadDef layerRef="BOTTOM" padUse="REGULAR"><Location x="0" y="0"/>'
        '<Circle diameter="2"/></PadstackPadDef></PadStackDef>'
    )
    pads = [one_set(f'<Pad padstackDefRef="v"><Location x="{x}" y="{x}"/></Pad>', net="A") for x in (5, 9)]
    sources = read(file(board_of(pads, pads, drill=[hole(5, 5, 0.4)], first=definition)))
    assert rows(file(board_of(pads, pads, drill=[hole(5, 5, 0.4)], first=definition))) == [
        (5, 5, 0.4, True, 1, 2),
        (9, 9, 0.4, True, 1, 2),
    ]
    assert any("taken from the pad stack" in note for note in sources.notes)
    areas = [copper(artwork).area for artwork in sources.copper]
    assert areas == pytest.approx([2 * math.pi / 4, 2 * math.pi], rel=1e-2), "shapes come from the pad stack as well"


def test_stacked_microvias_are_two_holes_and_a_hole_listed_twice_is_one():
    """The same place and size between other layers is another hole."""
    layers = "".join(layer(name, side=side) for name, side in zip("ABC", ("TOP", "", "BOTTOM"), strict=True))
    for i, (a, b) in enumerate((("A", "B"), ("B", "C"), ("B", "C"))):
        layers += layer(f"d{i}", "DRILL", "ALL", f'<Span fromLayer="{a}" toLayer="{b}"/>')
    step = "".join(layer_feature(name) for name in "ABC")
    step += "".join(layer_feature(f"d{i}", one_set(hole(1, 1))) for i in range(3))
    assert rows(file(step, layers=layers)) == [(1, 1, 0.3, True, 1, 2), (1, 1, 0.3, True, 2, 3)]
    assert any("listed twice" in note for note in read(file(step, layers=layers)).notes)


# Nets, pins and components


def pad(x: float, pin: str = "", shape: str = DISC) -> str:
    reference = f'<PinRef componentRef="{pin.split(".")[0]}" pin="{pin.split(".")[1]}"/>' if pin else ""
    return f'<Pad><Location x="{x}" y="0"/>{shape}{reference}</Pad>'


COMPONENTS = (
    '<Package name="p2" type="CHIP" pinOneOrientation="OTHER">'
    '<Pin number="1" type="SURFACE"><Location x="-1" y="0"/><Circle diameter="1"/></Pin>'
    '<Pin number="2" type="SURFACE"><Location x="1" y="0"/><Circle diameter="1"/></Pin></Package>'
    '<Component refDes="C7" packageRef="p2" layerRef="TOP" part="x" mountType="SMT">'
    '<Xform rotation="90"/><Location x="10" y="20"/></Component>'
)


def test_nets_and_pins_of_pads():
    """The Set's net, the pad's PinRef."""
    artwork = read(file(board_of([one_set(pad(1, "C7.2"), net="VCC")], first=COMPONENTS))).copper[0]
    assert value(artwork, artwork.net) == ("VCC",)
    assert value(artwork, artwork.pin) == ("C7", "2")
    assert value(artwork, artwork.component) == ("C7",)


@pytest.mark.parametrize("name", ["", "No Net", "NO_NET", "N/C", "<no net>".replace("<", "&lt;")])
def test_a_net_that_is_none_is_no_label(name):
    """Pads without a net are not one net."""
    artwork = read(file(board_of([one_set(pad(1), net=name)]))).copper[0]
    assert artwork.net.tolist() == [-1]


def test_a_pad_finds_its_net_by_its_pin_in_a_logical_net():
    """For files that label pads with pins alone."""
    nets = '<LogicalNet name="VCC"><PinRef componentRef="C7" pin="2"/></LogicalNet>'
    artwork = read(file(board_of([one_set(pad(1, "C7.2") + pad(5, "C7.1"))], first=COMPONENTS + nets))).copper[0]
    assert [value(artwork, artwork.net, row) for row in range(2)] == [("VCC",), ()]


def test_a_pad_finds_its_net_at_a_point_of_a_physical_net():
    """For files that label points alone; on the layer of the point, and not on the other."""
    nets = (
        '<PhyNetGroup name="g"><PhyNet name="VCC"><PhyNetPoint x="1" y="0" layerRef="TOP" netNode="END" '
        'exposure="EXPOSED"/></PhyNet></PhyNetGroup>'
    )
    top, bottom = read(file(board_of([one_set(pad(1) + pad(2))], [one_set(pad(1))], first=nets))).copper
    assert [value(top, top.net, row) for row in range(2)] == [("VCC",), ()]
    assert value(bottom, bottom.net) == ()


def test_a_component_without_pins_on_copper_finds_its_pads_by_its_package():
    """Turned by 90 degrees about (10, 20), its pins lie at (10, 19) and (10, 21): on the top, where it is."""
    pads = [one_set(f'<Pad><Location x="10" y="{y}"/>{DISC}</Pad>', net=net) for y, net in ((19, "A"), (21, "B"))]
    top, bottom = read(file(board_of(pads, pads, first=COMPONENTS))).copper
    assert [value(top, top.pin, row) for row in range(2)] == [("C7", "1"), ("C7", "2")]
    assert bottom.pin.tolist() == [-1, -1]


def test_a_two_pin_capacitor_is_a_component_of_the_board():
    """With its value from the bill of materials, its mounting and its place."""
    bill = (
        '<Bom name="b"><BomItem OEMDesignNumberRef="x" quantity="1" category="ELECTRICAL"><RefDes name="C7" '
        'populate="false"/><Characteristics category="ELECTRICAL"><Textual textualCharacteristicName="VALUE" '
        'textualCharacteristicValue="100n"/></Characteristics></BomItem></Bom><Ecad'
    )
    pads = [one_set(pad(1, "C7.1"), net="GND"), one_set(pad(5, "C7.2"), net="VCC")]
    data = file(board_of(pads, first=COMPONENTS)).replace(b"<Ecad", bill.encode())
    board = assemble(read(data), Settings())
    (part,) = board.components
    assert [(pin.number, board.nets[pin.net].name, pin.x) for pin in part.pins] == [("1", "GND", 1), ("2", "VCC", 5)]
    assert part.attributes == {
        ".CVal": ("100n",), ".CFtp": ("p2",), ".CMnt": ("SMD",), ".CRot": ("90",), "populate": ("false",)
    }  # fmt: skip


@pytest.mark.parametrize(("net", "part", "pin"), [("NET:", "CMP:", "PIN:"), ("NET_", "CMP_", "PIN_"), ("", "", "")])
def test_qualifiers_that_all_names_share_are_no_part_of_them(net, part, pin):
    """ "CMP_R1" is no capacitor. A net that lacks the qualifier keeps all of them as they are."""
    pads = [one_set(pad(1, f"{part}C7.{pin}1"), net=f"{net}GND"), one_set(pad(5, f"{part}R1.{pin}2"), net=f"{net}A_B")]
    first = COMPONENTS.replace('refDes="C7"', f'refDes="{part}C7"')
    first += f'<LogicalNet name="{net}GND" netPair="{net}A_B"/>'
    sources = read(file(board_of(pads, first=first)))
    artwork = sources.copper[0]
    assert [value(artwork, artwork.net, row) for row in range(2)] == [("GND",), ("A_B",)]
    assert [value(artwork, artwork.pin, row) for row in range(2)] == [("C7", "1"), ("R1", "2")]
    assert list(artwork.component_attributes) == ["C7"]
    assert sources.pairs == (("A_B", "GND"),)
    plain = read(file(board_of([*pads, one_set(pad(9), net="X")], first=first))).copper[0]
    assert value(plain, plain.net) == (f"{net}GND",)


@pytest.mark.parametrize(
    "nets",
    [
        '<LogicalNet name="D_P" netPair="D_N"/><LogicalNet name="D_N" netPair="D_P"/>',
        '<LogicalNet name="D_P" netPair="usb"/><LogicalNet name="D_N" netPair="usb"/>'
        '<LogicalNet name="E" netPair="x"/>',
    ],
)
def test_pairs_of_nets(nets):
    """netPair names the other net, or something that both share."""
    assert read(file(board_of([], first=nets))).pairs == (("D_N", "D_P"),)


def test_what_the_file_says_that_nets_are_for():
    """netClass of a LogicalNet."""
    nets = '<LogicalNet name="GND" netClass="GROUND"/><LogicalNet name="A"/>'
    assert read(file(board_of([], first=nets))).net_classes == {"GND": "GROUND"}


def test_names_that_dangle_are_said():
    """A pad of a component that is not listed, copper of a net that is not, a fill that no dictionary has."""
    nets = '<LogicalNet name="VCC"><PinRef componentRef="C7" pin="2"/></LogicalNet>'
    shape = '<Circle diameter="1"><FillDescRef id="gone"/></Circle>'
    notes = read(file(board_of([one_set(pad(1, "X1.1", shape), net="GND")], first=COMPONENTS + nets))).notes
    for said in ("component that the file does not list", "net that no LogicalNet names", "FillDescRef names no entry"):
        assert any(said in note and note.startswith("board.xml:6:") for note in notes), said


@pytest.mark.parametrize(
    ("pin", "plating", "usage", "word"),
    [
        ("C7.1", "PLATED", "", ("ComponentPad",)),
        ("C7.1", "VIA", "", ("SMDPad",)),
        ("C7.1", "", "", ("SMDPad",)),
        ("", "VIA", "", ("ViaPad",)),
        ("", "", "VIA", ("ViaPad",)),
        ("", "", "", ()),
        ("C7.1", "NONPLATED", "", ()),
    ],
)
def test_what_pads_are_for(pin, plating, usage, word):
    """From the hole in the middle of the pad and the pin on it; a via in a component's pad leaves it a component's."""
    drill = [HOLE, hole(1, 0, 0.3, plating)] if plating else [HOLE]
    said = {"padUsage": usage} if usage else {}
    artwork = read(file(board_of([one_set(pad(1, pin), **said)], drill=drill))).copper[0]
    assert value(artwork, artwork.function) == word


def test_kinds_of_holes():
    """Vias as the file calls them; of the other plated ones those in a pad with a pin take it."""
    drill = [hole(1, 0), hole(2, 0, 0.4, "PLATED"), hole(3, 0, 0.5, "PLATED"), hole(4, 0, 0.6, "NONPLATED")]
    pads = [one_set(pad(x, pin), net="A") for x, pin in ((1, ""), (2, "C7.1"), (3, ""), (4, ""))]
    board = assemble(read(file(board_of(pads, drill=drill))), Settings())
    kinds = {round(float(d), 1): HoleKind(k) for d, k in zip(board.holes.diameter, board.holes.kind, strict=True)}
    assert kinds == {
        0.3: HoleKind.VIA, 0.4: HoleKind.COMPONENT, 0.5: HoleKind.MECHANICAL, 0.6: HoleKind.MECHANICAL
    }  # fmt: skip


# Steps


def test_a_panel_is_said_and_its_board_is_checked_once():
    """The board step is read, the panel's own copper is not."""
    panel = (
        f'<Step name="panel" type="PALLET">{DATUM}<StepRepeat stepRef="board" x="0" y="0" nx="2" ny="3" dx="70" '
        f'dy="70" angle="0" mirror="false"/>{layer_feature("TOP", features(DISC))}</Step>'
    )
    sources = read(file(board_of([features(DISC, PLACE)]), more=panel))
    assert len(sources.copper[0]) == 1
    assert sources.copper[0].xy.tolist() == [[10, 20]]
    assert any("'panel' holds 'board' 6 times" in note for note in sources.notes)


def test_of_several_boards_the_one_that_the_file_names_is_taken():
    """Content names the step; without that the file is refused."""
    other = f'<Step name="other">{board_of([features(DISC), features(DISC)])}</Step>'
    named = read(file(board_of([features(DISC)]), more=other, content='<StepRef name="other"/>'))
    assert len(named.copper[0]) == 2
    assert any("'other' is checked" in note for note in named.notes)
    with pytest.raises(InputError, match="several boards"):
        read(file(board_of([features(DISC)]), more=other))


def test_a_panel_of_a_step_that_is_missing_is_refused():
    """What it repeats is not in the file."""
    panel = f'<Step name="panel">{DATUM}<StepRepeat stepRef="gone" x="0" y="0" nx="2" ny="3"/></Step>'
    with pytest.raises(InputError, match="repeats 'gone'"):
        read(file(board_of([features(DISC)]), more=panel))


def test_copper_is_where_shapely_says():
    """A profile given as a polygon holds all copper of a board that is inside it."""
    sources = read(file(board_of([features(DISC, PLACE)])))
    assert shapely.contains(sources.profile, copper(sources.copper[0]))
