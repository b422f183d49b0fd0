"""Over which copper traces run, on boards where that can be measured with a ruler."""

from __future__ import annotations

import pytest

from boards import board_of
from fencepost.signals.references import references_of
from sketch import Sketch


def shares(sketch: Sketch, **options: object) -> dict[int, dict[str, float]]:
    """Layer to share by `NET on Ln` and by `none`, and the length in mm."""
    board = board_of(sketch, **options)
    return {
        own.layer: {
            **{f"{board.nets[one.net].name} on L{one.layer}": one.share for one in own.over},
            "none": own.none,
            "length": own.length,
        }
        for own in references_of(board)
    }


def board(layers: int = 4, **options: object) -> Sketch:
    """A ground via far from all traces, since a package has holes."""
    sketch = Sketch(layers=layers, size=(60.0, 30.0), **options)
    sketch.via("GND", (58, 28))
    return sketch


@pytest.mark.parametrize("options", [{}, {"turn": 30.0, "move": (7.0, -3.0)}, {"units": "inch"}, {"mirror": True}])
def test_a_trace_that_leaves_its_plane_is_over_none_from_there_on(options) -> None:
    """30 mm of trace, the plane below ends after 18 mm."""
    sketch = board(2)
    sketch.pour("GND", 2, (0, 0, 28, 30))
    sketch.trace("SIG", 1, [(10, 10), (40, 10)])
    found = shares(sketch, **options)[1]
    assert found == {
        "GND on L2": pytest.approx(0.6, abs=0.01),
        "none": pytest.approx(0.4, abs=0.01),
        "length": pytest.approx(30),
    }


def test_pieces_of_several_nets_share_the_length_and_come_by_share() -> None:
    """30 mm: 9 over VCC, 21 over ground; 10 mm of another net over ground as well."""
    sketch = board(2)
    sketch.pour("VCC", 2, (0, 0, 20, 15))
    sketch.pour("GND", 2, (20, 0, 60, 15))
    sketch.trace("SIG", 1, [(11, 10), (41, 10)])
    sketch.trace("OTHER", 1, [(41, 5), (51, 5)])
    found = shares(sketch)[1]
    assert list(found)[:2] == ["GND on L2", "VCC on L2"]
    assert found["GND on L2"] == pytest.approx(31 / 40, abs=0.01)
    assert found["VCC on L2"] == pytest.approx(9 / 40, abs=0.01)


@pytest.mark.parametrize(
    ("gaps", "both"),
    [([(0.2, 4.2), (0.2, 4.2), (1.0, 4.2)], True), ([(0.1, 4.2), (0.9, 4.2), (0.5, 4.2)], False)],
    ids=["as far above as below", "nine times as far below as above"],
)
def test_a_stripline_has_both_planes_unless_one_carries_too_little(gaps, both) -> None:
    """The return is shared inversely to height: 0.1 against 0.9 mm leaves the farther plane a tenth, under 20 %."""
    sketch = board(gaps=gaps)
    sketch.pour("GND", 1)
    sketch.pour("GND", 3)
    sketch.trace("SIG", 2, [(10, 10), (40, 10)])
    found = shares(sketch)[2]
    assert found["GND on L1"] == pytest.approx(1.0)
    assert found.get("GND on L3") == (pytest.approx(1.0) if both else None)
    assert found["none"] == 0.0


def test_copper_behind_the_nearest_does_not_count_but_stands_in_where_that_is_missing() -> None:
    """L2 covers the left 20 of 30 mm; L3 lies behind all of it."""
    sketch = board()
    sketch.pour("GND", 2, (0, 0, 30, 30))
    sketch.pour("VCC", 3)
    sketch.trace("SIG", 1, [(10, 10), (40, 10)])
    found = shares(sketch)[1]
    assert (found["GND on L2"], found["VCC on L3"]) == (pytest.approx(2 / 3, abs=0.01), pytest.approx(1 / 3, abs=0.01))


def test_layers_without_signal_traces_are_left_out() -> None:
    sketch = board()
    sketch.pour("GND", 2)
    sketch.trace("GND", 1, [(5, 5), (9, 5)])
    assert shares(sketch) == {}
    sketch.trace("SIG", 4, [(10, 10), (40, 10)])
    assert list(shares(sketch)) == [4]
