"""Pieces and barrels: what touches, at, just inside and just outside the tolerance of 1 µm."""

import math

import networkx
import numpy as np
import pytest
import shapely

from drawing import Drawing, box_tool, hits, round_tool
from fencepost.board.connect import barrels_on, pieces_of
from fencepost.board.drilling import holes_of
from fencepost.board.model import TOUCH_MM
from fencepost.board.parts import parts_of
from fencepost.board.sources import Drilled

DISC = shapely.get_coordinates(shapely.Point(0, 0).buffer(4, quad_segs=64))[:-1].tolist()
"""With so many corners that what touches it is asked piece by piece."""


def at(distance: float, degrees: float) -> tuple[float, float]:
    return distance * math.cos(math.radians(degrees)), distance * math.sin(math.radians(degrees))


def pieces(drawing: Drawing) -> int:
    return len(set(pieces_of(parts_of(drawing.artwork())).tolist()))


@pytest.mark.parametrize(
    ("drawing", "expected"),
    [
        pytest.param(Drawing().flash(0, 0, round_tool(1)).flash(1.0005, 0, round_tool(1)), 1, id="0.5 µm apart"),
        pytest.param(Drawing().flash(0, 0, round_tool(1)).flash(1.0015, 0, round_tool(1)), 2, id="1.5 µm apart"),
        pytest.param(Drawing().stroke([(0, 0), (5, 0)]).stroke([(2, 3), (2, 0)]), 1, id="T joint"),
        pytest.param(Drawing().stroke([(0, 0), (5, 0)]).stroke([(2, -3), (2, 3)]), 1, id="crossing without a node"),
        pytest.param(Drawing().stroke([(0, 0), (5, 0)], 0.2).stroke([(0, 0.21), (5, 0.21)], 0.2), 2, id="beside"),
        pytest.param(Drawing().stroke([(0, 0), (5, 0)], 0.2).stroke([(0, 0.2), (5, 0.2)], 0.2), 1, id="along an edge"),
        pytest.param(
            Drawing().fill([(0, 0), (9, 0), (9, 9), (0, 9)]).flash(5, 5, box_tool(1, 1)), 1, id="pad within a pour"
        ),
        pytest.param(
            Drawing()
            .fill([(0, 0), (9, 0), (9, 9), (0, 9)])
            .flash(5, 5, round_tool(3), dark=False)
            .flash(5, 5, round_tool(1)),
            2,
            id="pad within its antipad",
        ),
        pytest.param(
            Drawing().fill(DISC).stroke([at(4.9, 22.5), at(6, 22.5)], 1.2).stroke([at(6, 22.5), at(4.11, -22.5)], 0.2),
            2,
            id="both widths of a trace end short of a disc",
        ),
        pytest.param(
            Drawing().fill(DISC).stroke([at(6, 22.5), at(4.11, -22.5)], 0.2).stroke([at(4.5, 22.5), at(6, 22.5)], 1.2),
            1,
            id="the wide end of a trace meets a disc",
        ),
    ],
)
def test_pieces(drawing: Drawing, expected: int) -> None:
    assert pieces(drawing) == expected


@pytest.mark.parametrize("seed", range(5))
def test_pieces_agree_with_a_union_of_all_outlines(seed: int) -> None:
    """Independent oracle: the polygons of one union, by shapely alone."""
    random = np.random.default_rng(seed)
    drawing = Drawing()
    for x, y in random.uniform(0, 20, (60, 2)):
        drawing.flash(x, y, round_tool(0.8))
    for start, step in zip(random.uniform(0, 20, (40, 2)), random.uniform(-3, 3, (40, 2)), strict=True):
        drawing.stroke([tuple(start), tuple(start + step)], 0.3)
    parts = parts_of(drawing.artwork())
    grown = shapely.buffer(parts.geometry, parts.reach + 0.0005, quad_segs=200)
    whole = shapely.get_parts(shapely.union_all(grown))
    assert pieces(drawing) == len(whole)
    found = pieces_of(parts)
    tree = shapely.STRtree(whole)
    oracle = tree.query(shapely.point_on_surface(parts.outlines), predicate="intersects")[1]
    graph = networkx.Graph(zip(found.tolist(), (-1 - oracle).tolist(), strict=True))
    assert all(len(group) == 2 for group in networkx.connected_components(graph))


