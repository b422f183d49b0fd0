"""Profiles: areas by hand, and what does not close."""

import numpy as np
import pytest

from drawing import Drawing
from fencepost.board.outline import outline_of
from fencepost.errors import InputError


def ring(x: float, y: float, size: float) -> list[tuple[float, float]]:
    return [(x, y), (x + size, y), (x + size, y + size), (x, y + size), (x, y)]


@pytest.mark.parametrize(
    ("drawing", "expected"),
    [
        pytest.param(Drawing().stroke(ring(0, 0, 10)), 100, id="four strokes"),
        pytest.param(Drawing().fill(ring(0, 0, 10)), 100, id="a fill"),
        pytest.param(Drawing().stroke(ring(0, 0, 10)).stroke(ring(2, 2, 3)), 91, id="a cut-out"),
        pytest.param(
            Drawing().stroke(ring(0, 0, 10)).stroke(ring(2, 2, 6)).stroke(ring(4, 4, 1)),
            65,
            id="an island in a cut-out",
        ),
        pytest.param(Drawing().stroke(ring(0, 0, 10)).stroke(ring(20, 0, 10)), 200, id="two boards"),
        pytest.param(
            Drawing().stroke([(0, 0), (10, 0)]).stroke([(10, 10), (10, 0.01)]).stroke([(10, 10), (0, 10), (0, 0.02)]),
            100,
            id="corners 20 µm apart, strokes in any order and direction",
        ),
    ],
)
def test_area(drawing: Drawing, expected: float) -> None:
    assert outline_of(drawing.artwork()).area == pytest.approx(expected, rel=3e-3)


def test_a_gap_in_the_profile_is_an_error_at_the_stroke_that_ends_there() -> None:
    drawing = Drawing().stroke([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0.5)])
    with pytest.raises(InputError, match=r"gbr:(1|4):1: error: the profile does not close at \(0\.000, 0\.[05]00\)"):
        outline_of(drawing.artwork())


def test_a_profile_without_strokes_is_an_error() -> None:
    with pytest.raises(InputError, match="no outline"):
        outline_of(Drawing().artwork())


def test_an_arc_of_chords_closes() -> None:
    angles = np.linspace(0, 2 * np.pi, 200)
    drawing = Drawing().stroke([(5 * np.cos(a), 5 * np.sin(a)) for a in angles])
    assert outline_of(drawing.artwork()).area == pytest.approx(np.pi * 25, rel=1e-3)
