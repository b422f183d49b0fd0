"""Rings around holes, against an independent union of all that is drawn on a layer, and against hand-worked values."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from boards import board_from, board_of
from fencepost.fabrication.rings import Ring, thin_rings
from sketch import Sketch

AT = (10.0, 10.0)
LIMIT = 0.2


def rings(sketch: Sketch, limit: float = LIMIT, **options) -> dict[int, Ring]:
    """By layer; the boards here have one plated hole."""
    return {ring.layer: ring for ring in thin_rings(board_of(sketch, **options), limit, limit)}


def bare_via(**options) -> Sketch:
    """Two layers and a via of 0.3 mm that has a pad of 0.8 mm on L2 only."""
    sketch = Sketch(layers=2)
    sketch.via("A", AT, drill=0.3, pad=0.8, pads=(2,), **options)
    return sketch


def united(sketch: Sketch, layer: int) -> float:
    """The ring as the definition has it: from the hole's middle to the edge of all copper and the hole together."""
    (drill,) = (drill for drill in sketch.drills if drill.plated)
    middle = shapely.Point(drill.start) if drill.start == drill.end else shapely.LineString([drill.start, drill.end])
    copper = sketch.image(layer).union(middle.buffer(drill.width / 2, quad_segs=90))
    (own,) = (part for part in shapely.get_parts(copper) if part.intersects(middle))
    return max(own.boundary.distance(middle) - drill.width / 2, 0.0)


def flash(
    sketch: Sketch, x: float, size: float | tuple[float, float], shape: str = "round", angle: float = 0.0
) -> None:
    sketch.pad("U1", "1", "A", 1, (AT[0] + x, AT[1]), size, shape, angle=angle)


def centred(sketch: Sketch) -> None:
    flash(sketch, 0.0, 0.5)


def off_centre(sketch: Sketch) -> None:
    flash(sketch, 0.06, 0.6)


def square(sketch: Sketch) -> None:
    flash(sketch, 0.0, (0.5, 0.9), "rect", 30.0)


def tear(sketch: Sketch) -> None:
    flash(sketch, 0.0, 0.5)
    sketch.copper("A", 1, [(10.0, 10.25), (12.0, 10.0), (10.0, 9.75)])


def traced(sketch: Sketch) -> None:
    flash(sketch, 0.0, 0.5)
    sketch.trace("A", 1, [AT, (15, 12)], 0.3)


def pour_s_edge(sketch: Sketch) -> None:
    sketch.pour("A", 1, (5.0, 5.0, 10.23, 15.0))


def two_halves(sketch: Sketch) -> None:
    sketch.copper("A", 1, (9.0, 9.0, 10.05, 11.0))
    sketch.copper("A", 1, (10.05, 9.87, 10.27, 11.0))
    sketch.trace("A", 1, [(10.0, 9.8), (11.0, 9.8)], 0.2)


DRAWN = {
    "a pad of 0.5 mm": (centred, 0.10),
    "a pad of 0.6 mm, 0.06 mm beside the hole": (off_centre, 0.09),
    "a pad of 0.5 x 0.9 mm at an odd angle": (square, 0.10),
    "a pad with a teardrop on one side": (tear, 0.10),
    "a pad with a trace": (traced, 0.10),
    "a pour without a pad that ends beside the hole": (pour_s_edge, 0.08),
    "several areas and a trace that surround it together": (two_halves, None),
}


@pytest.mark.parametrize(("draw", "width"), DRAWN.values(), ids=DRAWN)
def test_the_ring_is_the_narrowest_width_of_all_copper_that_is_connected(draw, width: float | None) -> None:
    sketch = bare_via()
    draw(sketch)
    (ring,) = rings(sketch).values()
    assert ring.layer == 1
    assert ring.width == pytest.approx(united(sketch, 1), abs=0.001)
    if width is not None:
        assert ring.width == pytest.approx(width, abs=0.001)


@pytest.mark.parametrize("seed", range(12))
def test_heaps_of_copper_around_a_hole(seed: int) -> None:
    """Whatever lies over one another there, against the union of it."""
    random = np.random.default_rng(seed)
    sketch = bare_via()
    for _ in range(random.integers(1, 7)):
        x, y = (10 + random.uniform(-0.15, 0.15, 2)).round(3).tolist()
        size = round(random.uniform(0.3, 0.75), 3)
        sketch.pad("U1", "1", "A", 1, (x, y), size, "round")
        if random.random() < 0.5:
            sketch.copper("A", 1, (x - 0.2, y - 0.2, x + size / 2, y + 0.3))
    found = rings(sketch)
    expected = united(sketch, 1)
    if expected < LIMIT - 0.002:
        assert found[1].width == pytest.approx(expected, abs=0.002)
    elif expected > LIMIT:
        assert not found


