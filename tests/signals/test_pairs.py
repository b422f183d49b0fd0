"""Differential pairs: which nets make one, who says so, and which of their transitions belong together."""

from __future__ import annotations

from dataclasses import replace

import pytest

from boards import board_of, settings_of
from fencepost.errors import SettingsError
from fencepost.settings.load import load_settings
from fencepost.settings.model import PairNets, Settings
from fencepost.signals.pairs import Pair, halves_of, pairs_by_name, pairs_of, said_of_pairs, transitions_of_pair
from handmade import board as handmade
from sketch import Sketch

# Names in common use for the two halves of a pair: common practice, no source.

NAMES = [
    ("USB_DP", "USB_DM"),
    ("USB_DP", "USB_DN"),
    ("USB1-DP", "USB1-DM"),
    ("RS485_P", "RS485_N"),
    ("HTX0P", "HTX0N"),
    ("S0SCK_P", "S0SCK_N"),
    ("MDI[0]+", "MDI[0]-"),
    ("/sheet/LVDS0+", "/sheet/LVDS0-"),
    ("CLK_POS", "CLK_NEG"),
    ("Tx_p", "Tx_n"),
    ("PCIE_TX_P0", "PCIE_TX_N0"),
    ("DQS_P_1", "DQS_N_1"),
]


@pytest.mark.parametrize(("positive", "negative"), NAMES)
def test_two_halves_by_their_names(positive: str, negative: str) -> None:
    (pair,) = pairs_by_name((negative, "GND", positive, "RESET"))
    assert (pair.positive, pair.negative, pair.given) == (positive, negative, False)


@pytest.mark.parametrize(
    "names",
    [
        ("USB_DP",),
        ("USB_DP", "USB2_DM"),
        ("P", "N"),
        ("+", "-"),
        ("Tx_p", "Tx_N"),
        ("LED_P0", "LED_N1"),
        ("SWAP", "SWAM"),
    ],
)
def test_what_is_no_pair(names: tuple[str, ...]) -> None:
    assert pairs_by_name(names) == ()


# Who says so.

NETS = ("GND", "A", "B", "C", "D", "X_P", "X_N", "Y_P", "Y_N")


def nets_of(pairs: tuple[Pair, ...]) -> list[tuple[str, str, bool]]:
    return [(pair.positive, pair.negative, pair.given) for pair in pairs]


def settings_with(*pairs: tuple[str, str]) -> Settings:
    return Settings(pairs=tuple(PairNets(nets=nets) for nets in pairs))


def test_settings_the_package_and_names_together() -> None:
    board = replace(handmade(NETS), pairs=(("C", "D"),))
    found = pairs_of(board, settings_with(("A", "B")))
    assert nets_of(found) == [("A", "B", True), ("C", "D", True), ("X_P", "X_N", False), ("Y_P", "Y_N", False)]


@pytest.mark.parametrize(
    ("package", "settings", "expected"),
    [
        ((("X_P", "Y_P"),), [("X_P", "A")], [("X_P", "A", True), ("Y_P", "Y_N", False)]),
        ((("X_P", "Y_P"),), [], [("X_P", "Y_P", True)]),
        ((), [("X_N", "Y_N")], [("X_N", "Y_N", True)]),
        ((("X_N", "X_P"),), [], [("X_P", "X_N", True), ("Y_P", "Y_N", False)]),
        ((("X_P", "gone"),), [], [("X_P", "X_N", False), ("Y_P", "Y_N", False)]),
    ],
)
def test_settings_go_before_the_package_and_that_before_names(package, settings, expected) -> None:
    board = replace(handmade(NETS), pairs=package)
    assert nets_of(pairs_of(board, settings_with(*settings))) == expected


def test_only_pairs_by_name_are_told_as_an_assumption() -> None:
    found = pairs_of(handmade(NETS), settings_with(("X_P", "X_N")))
    assert said_of_pairs(found) == ("differential pairs by name: Y",)
    assert said_of_pairs(found[:1]) == ()


def test_ground_and_power_are_no_halves() -> None:
    assert pairs_of(handmade(("SENSE_N", "SENSE_P", "A")), Settings()) == ()


def test_pairs_are_read_from_the_settings_file(tmp_path) -> None:
    file = tmp_path / "fencepost.toml"
    file.write_text('[[pair]]\nnets = ["A", "B"]\n[[pair]]\nnets = ["C", "D"]\n')
    assert [pair.nets for pair in load_settings(file).pairs] == [("A", "B"), ("C", "D")]


