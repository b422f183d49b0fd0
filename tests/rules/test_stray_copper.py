"""stray-copper: boards that pass and boards that fail."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
import shapely
from fencepost_rules.net_agreement import NetAgreement
from fencepost_rules.stray_copper import StrayCopper

from boards import board_from, board_of, findings_of, outcome_of
from fencepost.checking.finding import Finding, Severity, Unchecked
from sketch import Sketch
from sketch.items import Copper, Trace
from sketch.path import Pose


def clean() -> Sketch:
    """Ground on both layers, tied; a signal from pad to pad by a via; a pad without a net."""
    sketch = Sketch(layers=2, size=(30.0, 20.0), gaps=[(0.3, 4.0)])
    sketch.pour("GND", 1, (16, 1, 29, 19))
    sketch.pour("GND", 2)
    sketch.vias("GND", [(18, 4), (27, 4), (18, 16)])
    sketch.pad("U1", "1", "SIG", 1, (3, 10), (0.6, 0.6))
    sketch.trace("SIG", 1, [(3, 10), (8, 10)])
    sketch.via("SIG", (8, 10))
    sketch.trace("SIG", 2, [(8, 10), (12, 10)])
    sketch.pad("U2", "1", "SIG", 2, (12, 10), (0.6, 0.6))
    sketch.pad("U1", "2", "", 1, (3, 12), (0.6, 0.6))
    sketch.pad("U1", "3", "GND", 1, (20, 10), (0.6, 0.6))
    sketch.pad("U2", "2", "GND", 2, (20, 10), (0.6, 0.6))
    return sketch


def check(sketch: Sketch, settings: str = "", **options) -> list[Finding]:
    return findings_of(StrayCopper, board_of(sketch, settings, **options), settings)


def drawn_as(sketch: Sketch, function: str) -> None:
    """The last item with another aperture function."""
    sketch.replace(sketch.items[-1], function=(function,))


def patch(sketch: Sketch, *, pin: bool = False, tied: bool = False) -> None:
    """Ground of its own on both layers, in a window of the plane, joined by two vias."""
    (plane,) = (item for item in sketch.items if getattr(item, "net", "") == "GND" and getattr(item, "layer", 0) == 2)
    sketch.replace(plane, holes=(shapely.box(2, 2, 9, 7),))
    sketch.copper("GND", 1, (3, 3, 8, 6))
    sketch.copper("GND", 2, (3, 3, 8, 6))
    sketch.vias("GND", [(4, 4), (7, 4)])
    if pin:
        sketch.pad("U3", "1", "GND", 1, (5, 5), (0.6, 0.6))
    if tied:
        sketch.trace("GND", 1, [(7, 4), (18, 4)], 0.3)


# One change to the clean board, and the copper that is then stray: net, layers, area.

CASES: dict[str, tuple[Callable[[Sketch], object], list[tuple[str, tuple[str, ...], float]]]] = {
    "nothing is changed": (lambda s: None, []),
    "an island of ground": (lambda s: s.copper("GND", 1, (5, 3, 7.5, 4.5)), [("GND", ("L1",), 3.75)]),
    "an island that a track of its net reaches": (
        lambda s: (s.copper("GND", 1, (5, 3, 7.5, 4.5)), s.trace("GND", 1, [(6, 4), (18, 4)], 0.3)), []),
    "an island with a via into the plane": (
        lambda s: (s.copper("GND", 1, (5, 3, 7.5, 4.5)), s.via("GND", (6, 4))), []),
    "an island with a via that is not plated": (
        lambda s: (s.copper("GND", 1, (5, 3, 7.5, 4.5)), s.via("GND", (6, 4), plated=False, pads=())),
        [("GND", ("L1",), 3.75)]),
    "an island with a pad of a part": (
        lambda s: (s.copper("GND", 1, (5, 3, 7.5, 4.5)), s.pad("U3", "1", "GND", 1, (6, 4), (0.6, 0.6))), []),
    "two islands": (
        lambda s: (s.copper("GND", 1, (5, 3, 7.5, 4.5)), s.copper("GND", 1, (9, 3, 11, 5))),
        [("GND", ("L1",), 3.75), ("GND", ("L1",), 4.0)]),
    "the rest of a track": (
        lambda s: s.trace("SIG", 1, [(3, 5), (13, 5)], 0.2), [("SIG", ("L1",), 10 * 0.2 + math.pi * 0.01)]),
    "an island of a supply": (lambda s: s.copper("VCC", 1, (5, 3, 7.5, 4.5)), [("VCC", ("L1",), 3.75)]),
    "copper without a net": (lambda s: s.copper("", 1, (5, 3, 9, 6)), []),
    "copper of which nothing is said": (lambda s: s.copper(None, 1, (5, 3, 9, 6)), []),
    "a fiducial": (lambda s: (s.pad("", "", "", 1, (6, 4), 1.0, "round", function=("FiducialPad", "Global"))), []),
    "thieving that is labelled with a net": (
        lambda s: (s.copper("GND", 1, (5, 3, 7.5, 4.5)), drawn_as(s, "NonConductor")), []),
    "0.99 mm²": (lambda s: s.copper("GND", 1, (5, 3, 6, 3.99)), []),
    "1.00 mm²": (lambda s: s.copper("GND", 1, (5, 3, 6, 4)), [("GND", ("L1",), 1.0)]),
    "1.01 mm²": (lambda s: s.copper("GND", 1, (5, 3, 6, 4.01)), [("GND", ("L1",), 1.01)]),
    "ground with vias of its own": (patch, [("GND", ("L1", "L2"), 30.0)]),
    "the same with a pin, which is an open": (lambda s: patch(s, pin=True), []),
    "the same joined to the rest": (lambda s: patch(s, tied=True), []),
}  # fmt: skip


@pytest.mark.parametrize(("change", "expected"), CASES.values(), ids=CASES)
def test_stray_copper(change: Callable[[Sketch], object], expected: list[tuple[str, tuple[str, ...], float]]) -> None:
    sketch = clean()
    change(sketch)
    found = check(sketch)
    facts = sorted((f.nets[0], f.layers, f.measured.value) for f in found if f.measured)
    assert facts == [(net, layers, pytest.approx(area, abs=0.02)) for net, layers, area in expected]


@pytest.mark.parametrize(
    ("option", "count"), [('area = "3.7 mm²"', 1), ('area = "3.8 mm2"', 0), ('area = "0.006 in2"', 0)]
)
def test_the_smallest_area_is_an_option(option: str, count: int) -> None:
    """0.006 square inches are 3.87 mm²."""
    sketch = clean()
    sketch.copper("GND", 1, (5, 3, 7.5, 4.5))
    assert len(check(sketch, f"[rules.stray-copper]\n{option}\n")) == count


class TestWhatIsSaid:
    def test_of_an_island(self) -> None:
        """299.792458 / (2 x 2.5 mm x sqrt(4)) = 29.98 GHz."""
        sketch = clean()
        sketch.copper("GND", 1, (5, 3, 7.5, 4.5))
        (finding,) = check(sketch)
        assert finding.message == (
            "GND on L1 has 3.75 mm² of copper that is connected to nothing: it meets no plated hole and has no pad"
        )
        assert [remark.message for remark in finding.remarks] == ["it is 2.50 mm long, half a wave at 30 GHz"]
        assert (finding.rule, finding.severity) == ("stray-copper", Severity.WARNING)
        assert 5 <= finding.place.x_mm <= 7.5 and 3 <= finding.place.y_mm <= 4.5
        assert finding.limit is not None and (finding.limit.value, finding.limit.unit) == (1.0, "mm²")

    def test_it_stands_where_the_copper_is_drawn(self) -> None:
        sketch = clean()
        sketch.copper("GND", 1, (5, 3, 7.5, 4.5))
        (finding,) = check(sketch)
        place = finding.place.location
        lines = sketch.gerber()[place.file.split("/")[-1]].decode().splitlines()
        assert any("X5000000Y3000000" in line or "X7500000Y3000000" in line for line in lines[place.line - 1 :][:3])

    def test_of_ground_with_vias_of_its_own(self) -> None:
        sketch = clean()
        patch(sketch)
        (finding,) = check(sketch)
        assert finding.message == (
            "GND on L1 and L2 has 30.00 mm² of copper that is not connected to the rest of GND: "
            "its 2 plated holes meet no other ground"
        )
        holes = [(r.place.x_mm, r.place.y_mm) for r in finding.remarks if r.message == "a plated hole of it"]
        assert holes == [(4, 4), (7, 4)]

    @pytest.mark.parametrize("size", [0.3, 6.0])
    def test_it_is_told_once_however_small_it_is(self, size: float) -> None:
        """A ground via that was meant to tie something and ties nothing. No pin is cut off, so it is no open net."""
        sketch = clean()
        (plane,) = (
            item for item in sketch.items if getattr(item, "net", "") == "GND" and getattr(item, "layer", 0) == 2
        )
        sketch.replace(plane, holes=(shapely.box(1, 2, 9, 7),))
        sketch.via("GND", (5, 4))
        sketch.copper("GND", 1, (5 - size / 2, 3.9, 5 + size / 2, 4.1))
        assert len(check(sketch)) == 1
        assert findings_of(NetAgreement, board_of(sketch)) == []


class TestWhatAPackageLeavesOut:
    def test_without_nets_it_says_so(self) -> None:
        (entry,) = outcome_of(StrayCopper, board_of(clean(), attributes="files"))
        assert entry == Unchecked("stray-copper", "the copper names no nets, so stray copper cannot be told from text")

    def test_without_aperture_functions_a_flash_may_be_a_pad(self) -> None:
        """An island with a via's pad and no hole: a pad of a part, for all that the file says."""
        sketch = clean()
        sketch.copper("GND", 1, (5, 3, 7.5, 4.5))
        sketch.pad("U3", "1", "GND", 1, (6, 4), (0.6, 0.6))
        files = sketch.gerber()
        for name, data in files.items():
            lines = [line for line in data.splitlines(True) if b"TA.AperFunction" not in line and b"TO.P" not in line]
            files[name] = b"".join(lines)
        assert findings_of(StrayCopper, board_from(files)) == []