def test_copper_of_a_neighbour_adds_nothing() -> None:
    """A ring of another net close around the pad does not widen it."""
    sketch = bare_via()
    flash(sketch, 0.0, 0.5)
    ring = shapely.Point(AT).buffer(1.0).difference(shapely.Point(AT).buffer(0.255))
    for part in (ring.intersection(shapely.box(9, 10, 11, 11)), ring.intersection(shapely.box(9, 9, 11, 10))):
        sketch.copper("B", 1, part)
    assert rings(sketch)[1].width == pytest.approx(0.10, abs=1e-6)


def test_a_pad_that_is_cut_is_as_narrow_as_the_cut_leaves_it() -> None:
    """A clear disc of 0.3 mm, 0.4 mm from the hole's middle, leaves 0.4 - 0.15 - 0.15 = 0.1 mm of a pad of 0.8 mm."""
    sketch = Sketch(layers=2)
    sketch.via("A", AT, drill=0.3, pad=0.8)
    files = sketch.gerber()
    (name,) = (name for name in files if name.endswith("L1.gbr"))
    cut = b"%ADD99C,0.3*%\n%LPC*%\nD99*\nX10400000Y10000000D03*\n%LPD*%\nM02*"
    files[name] = files[name].replace(b"M02*", cut)
    (ring,) = thin_rings(board_from(files), LIMIT, LIMIT)
    assert (ring.layer, ring.width) == (1, pytest.approx(0.10, abs=0.0005))


def test_a_hole_that_only_a_trace_meets_breaks_out() -> None:
    """The trace is as wide as the radius: it covers 2 asin(1/2) = 60 degrees of the hole's round."""
    sketch = Sketch(layers=4)
    sketch.via("A", AT, drill=0.3, pad=0.8, pads=(1, 4))
    sketch.trace("A", 2, [AT, (15, 10)], 0.15)
    (ring,) = rings(sketch).values()
    assert (ring.layer, ring.width) == (2, 0.0)
    assert ring.open == pytest.approx(360 - 2 * math.degrees(math.asin(0.075 / 0.151)), abs=1.0)


@pytest.mark.parametrize(
    ("span", "pads", "without"),
    [
        ((1, 4), (1, 4), []),
        ((1, 4), (1, 2, 3), [4]),
        ((1, 2), (1,), [2]),
        ((1, 3), (1, 3), []),
        ((2, 3), (), [2, 3]),
        ((2, 4), (2, 4), []),
    ],
    ids=["removed inside", "none on the bottom", "blind", "blind, removed inside", "buried", "blind from below"],
)
def test_a_pad_may_be_left_out_only_between_the_ends(span: tuple[int, int], pads: tuple, without: list[int]) -> None:
    sketch = Sketch(layers=4)
    sketch.via("A", AT, drill=0.3, pad=0.8, span=span, pads=pads)
    found = rings(sketch)
    assert sorted(found) == without
    assert all((ring.width, ring.part) == (0.0, -1) for ring in found.values())


def test_holes_without_plating_have_no_rings() -> None:
    sketch = Sketch(layers=2)
    sketch.hole(AT, 1.0)
    sketch.copper("A", 1, (9.0, 9.0, 10.0, 11.0))
    assert not rings(sketch)


@pytest.mark.parametrize(("pad", "width"), [(1.2, None), (1.0, 0.1)])
def test_slots_are_measured_along_their_whole_length(pad: float, width: float | None) -> None:
    """A slot 0.8 mm wide and 3 mm long, in a land that is round at its ends as well."""
    sketch = Sketch(layers=2)
    sketch.slot((8, 10), (11, 10), 0.8, plated=True, net="A", pad=pad)
    found = rings(sketch)
    assert [ring.width for ring in found.values()] == ([] if width is None else [pytest.approx(width, abs=0.001)] * 2)


def test_a_round_pad_is_too_short_for_a_slot() -> None:
    sketch = Sketch(layers=1)
    sketch.slot((9.7, 10), (10.3, 10), 0.6, plated=True, net="A")
    sketch.pad("U1", "1", "A", 1, AT, 1.4, "round")
    assert rings(sketch)[1].width == pytest.approx(0.7 - 0.3 - 0.3, abs=0.001)


@pytest.mark.parametrize("options", [{"turn": 30.0}, {"move": (123.456, -78.9)}, {"units": "inch"}, {"mirror": True}])
@pytest.mark.parametrize("draw", [off_centre, square, tear, two_halves])
def test_however_the_board_lies_and_is_written(draw, options: dict) -> None:
    sketch = bare_via()
    draw(sketch)
    assert rings(sketch, **options)[1].width == pytest.approx(rings(sketch)[1].width, abs=0.001)
