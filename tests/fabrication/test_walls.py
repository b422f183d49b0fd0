"""Walls between holes as drilled: distances of middles less half of both drills, plated holes 0.1 mm wider."""

from __future__ import annotations

import pytest

from boards import board_of
from fencepost.fabrication.walls import thin_walls
from sketch import Sketch

LIMIT = 0.2


def walls(sketch: Sketch, limit: float = LIMIT, **options) -> list[float]:
    return thin_walls(board_of(sketch, **options), 0.1, limit).width.tolist()


def vias(apart: float, one: dict | None = None, other: dict | None = None) -> Sketch:
    sketch = Sketch(layers=4)
    sketch.via("A", (10, 10), **{"drill": 0.3, "pad": 0.5, **(one or {})})
    sketch.via("B", (10 + apart, 10), **{"drill": 0.3, "pad": 0.5, **(other or {})})
    return sketch


@pytest.mark.parametrize(
    ("apart", "width"), [(0.6, None), (0.5995, None), (0.598, 0.198), (0.5, 0.1), (0.4, 0.0), (0.3, -0.1)]
)
def test_two_vias_of_0_3_mm(apart: float, width: float | None) -> None:
    """Each is drilled 0.4 mm wide; 0.2 mm of wall are 0.6 mm from middle to middle."""
    assert walls(vias(apart)) == ([] if width is None else [pytest.approx(width, abs=1e-6)])


def test_holes_without_plating_are_drilled_as_they_are() -> None:
    sketch = Sketch(layers=2)
    sketch.hole((10, 10), 1.0)
    sketch.hole((11.1, 10), 1.0)
    sketch.via("A", (9.2, 10), drill=0.3)
    assert sorted(walls(sketch)) == [pytest.approx(0.1, abs=1e-6), pytest.approx(0.8 - 0.5 - 0.2, abs=1e-6)]


@pytest.mark.parametrize(("plated", "width"), [(False, 0.15), (True, 0.10)])
def test_slots(plated: bool, width: float) -> None:
    """A via beside the middle of a slot of 0.8 mm, 0.75 mm away: 0.75 - 0.4 - 0.2 mm, 0.05 mm less if it is plated."""
    sketch = Sketch(layers=2)
    sketch.slot((8, 10), (12, 10), 0.8, plated=plated, net="B" if plated else None)
    sketch.via("A", (10, 10.75), drill=0.3)
    assert walls(sketch) == [pytest.approx(width, abs=1e-6)]


@pytest.mark.parametrize(
    ("one", "other", "count"),
    [
        ((1, 2), (3, 4), 0), ((1, 2), (2, 3), 0), ((1, 2), (2, 4), 0), ((1, 3), (2, 4), 1), ((1, 2), (1, 2), 1),
        ((2, 3), (1, 4), 1), ((2, 3), (2, 3), 1),
    ],
)  # fmt: skip
@pytest.mark.parametrize("apart", [0.0, 0.45])
def test_blind_and_buried_holes_meet_only_in_a_dielectric_that_both_go_through(one, other, count, apart) -> None:
    assert len(walls(vias(apart, {"span": one}, {"span": other}))) == count


def test_the_strokes_of_a_routed_slot_are_one_hole() -> None:
    """A slot with a corner, and another one of the same tool that does not go on from it."""
    sketch = Sketch(layers=2)
    for start, end in (((8, 10), (10, 10)), ((10, 10), (10, 12)), ((10.9, 11), (12, 11))):
        sketch.slot(start, end, 0.8)
    assert walls(sketch) == [pytest.approx(0.1, abs=1e-6)]


def test_every_pair_is_found_once_among_many() -> None:
    """A row of ten: nine neighbours."""
    sketch = Sketch(layers=2)
    for i in range(10):
        sketch.via("A", (5 + 0.55 * i, 10), drill=0.3)
    assert walls(sketch) == [pytest.approx(0.15, abs=1e-6)] * 9


@pytest.mark.parametrize("options", [{"turn": 30.0}, {"move": (50.0, -70.0)}, {"units": "inch"}, {"drill": "gerber"}])
def test_however_the_board_lies_and_is_written(options: dict) -> None:
    assert walls(vias(0.55), **options) == [pytest.approx(0.15, abs=1e-5)]