WAYS = [
    {"turn": 30.0},
    {"turn": 90.0, "move": (50.0, -20.0)},
    {"units": "inch", "turn": 30.0, "move": (120.0, 40.0)},
    {"mirror": True, "turn": 200.0},
    {"attributes": "comments"},
]


@pytest.mark.parametrize("way", WAYS, ids=str)
def test_the_findings_move_with_the_board(way: dict[str, object]) -> None:
    sketch = clean()
    patch(sketch)
    sketch.trace("SIG", 1, [(3, 15), (13, 16)], 0.2)
    still, moved = check(sketch), check(sketch, **way)
    assert len(still) == 2
    pose = Pose(float(way.get("turn", 0.0)), way.get("move", (0.0, 0.0)), bool(way.get("mirror", False)))
    shapes = {item.net: shapely.box(3, 3, 8, 6) if isinstance(item, Copper) else None for item in sketch.find(Copper)}
    trace = next(item for item in sketch.find(Trace, net="SIG") if item.path.start == (3, 15))
    shapes["SIG"] = shapely.LineString(trace.path.coords()).buffer(0.11)
    for one, other in zip(sorted(still, key=_net), sorted(moved, key=_net), strict=True):
        assert (one.nets, one.layers) == (other.nets, other.layers)
        assert one.measured is not None and other.measured is not None
        assert one.measured.value == pytest.approx(other.measured.value, rel=0.002)
        inside = pose.geometry(shapes[one.nets[0]])
        assert inside.buffer(0.01).contains(shapely.Point(other.place.x_mm, other.place.y_mm))


def _net(finding: Finding) -> str:
    return finding.nets[0]