@pytest.mark.parametrize(
    ("text", "key", "words"),
    [
        ('[[pair]]\nnets = ["A"]\n', "pair[0].nets", ["a list of 2, not of 1"]),
        ('[[pair]]\nnets = ["A", "B", "C"]\n', "pair[0].nets", ["a list of 2, not of 3"]),
        ('[[pair]]\nnets = "A"\n', "pair[0].nets", ["a list"]),
        ('[[pair]]\nnet = ["A", "B"]\n', "pair[0].net", ['did you mean "nets"']),
        ("[[pair]]\n", "pair[0]", ["nets must be given"]),
        ('[pair]\nnets = ["A", "B"]\n', "pair", ["a list", "a table"]),
        ('[[pair]]\nnets = ["A", "Z_Z"]\n', "pair[0].nets", ['no net is called "Z_Z"']),
        ('[[pair]]\nnets = ["X_P", "X_M"]\n', "pair[0].nets", ['no net is called "X_M"', 'did you mean "X_']),
        ('[[pair]]\nnets = ["A", "A"]\n', "pair[0].nets", ['"A" is twice in this pair']),
        ('[[pair]]\nnets = ["A", "B"]\n[[pair]]\nnets = ["C", "A"]\n', "pair[1].nets", ['"A" is in pair[0] already']),
    ],
)
def test_a_pair_that_cannot_be_is_said_with_its_key(text: str, key: str, words: list[str]) -> None:
    with pytest.raises(SettingsError) as caught:
        pairs_of(handmade(NETS), settings_of(text))
    assert caught.value.key == key
    assert [word for word in words if word not in caught.value.message] == []


# Transitions of a pair. Four layers, with ground on L2 and L3; both halves come along on L1 and leave on L4.


def halves(sketch: Sketch, *vias: tuple[str, float, float, int]) -> Sketch:
    """For each via its net, where it is, and the layer on which a trace leaves it; the trace comes along on L1."""
    sketch.pour("GND", 2)
    sketch.pour("GND", 3)
    for net, x, y, layer in vias:
        sketch.via(net, (x, y))
        sketch.trace(net, 1, [(x - 4, y), (x, y)])
        sketch.trace(net, layer, [(x, y), (x + 4, y)])
    return sketch


PAIR = Pair("D", "D_P", "D_N")


def matched(
    sketch: Sketch, apart: float = 3.0
) -> tuple[list[list[tuple[float, float]]], list[tuple[str, float, float]]]:
    """The positions of the vias that belong together, and of those alone with the name of their net."""
    board = board_of(sketch)
    found = transitions_of_pair(board, PAIR, apart)

    def at(transition) -> tuple[float, float]:
        x, y = board.holes.centre[transition.hole].tolist()
        return round(x, 3), round(y, 3)

    together = sorted([at(one) for one in couple] for couple in found.together)
    return together, sorted((names[0], *at(one)) for names, alone in found.alone.items() for one in alone)


MATCHES = {
    "side by side": ([("D_P", 6, 10, 4), ("D_N", 6, 11, 4)], [[(6, 10), (6, 11)]], []),
    "too far apart": ([("D_P", 6, 10, 4), ("D_N", 6, 14, 4)], [], [("D_N", 6, 14), ("D_P", 6, 10)]),
    "to other layers": ([("D_P", 6, 10, 4), ("D_N", 6, 11, 3)], [], [("D_N", 6, 11), ("D_P", 6, 10)]),
    "one half alone": ([("D_P", 6, 10, 4)], [], [("D_P", 6, 10)]),
    "the nearest": (
        [("D_P", 6, 10, 4), ("D_N", 6, 12, 4), ("D_N", 6, 9, 4)],
        [[(6, 10), (6, 9)]],
        [("D_N", 6, 12)],
    ),
    "twice": (
        [("D_P", 6, 5, 4), ("D_N", 6, 6, 4), ("D_P", 6, 15, 4), ("D_N", 6, 14, 4)],
        [[(6, 5), (6, 6)], [(6, 15), (6, 14)]],
        [],
    ),
    "of three the two nearest": (
        [("D_P", 6, 10, 4), ("D_P", 6, 11.6, 4), ("D_N", 6, 10.9, 4)],
        [[(6, 11.6), (6, 10.9)]],
        [("D_P", 6, 10)],
    ),
}


@pytest.mark.parametrize(("vias", "together", "alone"), MATCHES.values(), ids=MATCHES)
def test_transitions_that_belong_together(vias, together, alone) -> None:
    sketch = Sketch(4)
    if not any(net == "D_N" for net, *_ in vias):
        sketch.trace("D_N", 1, [(2, 18), (8, 18)])
    assert matched(halves(sketch, *vias)) == (together, alone)


def test_a_half_whose_copper_goes_by_another_name_is_found() -> None:
    """A bridged jumper joins D_N to the longer trace of net X, and all of the copper is X's."""
    sketch = halves(Sketch(4), ("D_P", 6, 10, 4), ("X", 6, 11, 4))
    sketch.trace("D_N", 1, [(2, 11), (1.5, 11)])
    board = board_of(sketch)
    assert len(board.conflicts) == 1
    assert halves_of(board, PAIR) == (board.net_index["D_P"], board.net_index["X"])
    assert matched(sketch)[0] == [[(6, 10), (6, 11)]]
