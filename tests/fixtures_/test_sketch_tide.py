"""The demo board is what it claims to be: its clean twin is clean, its faults are there, its files are its definition.

Everything is measured here with shapely on the board's definition and with gerbonara on its files, by no code of the
engine. The distances that the clean board keeps are its own design rules (0.15 mm, ties within 1.0 mm, posts within
2.0 mm), no standard's.
"""

from __future__ import annotations

import fnmatch
import itertools
import math
import tomllib
from functools import cache
from pathlib import Path

import networkx
import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

import tide_gauge as demo
from fixtures_ import gerbonara_image
from sketch import Sketch
from sketch.items import Pad, Pour, Trace, Via
from sketch.path import Point
from sketch.pour import pour_layer
from tide import ground, wiring
from tide.faults import FAULTS

FIXTURES = Path(demo.__file__).parent
LAYERS = (1, 2, 3, 4)
REFERENCES = {1: 2, 3: 4, 4: 3}
"""The plane that lies 0.2 mm from each signal layer."""


@cache
def board(*faults: str) -> Sketch:
    """The board with these faults; not to be changed."""
    return demo.tide_gauge(faults)


@cache
def copper(layer: int, *faults: str) -> dict[str | None, BaseGeometry]:
    """The copper of a layer by net."""
    return board(*faults).copper_of(layer)


@cache
def ground_pour(layer: int, *faults: str) -> BaseGeometry:
    """The ground pour of a layer without any via or pad, as they leave it."""
    made = board(*faults)
    areas = [done.areas for done in pour_layer(made.items, made.profile, layer) if done.pour.net == "GND"]
    pour = shapely.union_all(list(itertools.chain(*areas)))
    shapely.prepare(pour)
    return pour


@cache
def ties(one: int, other: int, *faults: str) -> list[Via]:
    """Ground vias that join the pours of two layers, whatever their labels say."""
    vias = board(*faults).find(Via, net="GND")
    spanning = [via for via in vias if via.drill.span[0] <= min(one, other) and max(one, other) <= via.drill.span[1]]
    return [via for via in spanning if all(touches(via, ground_pour(layer, *faults)) for layer in (one, other))]


def touches(via: Via, pour: BaseGeometry) -> bool:
    """The pour reaches the via's pad."""
    return bool(pour.intersects(shapely.Point(via.at).buffer(via.pad / 2)))


def spacing(layer: dict[str | None, BaseGeometry]) -> tuple[float, str]:
    """The smallest distance between copper of two nets, and which."""
    names = sorted(layer, key=str)
    tree = shapely.STRtree([layer[name] for name in names])
    pairs = tree.query([layer[name] for name in names], predicate="dwithin", distance=0.5).T
    found = [(layer[names[i]].distance(layer[names[j]]), f"{names[i]} to {names[j]}") for i, j in pairs if i < j]
    return min(found)


def is_signal(net: str | None) -> bool:
    return bool(net) and net not in ("GND", "VBAT", "BAT+") and not str(net).startswith("+")


@cache
def transitions() -> dict[tuple[str, Point], tuple[int, int]]:
    """Net and place of every plated hole that a signal's traces leave on two layers, and the planes beside those."""
    found = {}
    for drill in board().drills:
        if is_signal(drill.net):
            ends = [(t.layer, end) for t in board().find(Trace, net=drill.net) for end in (t.path.start, t.path.end)]
            layers = sorted({layer for layer, end in ends if math.dist(end, drill.start) <= drill.width / 2})
            if len(layers) > 1:
                one, other = layers
                found[str(drill.net), drill.start] = (REFERENCES[one], REFERENCES[other])
    return found


def nearest_ties(*faults: str) -> dict[tuple[str, Point], float]:
    """From every transition to the nearest tie between its references."""
    return {
        (net, at): min(math.dist(at, tie.at) for tie in ties(*planes, *faults))
        for (net, at), planes in transitions().items()
    }


@pytest.mark.parametrize("layer", LAYERS)
def test_clean_board_keeps_its_spacing(layer: int) -> None:
    """No copper of two nets closer than 0.15 mm on any layer."""
    distance, pair = spacing(copper(layer))
    assert distance >= 0.15 - 1e-4, pair


