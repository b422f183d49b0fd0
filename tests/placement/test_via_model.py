"""Which via is suggested, and settings of placement that cannot be."""

from __future__ import annotations

import pytest

from boards import board_of, settings_of
from fencepost.errors import SettingsError
from fencepost.placement.via import via_model
from sketch import Sketch


def board(*vias: tuple[str, float, float], span: tuple[int, int] | None = None):
    sketch = Sketch(layers=4, size=(20.0, 10.0))
    sketch.pour("GND", 2)
    for i, (net, drill, pad) in enumerate(vias):
        sketch.via(net, (2.0 + 1.5 * i, 5.0), drill=drill, pad=pad, span=span)
    return board_of(sketch)


SMALL, LARGE = (0.25, 0.5), (0.4, 0.8)


@pytest.mark.parametrize(
    ("vias", "expected"),
    [
        ([("GND", *SMALL), ("GND", *SMALL), ("GND", *LARGE)], SMALL),
        ([("GND", *LARGE), ("SIG", *SMALL), ("SIG", *SMALL)], LARGE),
        ([("SIG", *SMALL)], SMALL),
        ([("GND", *LARGE), ("GND", *SMALL)], SMALL),
    ],
    ids=["most of ground", "ground before others", "others where ground has none", "the smaller of equals"],
)
def test_the_via_is_what_ground_has_most_of(vias, expected) -> None:
    model = via_model(board(*vias), settings_of())
    assert (model.drill, model.pad) == pytest.approx(expected)


def test_blind_vias_are_no_model_for_one_that_goes_through() -> None:
    model = via_model(board(("GND", *SMALL), span=(1, 2)), settings_of())
    assert (model.drill, model.pad) == (0.3, 0.6)


def test_settings_go_before_the_board() -> None:
    text = '[placement]\ndrill = "0.2 mm"\npad = "16 mil"\nclearance = "0.13 mm"\nhole_wall = "0.3 mm"\nedge = "0.5 mm"'
    model = via_model(board(("GND", *LARGE)), settings_of(text))
    assert (model.drill, model.pad, model.clearance) == pytest.approx((0.2, 0.4064, 0.13))
    assert (model.wall, model.edge) == (0.3, 0.5)


@pytest.mark.parametrize(
    ("text", "key", "said"),
    [
        ('drill = "0.5 mm"\npad = "0.5 mm"', "placement.pad", "a pad of 0.5 mm leaves no ring around a hole of 0.5 mm"),
        ('drill = "0.6 mm"\npad = "0.5 mm"', "placement.pad", "leaves no ring around a hole of 0.6 mm"),
        (
            'drill = "0.9 mm"',
            "placement.drill",
            "a pad of 0.5 mm leaves no ring around a hole of 0.9 mm; the other one",
        ),
        (
            'pad = "0.2 mm"',
            "placement.pad",
            "leaves no ring around a hole of 0.25 mm; the other one is the board's own",
        ),
        (
            'pad = "12 mm"',
            "placement.pad",
            "a via with a pad of 12 mm, 0.3 mm from the edge, fits nowhere on a board of",
        ),
        ('edge = "6 mm"', "placement.edge", "a via with a pad of 0.5 mm, 6 mm from the edge, fits nowhere"),
    ],
)
def test_limits_that_contradict_one_another_or_the_board_are_an_error(text: str, key: str, said: str) -> None:
    with pytest.raises(SettingsError) as caught:
        via_model(board(("GND", *SMALL)), settings_of(f"[placement]\n{text}"))
    assert caught.value.key == key
    assert said in caught.value.message
