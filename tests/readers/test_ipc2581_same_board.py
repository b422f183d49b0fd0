"""The same board in several forms is the same board: in Gerber, in other units, turned, in the forms of revision A."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from fencepost.board.load import load_board
from fencepost.board.model import Board
from fencepost.intake import package_from
from fencepost.settings.model import Settings
from readers.ipc2581_files import DATUM, HOLE, PROFILE, copper, file, layer_feature, one_set, read
from sketch import Sketch
from sketch import ipc2581 as writer
from sketch import package as gerber

SLIVER_MM2 = 1e-4
"""By how much the copper of one net on one layer may differ: coordinates are rounded in each form in its own way."""


@pytest.fixture(scope="module")
def sketch() -> Sketch:
    """Four layers with one of each thing that a board is made of."""
    board = Sketch(layers=4, size=(24, 16), corner=1.5)
    board.cutout((8, 1, 10, 2))
    board.pour("GND", 2)
    board.pour("GND", 3, thermal=("via",))
    board.copper("VCC", 1, shapely.box(1, 12, 5, 15).difference(shapely.box(2, 13, 4, 14)))
    board.trace("A", 1, [(3, 3), (6, 5), (6, 7)], 0.2)
    board.arc("A", 4, (4, 5), (6, 5), (5, 5), 0.2, clockwise=True)
    board.via("A", (6, 7), drill=0.3, pad=0.7)
    board.via("GND", (12, 9), drill=0.25, pad=0.5, span=(1, 2))
    board.pad("C1", "1", "GND", 4, (15, 4), (0.6, 0.5), angle=20)
    board.pad("C1", "2", "VCC", 4, (17, 4), (0.6, 0.5), "oval", angle=-70)
    board.through_pad("J1", "A1", "GND", (17, 9), pad=(1.7, 2.4), shape="oval", angle=45)
    board.slot((15, 12), (17, 13), 0.8, plated=True, net="GND", pad=1.4)
    board.hole((2, 2), 1.1)
    return board


def by_net(board: Board) -> dict[tuple[str, str], BaseGeometry]:
    """The copper of each net on each layer."""
    areas = {}
    for layer in board.copper:
        outlines = layer.outlines(np.arange(len(layer)))
        nets = board.pieces.net[layer.piece]
        for net in np.unique(nets):
            areas[layer.name, board.nets[net].name if net >= 0 else ""] = shapely.union_all(outlines[nets == net])
    return areas


def holes(board: Board) -> list[tuple[object, ...]]:
    """All that is known of each hole."""
    found = board.holes
    columns: Iterable[object] = zip(
        np.round(found.centre, 3).tolist(), np.round(found.diameter, 3).tolist(), found.plated.tolist(),
        found.first.tolist(), found.last.tolist(), found.kind.tolist(),
        [board.nets[net].name if net >= 0 else "" for net in found.net], strict=True,
    )  # fmt: skip
    return sorted(columns)


def pins(board: Board) -> dict[str, list[tuple[object, ...]]]:
    """Components with their pins."""
    return {
        part.name: sorted((p.number, board.nets[p.net].name, p.layer, round(p.x, 3), round(p.y, 3)) for p in part.pins)
        for part in board.components
    }


def load(files: dict[str, bytes]) -> Board:
    return load_board(package_from("fab", files), Settings())


def assert_same(board: Board, other: Board) -> None:
    copper_here, copper_there = by_net(board), by_net(other)
    assert copper_here.keys() == copper_there.keys()
    for place, area in copper_here.items():
        assert shapely.symmetric_difference(area, copper_there[place]).area < SLIVER_MM2, place
    assert holes(board) == holes(other)
    assert pins(board) == pins(other)
    assert board.nets == other.nets
    assert shapely.symmetric_difference(board.profile, other.profile).area < SLIVER_MM2 * 10
    assert [(gap.permittivity, gap.assumed) for gap in board.stackup.gaps] == [
        (gap.permittivity, gap.assumed) for gap in other.stackup.gaps
    ]
    heights = [[gap.thickness for gap in one.stackup.gaps] + [*one.stackup.copper] for one in (board, other)]
    assert heights[0] == pytest.approx(heights[1], abs=1e-5)


POSES = [
    {},
    {"turn": 90.0},
    {"turn": 37.0, "move": (3.0, -2.0)},
    {"mirror": True},
    {"turn": 180.0, "mirror": True, "move": (-40.0, 5.0)},
]


@pytest.mark.parametrize("pose", POSES, ids=lambda pose: " ".join(pose) or "as drawn")
@pytest.mark.parametrize("forms", ["current", "older"])
def test_ipc2581_and_gerber_hold_the_same_board(sketch, pose, forms):
    """Two writers and two readers that share no code meet in the same copper, holes, nets, pins and stackup."""
    there = load(gerber.gerber_package(sketch, gerber.Options(**pose)))
    here = load({"board.xml": writer.ipc2581(sketch, writer.Options(forms=forms, **pose))})
    assert_same(here, there)


@pytest.mark.parametrize("units", ["inch", "micron"])
@pytest.mark.parametrize("forms", ["current", "older"])
def test_units_do_not_change_the_board(sketch, units, forms):
    """Inches and micrometres against millimetres."""
    here, there = (
        load({"board.xml": writer.ipc2581(sketch, writer.Options(units=unit, forms=forms))}) for unit in (units, "mm")
    )
    assert_same(here, there)


CONTENT = (
    '<DictionaryStandard units="MILLIMETER"><EntryStandard id="pad"><RectCenter width="2" height="1"/></EntryStandard>'
    "</DictionaryStandard>"
)
REFERENCE = '<StandardPrimitiveRef id="pad"/>'


def modern() -> str:
    """A via and a pad with a pin as revisions B and C write them."""
    sets = (
        one_set('<Pad padstackDefRef="v"><Location x="5" y="5"/><Circle diameter="1"/></Pad>', net="A", padUsage="VIA"),
        one_set(
            f'<Pad padstackDefRef="p"><Xform rotation="90"/><Location x="9" y="5"/>{REFERENCE}'
            '<PinRef componentRef="C1" pin="2"/></Pad>',
            net="A",
        ),
    )
    definition = (
        '<PadStackDef name="v"><PadstackHoleDef name="h" diameter="0.3" platingStatus="VIA" plusTol="0" minusTol="0" '
        'x="0" y="0"/><PadstackPadDef layerRef="TOP" padUse="REGULAR"><Location x="0" y="0"/><Circle diameter="1"/>'
        '</PadstackPadDef><PadstackPadDef layerRef="BOTTOM" padUse="REGULAR"><Location x="0" y="0"/>'
        '<Circle diameter="1"/></PadstackPadDef></PadStackDef><PadStackDef name="p"/>'
    )
    hole = '<Hole name="h" diameter="0.3" platingStatus="VIA" plusTol="0" minusTol="0" x="5" y="5"/>'
    return (
        f"{definition}{DATUM}{PROFILE}{layer_feature('TOP', *sets)}{layer_feature('BOTTOM', sets[0])}"
        f"{layer_feature('drill', one_set(hole, net='A'))}"
    )


def older(again: bool) -> str:
    """The same as revision A writes it; `again`: with the pads in their layers as well, as some files have them."""
    stacks = (
        '<PadStack net="A"><LayerHole name="h" diameter="0.3" platingStatus="VIA" plusTol="0" minusTol="0" x="5" y="5">'
        '<Span fromLayer="TOP" toLayer="BOTTOM"/></LayerHole>'
        '<LayerPad layerRef="TOP"><Location x="5" y="5"/><Circle diameter="1"/></LayerPad>'
        '<LayerPad layerRef="BOTTOM"><Location x="5" y="5"/><Circle diameter="1"/></LayerPad></PadStack>'
        f'<PadStack net="A"><LayerPad layerRef="TOP"><Xform rotation="90"/><Location x="9" y="5"/>{REFERENCE}'
        '<PinRef componentRef="C1" pin="2"/></LayerPad></PadStack>'
    )
    route = f'<Route net="A">{layer_feature("TOP")}{layer_feature("BOTTOM")}</Route>'
    features = modern()[modern().index("<LayerFeature") :] if again else ""
    return f"{stacks}{route}{DATUM}{PROFILE}{features}"


@pytest.mark.parametrize("again", [False, True], ids=["pad stacks alone", "pads in layers as well"])
def test_pad_stacks_of_revision_a_give_the_board_of_their_modern_twin(again):
    """In a file that calls itself revision B. What stands twice counts once."""
    new, old = (read(file(step, content=CONTENT, revision="B")) for step in (modern(), older(again)))
    for here, there in zip(old.copper, new.copper, strict=True):
        assert copper(here).equals(copper(there))
        assert sorted(here.xy.tolist()) == sorted(there.xy.tolist())
        for column in ("net", "pin", "function"):
            said = [
                sorted(one.values[i] if i >= 0 else () for i in getattr(one, column)) for one in (here, there)
            ]  # fmt: skip
            assert said[0] == said[1], column
    for here, there in zip(old.drills, new.drills, strict=True):
        assert (here.plated, here.first, here.last) == (there.plated, there.first, there.last) == (True, 1, 2)
        assert here.hits.start.tolist() == there.hits.start.tolist() == [[5, 5]]
        assert here.hits.diameter.tolist() == there.hits.diameter.tolist()


def test_a_route_of_revision_a_lends_its_net_to_its_layers():
    """Route has the net, the Sets in it have none."""
    trace = (
        '<Features><Line startX="0" startY="0" endX="5" endY="0"><LineDesc lineEnd="ROUND" lineWidth="0.2"/></Line>'
        "</Features>"
    )
    step = (
        f'<Route net="A">{layer_feature("TOP", one_set(trace))}</Route>{DATUM}{PROFILE}'
        f"{layer_feature('BOTTOM', one_set(trace))}{layer_feature('drill', one_set(HOLE))}"
    )
    top, bottom = read(file(step, revision="A")).copper
    assert [top.values[i] for i in top.net] == [("A",)]
    assert bottom.net.tolist() == [-1]