def test_clean_board_keeps_every_hole_clear() -> None:
    """Rings of 0.1 mm, walls of 0.25 mm, 0.2 mm from a hole to copper of other nets, all inside the board."""
    drills = board().drills
    assert all(drill.start == drill.end for drill in drills)
    centres, radii = shapely.points([drill.start for drill in drills]), np.array([drill.width / 2 for drill in drills])
    walls = [
        one.distance(other) - r - s
        for (one, r), (other, s) in itertools.combinations(zip(centres, radii, strict=True), 2)
    ]
    assert min(walls) >= 0.25
    assert (shapely.distance(centres, board().outline.polygon().exterior) - radii).min() >= 0.4
    for layer in LAYERS:
        nets, areas = zip(*copper(layer).items(), strict=True)
        near = shapely.STRtree(areas).query(centres, predicate="dwithin", distance=radii + 0.199)
        assert [(drills[i], nets[j]) for i, j in near.T if drills[i].net != nets[j]] == []
    rings = [(item.pad - item.drill.width) / 2 for item in board().find(Via)]
    rings += [(min(p.shape.width, p.shape.height) - p.drill.width) / 2 for p in board().find(Pad) if p.drill]
    assert min(rings) >= 0.1


def test_copper_stays_inside_the_board() -> None:
    """At least 0.2 mm from every edge."""
    inside = board().profile.buffer(-0.2)
    for layer in LAYERS:
        assert inside.covers(shapely.union_all(list(copper(layer).values())))


def islands(*faults: str) -> dict[str | None, int]:
    """How many pieces each net falls into, over all layers and plated holes."""
    drills = [drill for drill in board(*faults).drills if drill.plated]
    centres = shapely.points([drill.start for drill in drills])
    radii = np.array([drill.width / 2 for drill in drills])
    graph = networkx.Graph()
    for layer in LAYERS:
        for net, area in copper(layer, *faults).items():
            for number, part in enumerate(shapely.get_parts(area)):
                node = (net, layer, number)
                graph.add_node(node)
                shapely.prepare(part)
                hit = [drills[i] for i in np.flatnonzero(shapely.dwithin(part, centres, radii))]
                through = [drill for drill in hit if drill.net == net and drill.span[0] <= layer <= drill.span[1]]
                graph.add_edges_from((node, (net, drill)) for drill in through)
    counts: dict[str | None, int] = {}
    for component in networkx.connected_components(graph):
        net = next(iter(component))[0]
        counts[net] = counts.get(net, 0) + 1
    counts.pop(None, None)
    return counts


def test_every_net_is_one_piece() -> None:
    """No net is open, and no island of a pour is left over."""
    assert {net: count for net, count in islands().items() if count != 1} == {}
    assert islands("net-open")["QSPI_CS"] == 2


def test_clean_board_ties_every_transition() -> None:
    """Each signal that changes layer has a ground via within 1.0 mm that touches the references before and after."""
    assert len(transitions()) == 23
    assert {where: distance for where, distance in nearest_ties().items() if distance > 1.0} == {}


@pytest.mark.parametrize(("posts", "traces"), [
    (ground.FENCE, ("RF_TX", "RF_ANT")),
    (ground.AUX_FENCE, ("RF_AUX",)),
])  # fmt: skip
def test_clean_fences_are_regular_and_tied(posts: tuple[tuple[float, float], ...], traces: tuple[str, ...]) -> None:
    """Posts stand on both sides at one pitch of at most 2.0 mm along the whole trace, each tied to all four layers."""
    vias = {via.at: via for via in board().find(Via, net="GND")}
    for post in posts:
        assert all(touches(vias[post], ground_pour(layer)) for layer in LAYERS), post
    line = shapely.union_all(
        [shapely.LineString(t.path.coords()) for net in traces for t in board().find(Trace, net=net)]
    )
    along = 0 if line.bounds[2] - line.bounds[0] > line.bounds[3] - line.bounds[1] else 1
    for _, side in itertools.groupby(sorted(posts, key=lambda p: (p[1 - along], p[along])), key=lambda p: p[1 - along]):
        steps = [post[along] for post in side]
        pitches = np.diff(steps)
        assert np.ptp(pitches) < 1e-9
        assert pitches.max() <= 2.0
        assert steps[0] - line.bounds[along] <= 2.0
        assert line.bounds[along + 2] - steps[-1] <= 2.0


def test_clean_traces_stay_over_their_plane() -> None:
    """No signal crosses a split or slot: its plane's ground lies along all of it but the antipads at its ends."""
    for trace in board().find(Trace):
        if not is_signal(trace.net):
            continue
        pads = [item for item in board().items if isinstance(item, (Via, Pad)) and item.net == trace.net and item.drill]
        own = [pad.on(trace.layer).grown(0.21).polygon() for pad in pads]
        path = shapely.LineString(trace.path.coords()).difference(shapely.union_all(own))
        outside = path.difference(ground_pour(REFERENCES[trace.layer]))
        assert outside.length < 1e-6, (trace.net, trace.layer, outside.bounds)


