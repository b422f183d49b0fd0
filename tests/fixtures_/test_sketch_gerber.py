"""The sketched boards are written as the Gerber format asks, checked against gerbonara as an independent reader."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
import shapely
from gerbonara.excellon import ExcellonFile
from gerbonara.utils import MM
from shapely import affinity

from fixtures_ import gerbonara_image
from sketch import Sketch, rounded_box, write_package


def everything() -> Sketch:
    """A board with one of everything that can be drawn."""
    board = Sketch(layers=4, size=(20.0, 16.0), corner=1.0, name="all")
    board.pour("GND", 1, thermal=("pad", "via"), narrowest=0.15, islands=False)
    board.pour("GND", 2, holes=[(2.0, 2.0, 6.0, 2.5)])
    board.pour("VCC", 3, (1.0, 1.0, 10.0, 15.0), clearance=0.25)
    board.pour("GND", 3, cut="clear")
    board.trace("SIG", 1, [(2, 5), (10, 5)], width=0.15)
    board.via("SIG", (10, 5))
    board.trace("SIG", 4, [(10, 5), (15, 5), (17, 7)])
    board.arc("SIG", 4, (17, 7), (17, 9), (17, 8))
    board.arc("SIG", 4, (4, 9), (4, 9), (3, 9), clockwise=True)
    board.via_row("GND", (11, 2), (18, 2), 1.0)
    board.via("GND", (4, 4), isolate=(3,))
    board.via("SIG", (12, 12), span=(1, 2))
    board.via("SIG", (13.5, 12), span=(2, 3), pads=(2,))
    board.pad("U1", "1", "GND", 1, (5, 9), (1.0, 0.5), angle=30)
    board.pad("U1", "2", "VCC", 1, (7, 9), (1.0, 0.4), "oval", angle=90)
    board.pad("U1", "3", "VCC", 1, (7, 11), (0.4, 1.0), "oval", angle=20)
    board.pad("U1", "4", "GND", 4, (7, 11), 0.6, "round")
    board.component("U1", "x,y", package="%odd*", body=(4.0, 4.0), angle=45.0)
    board.through_pad("J1", "1", "GND", (14, 9.5))
    board.through_pad("J1", "2", "SIG", (16, 9.5), pad=(1.7, 2.2), shape="oval")
    board.copper("ANT", 4, [(1, 1), (3, 1), (1, 3)])
    board.hole((3, 13), 2.2)
    board.slot((16, 13), (17.5, 14), 0.8, plated=True, net="GND", pad=1.4)
    board.slot((8, 14), (10, 14), 0.6)
    board.cutout(rounded_box(8, 7, 9.5, 10, 0.5))
    return board


PLACINGS = {
    "as drawn": {},
    "turned": {"turn": 30.0, "move": (100.0, -50.0)},
    "quarter turn in inches": {"turn": 90.0, "units": "inch"},
    "mirrored and turned in inches": {"mirror": True, "turn": 77.5, "units": "inch", "move": (12.0, 34.0)},
    "attributes in comments": {"attributes": "comments"},
    "no attributes": {"attributes": False},
}


@pytest.mark.parametrize("options", PLACINGS.values(), ids=PLACINGS.keys())
@pytest.mark.parametrize("layer", [1, 2, 3, 4])
def test_copper_reads_back_as_the_model_says(layer: int, options: dict[str, object]) -> None:
    """The image that gerbonara reads differs from the shapely model by less than 0.1 % of its area."""
    board = everything()
    read = gerbonara_image.image(gerbonara_image.read(board.gerber(rotated="macro", **options)[f"all-L{layer}.gbr"]))
    model = board.image(layer)
    if options.get("mirror"):
        model = affinity.scale(model, -1, 1, origin=(0, 0))
    model = affinity.rotate(model, options.get("turn", 0.0), origin=(0, 0))
    model = affinity.translate(model, *options.get("move", (0.0, 0.0)))
    assert read.symmetric_difference(model).area < 0.001 * model.area


def test_both_ways_to_cut_a_pour_leave_the_same_copper() -> None:
    """A region with cut-ins and a dark area with clears are one image."""
    images = []
    for cut in ("region", "clear"):
        board = everything()
        board.pour("GND", 4, cut=cut)
        images.append(gerbonara_image.image(gerbonara_image.read(board.gerber(rotated="macro")["all-L4.gbr"])))
    assert images[0].symmetric_difference(images[1]).area < 0.001 * images[0].area


def test_turned_pads_are_one_image_as_loaded_rotation_and_as_macro() -> None:
    """`%LR` bears the angle that the macro has as a parameter. As text, since gerbonara does not know `%LR`."""
    board = Sketch(layers=2, size=(5, 5))
    board.pad("U1", "1", "A", 1, (2, 2), (1.0, 0.5), angle=30)
    board.pad("U1", "2", "A", 1, (4, 4), (1.0, 0.5), angle=90)
    loaded, macro = (board.gerber(rotated=how)["board-L1.gbr"].decode() for how in ("load", "macro"))
    assert re.findall(r"%LR([\d.]+)\*%\n(?:%.*\n)?D\d+\*\n", loaded) == ["30", "0"]
    assert re.findall(r"%ADD\d+(.*)\*%", loaded) == ["R,1X0.5", "R,0.5X1"]
    assert re.findall(r"%ADD\d+(.*)\*%", macro) == ["FpRect,1X0.5X30", "R,0.5X1"]


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_holes_read_back_where_they_were_put(units: str) -> None:
    """Hits and slots of every drill file, in count, place (0.1 µm) and diameter, as gerbonara reads XNC."""
    board = everything()
    files = board.gerber(units=units, slots="rout", move=(3.3, 4.4))
    expected = {
        "all-PTH.drl": [drill for drill in board.drills if drill.plated and drill.span == (1, 4)],
        "all-Blind-1-2.drl": [drill for drill in board.drills if drill.span == (1, 2)],
        "all-Buried-2-3.drl": [drill for drill in board.drills if drill.span == (2, 3)],
        "all-NPTH.drl": [drill for drill in board.drills if not drill.plated],
    }
    assert {name for name in files if name.endswith(".drl")} == set(expected)
    for name, drills in expected.items():
        objects = ExcellonFile.from_string(files[name].decode()).objects
        found = []
        for hit in objects:
            line = [
                MM(getattr(hit, key), hit.unit) for key in (("x1", "y1", "x2", "y2") if hasattr(hit, "x1") else "xyxy")
            ]
            found.append([*line, MM(hit.aperture.diameter, hit.aperture.unit)])
        said = [[d.start[0] + 3.3, d.start[1] + 4.4, d.end[0] + 3.3, d.end[1] + 4.4, d.width] for d in drills]
        assert len(found) == len(said)
        for one, other in zip(sorted(found), sorted(said), strict=True):
            assert one == pytest.approx(other, abs=1e-4)


def test_slots_have_the_same_ends_either_way() -> None:
    """`G85` and a routed slot; as text, since gerbonara reads only the latter."""
    ways = [everything().gerber(slots=slots)["all-NPTH.drl"].decode() for slots in ("G85", "rout")]
    (drilled,) = re.findall(r"^(X.*Y.*)G85(X.*Y.*)$", ways[0], re.MULTILINE)
    (routed,) = re.findall(r"^G00(.*)\nM15\nG01(.*)\nM16\nG05$", ways[1], re.MULTILINE)
    assert drilled == routed == ("X8.0Y14.0", "X10.0Y14.0")


def test_positions_in_inches_are_right_to_a_tenth_of_a_micrometre() -> None:
    """Flashes at awkward places, read back by gerbonara."""
    points = [(0.1 * i + 0.0123457 * i, 7.7777777 / (i + 1)) for i in range(40)]
    board = Sketch(layers=2, size=(20, 20))
    board.vias("A", points)
    objects = gerbonara_image.read(board.gerber(units="inch")["board-L1.gbr"]).objects
    found = [(MM(item.x, item.unit), MM(item.y, item.unit)) for item in objects]
    for one, other in zip(found, points, strict=True):
        assert one == pytest.approx(other, abs=1e-4)


def test_attributes_say_what_the_format_asks_for() -> None:
    """File functions, aperture functions and object attributes by the names of the Gerber format, 2024.05."""
    files = everything().gerber()
    first = files["all-L1.gbr"].decode()
    functions = re.findall(r"%TF\.FileFunction,(.*)\*%", "".join(data.decode() for data in files.values()))
    assert functions[:6] == [
        "Copper,L1,Top", "Copper,L2,Inr", "Copper,L3,Inr", "Copper,L4,Bot", "Profile,NP", "Component,L1,Top",
    ]  # fmt: skip
    assert set(re.findall(r"%TA\.AperFunction,(.*)\*%", first)) == {
        "Conductor", "ViaPad", "SMDPad,CuDef", "ComponentPad", "WasherPad",
    }  # fmt: skip
    assert "%TO.N,SIG*%" in first
    assert "%TO.P,U1,1*%" in first
    assert "; #@! TF.FileFunction,Plated,1,2,Blind\n" in files["all-Blind-1-2.drl"].decode()
    component = files["all-components-top.gbr"].decode()
    assert r"%TO.CVal,x\u002Cy*%" in component
    assert r"%TO.CPkg,\u0025odd\u002A*%" in component
    assert "%TO.CRot,45*%" in component


def test_object_attributes_hold_for_their_object_only() -> None:
    """Read with a dictionary as in the format's chapter on attributes, every pad has its own pin and net."""
    board = Sketch(layers=2, size=(10, 10))
    board.trace("A", 1, [(1, 1), (2, 1)])
    board.pad("R1", "1", "A", 1, (1, 1), 0.5)
    board.pad("R1", "2", None, 1, (3, 1), 0.5)
    board.via("B", (5, 5), label="C")
    board.via("", (6, 6))
    held: dict[str, str] = {}
    seen = []
    for line in board.gerber()["board-L1.gbr"].decode().splitlines():
        if match := re.fullmatch(r"%TO\.(\w+),(.*)\*%", line):
            held[match[1]] = match[2]
        elif match := re.fullmatch(r"%TD(?:\.(\w+))?\*%", line):
            held = {key: value for key, value in held.items() if match[1] and key != match[1]}
        elif line.endswith(("D01*", "D03*")):
            seen.append(dict(held))
    assert seen == [{"N": "A"}, {"P": "R1,1", "N": "A"}, {"P": "R1,2"}, {"N": "C"}, {"N": ""}]