@pytest.mark.parametrize("seed", range(4))
def test_traces_over_and_beside_pours_agree_with_measuring_each_of_them(seed: int) -> None:
    """Independent oracle: every part measured against every other, one by one, and networkx."""
    random = np.random.default_rng(seed)
    drawing = Drawing()
    for x, y in [(5, 5), (15, 5), (10, 14)]:
        drawing.fill(shapely.get_coordinates(shapely.Point(x, y).buffer(4, quad_segs=64))[:-1].tolist())
    for start in random.uniform(0, 20, (50, 2)):
        way = start + np.cumsum(random.uniform(-1.5, 1.5, (4, 2)), axis=0)
        for one, other, width in zip(way[:-1], way[1:], random.choice([0.2, 0.3], 3), strict=True):
            drawing.stroke([tuple(one), tuple(other)], width)
    for x, y in random.uniform(0, 20, (30, 2)):
        drawing.flash(x, y, round_tool(0.4))
    parts = parts_of(drawing.artwork())
    one, other = np.triu_indices(len(parts), 1)
    apart = shapely.distance(parts.geometry[one], parts.geometry[other]) - parts.reach[one] - parts.reach[other]
    graph = networkx.Graph(zip(one[apart <= TOUCH_MM].tolist(), other[apart <= TOUCH_MM].tolist(), strict=True))
    graph.add_nodes_from(range(len(parts)))
    groups = {frozenset(group) for group in networkx.connected_components(graph)}
    found = pieces_of(parts)
    assert {frozenset(np.flatnonzero(found == piece).tolist()) for piece in set(found.tolist())} == groups
    assert 1 < len(groups) < len(parts) / 2


@pytest.mark.parametrize("seed", range(4))
def test_barrels_agree_with_measuring_all_copper(seed: int) -> None:
    """Holes in and beside pads, round ones and slots: every one measured against every part."""
    random = np.random.default_rng(seed)
    drawing = Drawing()
    for i, (x, y) in enumerate(random.uniform(0, 20, (80, 2))):
        drawing.flash(x, y, round_tool(0.8) if i % 3 else box_tool(0.8, 0.6))
    for start, step in zip(random.uniform(0, 20, (40, 2)), random.uniform(-3, 3, (40, 2)), strict=True):
        drawing.stroke([tuple(start), tuple(start + step)], 0.3)
    parts = parts_of(drawing.artwork())
    near = shapely.get_coordinates(shapely.centroid(parts.geometry)) + random.uniform(-0.3, 0.3, (len(parts), 2))
    round_, slots = near[:80], near[80:]
    drilled = [
        Drilled(hits([(x, y)], diameter), True, 1, 2)
        for (x, y), diameter in zip(round_.tolist(), random.choice([0.2, 0.5, 1.0], len(round_)).tolist(), strict=True)
    ]
    drilled += [Drilled(hits([(x, y)], 0.4, ends=[(x + 1, y)]), True, 1, 2) for x, y in slots.tolist()]
    holes = holes_of(tuple(drilled))
    piece = pieces_of(parts)
    apart = shapely.distance(holes.geometry[:, None], parts.geometry) - parts.reach - holes.diameter[:, None] / 2
    hole, part = np.nonzero(apart <= TOUCH_MM)
    expected = set(zip(hole.tolist(), piece[part].tolist(), strict=True))
    assert {(hole, piece) for hole, piece in barrels_on(parts, piece, holes, 1).tolist()} == expected


@pytest.mark.parametrize(
    ("diameter", "touches"),
    [pytest.param(0.999, True, id="meets the copper"), pytest.param(0.996, False, id="2 µm short of it")],
)
def test_a_barrel_touches_copper_that_meets_the_drilled_circle(diameter: float, touches: bool) -> None:
    parts = parts_of(Drawing().fill([(0.5, -1), (3, -1), (3, 1), (0.5, 1)]).artwork())
    holes = holes_of((Drilled(hits([(0, 0)], diameter), True, 1, 2),))
    assert (len(barrels_on(parts, pieces_of(parts), holes, 1)) == 1) is touches


@pytest.mark.parametrize(
    ("plated", "first", "last", "layer", "expected"),
    [(True, 1, 4, 3, 1), (False, 1, 4, 3, 0), (True, 1, 2, 3, 0), (True, 2, 3, 3, 1)],
)
def test_only_plated_holes_of_the_layer_touch(plated: bool, first: int, last: int, layer: int, expected: int) -> None:
    parts = parts_of(Drawing().flash(0, 0, round_tool(1)).artwork())
    holes = holes_of((Drilled(hits([(0, 0)]), plated, first, last),))
    assert len(barrels_on(parts, pieces_of(parts), holes, layer)) == expected


def test_a_slot_touches_along_its_whole_length() -> None:
    parts = parts_of(Drawing().flash(0, 0, round_tool(0.2)).flash(5, 0, round_tool(0.2)).artwork())
    holes = holes_of((Drilled(hits([(-1, 0)], 0.5, ends=[(6, 0)]), True, 1, 2),))
    assert len(barrels_on(parts, pieces_of(parts), holes, 1)) == 2