@pytest.mark.parametrize("folder", demo.FOLDERS)
def test_committed_files_are_what_the_script_writes(folder: str) -> None:
    """Byte for byte; but a pour's corners may differ in the last digit from one version of GEOS to another, so that
    copper files that are not the same are compared as images and by all that is no coordinate."""
    made = demo.packages()[folder]
    place = FIXTURES / folder / "fab"
    assert {path.name for path in place.iterdir()} == set(made)
    for name, data in made.items():
        kept = (place / name).read_bytes()
        if data != kept:
            assert "-L" in name, name
            said = [[line for line in text.splitlines() if not line.startswith(b"X")] for text in (data, kept)]
            assert said[0] == said[1], name
            images = [gerbonara_image.image(gerbonara_image.read(text)) for text in (data, kept)]
            assert images[0].symmetric_difference(images[1]).area < 1e-3, name


def test_settings_speak_of_nets_that_are_there() -> None:
    """Both twins have the same settings, and every pattern in them fits some net of the board."""
    texts = [(FIXTURES / folder / demo.SETTINGS).read_text() for folder in demo.FOLDERS]
    assert texts[0] == texts[1]
    settings = tomllib.loads(texts[0])
    patterns = [*settings["nets"]["ground"], *settings["nets"]["power"]]
    patterns += [pattern for entry in settings["class"] for pattern in entry["nets"]]
    nets = {item.net for item in board().items if item.net}
    assert [pattern for pattern in patterns if not fnmatch.filter(nets, pattern)] == []


@pytest.mark.parametrize("layer", LAYERS)
def test_files_read_back_as_the_definition_says(layer: int) -> None:
    """Area within 0.1 % and the same number of objects, as gerbonara reads the copper."""
    made = board(*demo.DEMO_FAULTS)
    read = gerbonara_image.read((FIXTURES / "tide-gauge" / "fab" / f"tide-L{layer}.gbr").read_bytes())
    features = made.features(layer)
    steps = [len(f.shape.path.steps) if hasattr(f.shape, "path") else 1 for f in features]
    assert len(read.objects) == sum(steps)
    model = made.image(layer)
    assert gerbonara_image.image(read).symmetric_difference(model).area < 0.001 * model.area


@pytest.mark.parametrize("name", FAULTS)
def test_every_fault_is_explained_and_changes_the_board(name: str) -> None:
    """And it stands alone: it can be put on the clean board by itself."""
    assert FAULTS[name].__doc__
    assert board(name).items != board().items


@pytest.mark.parametrize(("fault", "net"), [
    ("qspi-untied", "QSPI_IO2"),
    ("qspi-false-tie", "QSPI_IO0"),
    ("short-tie", "MEM_CS"),
])  # fmt: skip
def test_faults_untie_one_transition_and_no_other(fault: str, net: str) -> None:
    """Further than 1.5 mm from any real tie, while all other transitions keep theirs within 1.0 mm."""
    distances = {name: distance for (name, _), distance in nearest_ties(fault).items()}
    assert distances.pop(net) > 1.5
    assert max(distances.values()) <= 1.0


def test_a_false_tie_looks_like_one() -> None:
    """The via beside QSPI_IO0 is within 1 mm and labelled GND on all four layers, pads and all."""
    near = [via for via in board("qspi-false-tie").find(Via, net="GND") if math.dist(via.at, (8.4, 12.6)) < 1.0]
    assert [via.layers for via in near] == [LAYERS]
    assert not touches(near[0], ground_pour(2, "qspi-false-tie"))
    assert all(touches(near[0], ground_pour(layer, "qspi-false-tie")) for layer in (1, 3, 4))


@pytest.mark.parametrize(("fault", "layer", "below"), [("tight-spacing", 1, 0.08), ("net-short", 1, 1e-9)])
def test_spacing_faults_are_there(fault: str, layer: int, below: float) -> None:
    """Two nets come closer than the clean board lets them."""
    assert spacing(copper(layer, fault))[0] < below


def test_pours_are_not_drawn_over_one_another() -> None:
    """The supply and the ground on L3 are apart by the pour's clearance."""
    (supply,) = board().find(Pour, net="+3V3")
    nets = copper(supply.layer)
    assert nets["+3V3"].distance(nets["GND"]) == pytest.approx(0.2, abs=0.002)
    assert min(y for _, y in ground.SUPPLY_AREA) > wiring.ROW_Y + 1.0