def test_job_file_lists_every_file_and_the_layers_from_the_top() -> None:
    """Files with their functions, thicknesses and permittivities; the stackup adds up to the board's thickness."""
    board = everything()
    files = board.gerber()
    job = json.loads(files["all.gbrjob"])
    assert {entry["Path"] for entry in job["FilesAttributes"]} == set(files) - {"all.gbrjob"}
    for entry in job["FilesAttributes"]:
        assert f"TF.FileFunction,{entry['FileFunction']}" in files[entry["Path"]].decode()
    stack = job["MaterialStackup"]
    assert [layer["Type"] for layer in stack] == ["Copper", "Dielectric"] * 3 + ["Copper"]
    assert sum(layer["Thickness"] for layer in stack) == pytest.approx(job["GeneralSpecs"]["BoardThickness"])
    assert job["GeneralSpecs"]["BoardThickness"] == pytest.approx(1.6)
    assert job["GeneralSpecs"]["Size"] == {"X": 20.0, "Y": 16.0}


def test_profile_is_closed_and_bounds_the_board() -> None:
    """Outline and cutout come back from gerbonara as closed paths around the board's area."""
    board = everything()
    lines = []
    for item in gerbonara_image.read(board.gerber()["all-profile.gbr"]).objects:
        (part,) = item.to_primitives(unit=MM)
        chords = gerbonara_image._chords(part) if hasattr(part, "cx") else [(part.x1, part.y1), (part.x2, part.y2)]
        lines.append(shapely.set_precision(shapely.LineString(chords), 1e-6))
    rings = shapely.get_parts(shapely.polygonize(lines))
    area = max(rings, key=lambda ring: ring.area)
    assert area.symmetric_difference(board.profile).area < 0.01


def test_same_definition_gives_the_same_bytes(tmp_path: Path) -> None:
    """Nothing of the day or of chance gets into a file, and what is written is what was made."""
    files = everything().gerber()
    assert everything().gerber() == files
    write_package(tmp_path / "fab", files)
    assert {path.name: path.read_bytes() for path in (tmp_path / "fab").iterdir()} == files
