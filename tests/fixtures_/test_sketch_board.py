"""What an author writes down is what gets onto the layers: pours, clearances, connections, isolation, errors."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import shapely

from sketch import Path, Sketch, rounded_box
from sketch.contour import contour
from sketch.items import Via
from sketch.path import Pose


def two_layers() -> Sketch:
    return Sketch(layers=2, size=(10.0, 10.0))


OTHERS: dict[str, Callable[[Sketch], object]] = {
    "via": lambda board: board.via("A", (5, 5)),
    "pad": lambda board: board.pad("U1", "1", "A", 1, (5, 5), (1.0, 0.4), angle=20),
    "oval pad": lambda board: board.through_pad("U1", "1", "A", (5, 5), pad=(1.7, 2.4), shape="oval"),
    "trace": lambda board: board.trace("A", 1, [(3, 3), (6, 5), (6, 7)], 0.2),
    "arc": lambda board: board.arc("A", 1, (4, 5), (6, 5), (5, 5), 0.2),
    "copper": lambda board: board.copper("A", 1, [(4, 4), (6, 4), (5, 6)]),
    "another pour": lambda board: board.pour("A", 1, (4, 4, 6, 6)),
    "copper of no net": lambda board: board.copper("", 1, (4, 4, 5, 5)),
    "copper that says no net": lambda board: board.copper(None, 1, (4, 4, 5, 5)),
}


@pytest.mark.parametrize("cut", ["region", "clear"])
@pytest.mark.parametrize("other", OTHERS.values(), ids=OTHERS.keys())
def test_pour_keeps_its_clearance(other: Callable[[Sketch], object], cut: str) -> None:
    """Everything of another net is at the clearance, to 1 µm, and the pour comes that near."""
    board = two_layers()
    other(board)
    board.pour("GND", 1, clearance=0.25, cut=cut)
    copper = board.copper_of(1)
    ground = copper.pop("GND")
    (rest,) = copper.values()
    assert ground.distance(rest) == pytest.approx(0.25, abs=0.001)
    parts = shapely.get_parts(board.image(1))
    assert shapely.union_all(parts).symmetric_difference(ground.union(rest)).area < 0.005


def test_pour_keeps_off_holes_and_edges() -> None:
    """Its pullback from the profile and cutouts, its clearance from bare holes, and nothing in its own voids."""
    board = two_layers()
    board.cutout((1, 1, 3, 3))
    board.hole((7, 7), 2.0)
    board.slot((5, 2), (7, 2), 0.8)
    board.pour("GND", 2, holes=[(4, 5, 5, 6)], pullback=0.4, clearance=0.3)
    pour = board.image(2)
    assert pour.distance(board.profile.exterior) == pytest.approx(0.4)
    assert pour.distance(shapely.box(1, 1, 3, 3)) == pytest.approx(0.4)
    assert pour.distance(shapely.Point(7, 7)) == pytest.approx(1.3, abs=0.001)
    assert pour.distance(shapely.LineString([(5, 2), (7, 2)])) == pytest.approx(0.7, abs=0.001)
    assert not pour.contains(shapely.Point(4.5, 5.5))


def test_a_blind_via_is_only_on_its_own_layers() -> None:
    """Pours of other layers neither touch nor avoid it; without a pad on a layer of its span they avoid its hole."""
    board = Sketch(layers=4, size=(10, 10))
    board.via("A", (5, 5), drill=0.3, pad=0.6, span=(1, 3), pads=(1, 3))
    for layer in (2, 3, 4):
        board.pour("GND", layer, clearance=0.2)
    centre = shapely.Point(5, 5)
    distances = [board.copper_of(layer)["GND"].distance(centre) for layer in (2, 3, 4)]
    assert distances == pytest.approx([0.35, 0.5, 0.0], abs=0.001)


def test_own_vias_connect_solid_thermal_or_not_at_all() -> None:
    """Solid all around; thermal by four spokes of 0.3 mm; isolated by the clearance on the layers named."""
    ring = shapely.Point(5, 5).buffer(0.31, quad_segs=64).exterior
    share = []
    for thermal, isolate in (((), ()), (("via",), ()), ((), (1,))):
        board = two_layers()
        board.via("GND", (5, 5), pad=0.6, isolate=isolate)
        board.pour("GND", 1, thermal=thermal)
        share.append(board.image(1).intersection(ring).length / ring.length)
        assert board.copper_of(2).keys() == {"GND"}
    assert share == pytest.approx([1.0, 4 * 0.3 / (math.tau * 0.31), 0.0], abs=0.03)


def test_label_is_what_is_written_and_net_is_what_is_poured() -> None:
    """A via labelled GND that is of no net is an island in the ground pour."""
    board = two_layers()
    board.via(None, (5, 5), label="GND")
    board.pour("GND", 1)
    assert len(shapely.get_parts(board.image(1))) == 2
    assert b"%TO.N,GND*%" in board.gerber()["board-L1.gbr"]


def test_islands_and_necks_are_left_out_when_asked() -> None:
    """A trace cuts a pour in two; the half without a via goes. A neck of 0.15 mm is not poured at 0.2 mm."""
    board = two_layers()
    board.trace("A", 1, [(5, 0.2), (5, 9.8)])
    board.via("GND", (2, 2))
    board.pour("GND", 1, islands=False)
    assert board.copper_of(1)["GND"].bounds[2] < 5
    counts = []
    for narrowest in (0.0, 0.2):
        board = two_layers()
        board.copper("A", 1, (4, 0.1, 6, 9.6))
        board.pour("GND", 1, clearance=0.05, pullback=0.2, narrowest=narrowest)
        counts.append(len(shapely.get_parts(board.copper_of(1)["GND"])))
    assert counts == [1, 2]


def test_vias_in_a_row_stand_at_their_pitch() -> None:
    board = two_layers()
    row = board.via_row("GND", (1, 1), (4, 5), 1.0)
    assert [math.dist(via.at, (1, 1)) for via in row] == pytest.approx([0, 1, 2, 3, 4, 5])


def test_items_can_be_found_replaced_and_removed() -> None:
    board = two_layers()
    via, other = board.vias("GND", [(1, 1), (2, 2)])
    wide = board.replace(via, pad=0.9)
    board.remove(other)
    assert board.find(Via, net="GND") == [wide]


@pytest.mark.parametrize("layers", [2, 4, 6, 8, 24])
def test_default_stackups_are_of_usual_thickness(layers: int) -> None:
    """1.6 mm, copper and all."""
    board = Sketch(layers=layers)
    thickness = sum(gap for gap, _ in board.gaps) + layers * board.copper_thickness
    assert thickness == pytest.approx(1.6, abs=0.001)


def test_a_contour_with_cut_ins_encloses_the_polygon() -> None:
    """Even where holes stand in rows and columns: area by the shoelace formula, cut-ins horizontal and passed twice."""
    holes = [shapely.Point(x, y).buffer(0.3) for x in range(1, 9) for y in range(1, 9)]
    polygon = shapely.box(0, 0, 9, 9).difference(shapely.union_all(holes))
    ring = contour(polygon, 1e6)
    x, y = (ring / 1e6).T
    area = abs((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) / 2
    assert area == pytest.approx(polygon.area, abs=2e-5)
    ends = [tuple(point) for point in ring.tolist()]
    edges = list(zip(ends, [*ends[1:], ends[0]], strict=True))
    doubled = [edge for edge in edges if edge[::-1] in set(edges)]
    assert len(doubled) == 2 * len(holes)
    assert all(one[1] == other[1] for one, other in doubled)


@pytest.mark.parametrize("pose", [Pose(30.0, (5.0, 6.0)), Pose(-90.0), Pose(215.0, (1.0, 2.0), mirror=True)])
def test_a_pose_moves_paths_and_polygons_alike(pose: Pose) -> None:
    """Points, arcs with their sense, and polygons go to the same place; lengths stay."""
    path = rounded_box(1, 2, 6, 5, 0.8)
    moved = pose.path(path).polygon()
    assert moved.symmetric_difference(pose.geometry(path.polygon())).area < 1e-3
    assert moved.length == pytest.approx(path.polygon().length)


@pytest.mark.parametrize("wrong", [
    lambda: Sketch(layers=4, gaps=[(0.2, 4.2)]),
    lambda: two_layers().trace("A", 3, [(1, 1), (2, 2)]),
    lambda: two_layers().pad("U1", "1", "A", 1, (1, 1), 0.5, "square"),
    lambda: two_layers().pad("U1", "1", "A", 1, (1, 1), (0.5, 0.6), "round"),
    lambda: two_layers().pour("GND", 1, cut="hatch"),
    lambda: two_layers().gerber(units="mil"),
    lambda: Path.arc((0, 0), (3, 0), (1, 0)),
])  # fmt: skip
def test_nonsense_is_refused(wrong: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match=r"\w+ \w+"):
        wrong()
