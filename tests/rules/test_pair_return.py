"""pair-return: boards that pass and boards that fail.

The boards are 20 x 20 mm. The halves D_P and D_N of a pair come along on L1, change layer at (10, 10.4) and (10, 9.6)
through vias of 0.25/0.5 mm, and leave on the last layer. The planes next to these two layers are ground, so that a tie
must join them. D is in a class with a rise time of 1 ns, and the limit for ties is 1.5 mm.
"""

from __future__ import annotations

import math

import pytest
from fencepost_rules.pair_return import PairReturn
from fencepost_rules.transition_return import TransitionReturn

from boards import board_of, findings_of, outcome_of
from fencepost.checking.finding import Finding, Severity, Unchecked
from fencepost.errors import SettingsError
from fencepost.physics.loop import loop_inductance
from sketch import Sketch
from tide_gauge import tide_gauge

CLASS = '[[class]]\nname = "link"\nnets = ["D_*"]\nrise_time = "1 ns"\n'
HALVES = {"D_P": 10.4, "D_N": 9.6}
Points = list[tuple[float, float]]


def bare(layers: int = 4, names: tuple[str, str] = ("D_P", "D_N"), last: int = 0) -> Sketch:
    """The pair, with nothing under it; `last` is the layer on which it leaves, the last one unless given."""
    sketch = Sketch(layers)
    for name, y in zip(names, HALVES.values(), strict=True):
        sketch.trace(name, 1, [(3, y), (10, y)])
        sketch.via(name, (10, y), 0.25, 0.5)
        sketch.trace(name, last or layers, [(10, y), (17, y)])
    return sketch


def pair(ties: Points, layers: int = 4, **options) -> Sketch:
    """The pair over ground next to both of its layers, with these ties."""
    sketch = bare(layers, **options)
    for layer in (2, layers - 1):
        sketch.pour("GND", layer)
    sketch.vias("GND", ties, drill=0.25, pad=0.5)
    return sketch


def check(sketch: Sketch, settings: str = CLASS, **options) -> list[Finding]:
    return findings_of(PairReturn, board_of(sketch, settings, **options), settings)


def difference(ties: Points) -> float:
    """How much farther the nearest tie is from one via than from the other."""
    nearest = [min(math.dist((10, y), tie) for tie in ties) for y in HALVES.values()]
    return abs(nearest[0] - nearest[1])


# Where the ties stand, and what must be said of it, None for nothing.

SIDES: dict[str, tuple[Points, str | None]] = {
    "outside of each half": ([(10, 11.25), (10, 8.75)], None),
    "a ring of four": ([(9.2, 11), (10.8, 11), (9.2, 9), (10.8, 9)], None),
    "diagonally, one for each half": ([(9.3, 11), (10.7, 9)], None),
    "before the pair, in its middle": ([(9, 10)], None),
    "behind it, in its middle": ([(11.1, 10)], None),
    "nearly in its middle": ([(9, 10.3)], None),
    "0.39 mm farther from one": ([(10, 11.25), (10, 8.36)], None),
    "0.41 mm farther from one": ([(10, 11.25), (10, 8.34)], "ground vias are uneven, 0.85 mm from D_P and 1.26 mm"),
    "beside one half only": ([(10, 11.25)], "on the side of D_P only, the nearest 0.85 mm from D_P and 1.65 mm"),
    "beside the other half only": ([(10, 8.75)], "on the side of D_N only, the nearest 0.85 mm from D_N and 1.65 mm"),
    "several beside one half": ([(10, 11.25), (9.3, 11.2), (10.8, 11.4)], "on the side of D_P only"),
    "beside one half, and far beyond the other": ([(10, 11.25), (10, 6)], "on the side of D_P only"),
    "none near": ([(4, 14), (16, 6)], None),
    "none at all": ([], None),
}  # fmt: skip


ANYWHERE = ({"turn": 30.0}, {"move": (-50.5, 7.1)}, {"units": "inch"}, {"mirror": True})


@pytest.mark.parametrize("layers", [4, 6, 8])
@pytest.mark.parametrize(("ties", "words"), SIDES.values(), ids=SIDES)
def test_ties_about_a_pair(ties: Points, words: str | None, layers: int) -> None:
    found = check(pair(ties, layers))
    assert len(found) == (words is not None)
    for finding in found:
        assert words in finding.message
        assert finding.severity == Severity.WARNING
        assert (finding.measured.quantity, finding.measured.unit) == ("difference", "mm")
        assert finding.measured.value == pytest.approx(difference(ties), abs=1e-6)
        assert finding.limit.value == pytest.approx(0.4)
        assert finding.layers == ("L1", f"L{layers}")
        assert finding.nets == ("D_P", "D_N")


@pytest.mark.parametrize(
    "options", [{"turn": 30.0}, {"move": (-50.5, 7.1)}, {"units": "inch"}, {"mirror": True}], ids=str
)
@pytest.mark.parametrize(("ties", "words"), SIDES.values(), ids=SIDES)
def test_the_same_is_found_wherever_the_board_lies(ties: Points, words: str | None, options: dict) -> None:
    found = check(pair(ties), **options)
    assert len(found) == (words is not None)
    assert all(words in finding.message for finding in found)


def test_what_has_no_tie_near_is_said_of_each_half_by_the_other_rule_and_not_again() -> None:
    board = board_of(pair([(4, 14)]), CLASS)
    assert len(findings_of(TransitionReturn, board, CLASS)) == 2
    assert findings_of(PairReturn, board, CLASS) == []


# Planes.


@pytest.mark.parametrize(("last", "count"), [(4, 1), (3, 0)])
def test_a_pair_that_keeps_its_reference_needs_nothing(last: int, count: int) -> None:
    """From the top of L2 to its bottom side, on L3; or to L4, over a ground of its own on L3."""
    sketch = bare(last=last)
    sketch.pour("GND", 2)
    if last == 4:
        sketch.pour("GND", 3)
    sketch.via("GND", (10, 11.25))
    assert len(check(sketch)) == count


def test_a_tie_that_the_plane_keeps_off_does_not_count() -> None:
    """There are ties on both sides, but the one below does not touch L3."""
    sketch = pair([(10, 11.25)])
    sketch.via("GND", (10, 8.75), 0.25, 0.5, isolate=(3,))
    (finding,) = check(sketch)
    assert "on the side of D_P only" in finding.message


def test_blind_ties_one_after_the_other_count_from_the_farther_one() -> None:
    """L2 to L4 and L4 to L5 beside D_P on six layers, a through tie beside D_N: 0.85 mm, 1.25 mm and 0.85 mm."""
    sketch = pair([(10, 8.75)], 6)
    sketch.pour("GND", 4)
    sketch.via("GND", (10, 11.25), 0.25, 0.5, (1, 4))
    sketch.via("GND", (10.0, 11.75), 0.25, 0.5, (4, 6))
    (finding,) = check(sketch)
    assert finding.measured.value == pytest.approx(0.5, abs=1e-6)


def test_planes_of_different_nets_are_left_to_the_other_rule() -> None:
    sketch = bare()
    sketch.pour("GND", 2)
    sketch.pour("+3V3", 3)
    sketch.via("GND", (10, 11.25))
    assert check(sketch) == []


def test_two_pieces_of_a_supply_are_tied_by_its_own_vias() -> None:
    sketch = bare()
    sketch.pour("GND", 2, (0, 0, 2, 20))
    sketch.pour("+3V3", 2)
    sketch.pour("+3V3", 3)
    sketch.via("+3V3", (10, 11.25), 0.25, 0.5)
    (finding,) = check(sketch)
    assert "and +3V3 vias stand on the side of D_P only" in finding.message


def test_a_half_whose_references_nothing_joins() -> None:
    """L3 is split between the halves, and only the piece under D_P is tied to L2."""
    sketch = bare()
    sketch.pour("GND", 2)
    sketch.pour("GND", 3, (0, 10.1, 20, 20))
    sketch.pour("GND", 3, (0, 0, 20, 9.9))
    sketch.via("GND", (10, 11.25), 0.25, 0.5)
    (finding,) = check(sketch)
    assert "and a ground via joins the references of D_P only, 0.85 mm away" in finding.message
    assert finding.measured is None
    assert (finding.place.x_mm, finding.place.y_mm) == pytest.approx((10, 9.6))


# One half alone.


def alone(last: int = 4, *, planes: tuple[int, ...] = (2, 3)) -> Sketch:
    """D_P goes to another layer and D_N stays on L1."""
    sketch = Sketch(4)
    for plane in planes:
        sketch.pour("GND", plane)
    sketch.trace("D_N", 1, [(3, 9.6), (17, 9.6)])
    sketch.trace("D_P", 1, [(3, 10.4), (10, 10.4)])
    sketch.via("D_P", (10, 10.4), 0.25, 0.5)
    sketch.trace("D_P", last, [(10, 10.4), (17, 10.4)])
    return sketch


def test_a_half_that_changes_layer_alone_is_a_note() -> None:
    (finding,) = check(alone())
    assert finding.message == "D_P goes from L1 to L4, and D_N does not within 3.00 mm of it"
    assert finding.severity == Severity.NOTE
    assert (finding.place.x_mm, finding.place.y_mm) == pytest.approx((10, 10.4))


def test_a_half_that_keeps_its_reference_alone_is_nothing() -> None:
    assert check(alone(3, planes=(2,))) == []


@pytest.mark.parametrize(("apart", "messages"), [("3 mm", 2), ("6 mm", 1)])
def test_halves_that_change_layer_far_apart(apart: str, messages: int) -> None:
    """5 mm from one another: either each alone, or together, with the one tie beside D_P."""
    sketch = alone()
    sketch.via("D_N", (10, 5.4), 0.25, 0.5)
    sketch.trace("D_N", 4, [(10, 5.4), (17, 5.4)])
    sketch.trace("D_N", 1, [(10, 9.6), (10, 5.4)])
    sketch.via("GND", (10, 11.25), 0.25, 0.5)
    found = check(sketch, CLASS + f'[rules.pair-return]\napart = "{apart}"\n')
    assert len(found) == messages


# Settings.


def test_a_pair_in_no_class_gives_a_note() -> None:
    (finding,) = check(pair([(10, 11.25)]), "")
    assert finding.severity == Severity.NOTE


@pytest.mark.parametrize(("asymmetry", "count"), [("0.81 mm", 0), ("0.79 mm", 1)])
def test_the_largest_difference_is_a_setting(asymmetry: str, count: int) -> None:
    assert len(check(pair([(10, 11.25)]), CLASS + f'[rules.pair-return]\nasymmetry = "{asymmetry}"\n')) == count


@pytest.mark.parametrize(
    ("more", "count"),
    [
        ("", 1),
        ('[rules.pair-return]\ndistance = "0.8 mm"\n', 0),
        ('[[class]]\nname = "x"\nnets = ["D_*"]\nfrequency = "30 GHz"\n', 0),
    ],
)
def test_where_no_tie_is_within_the_limit_of_either_half_nothing_is_said(more: str, count: int) -> None:
    """The nearest is 0.85 mm away; at 30 GHz and er 4.3 a twentieth of the wavelength is 0.24 mm."""
    settings = more if "class" in more else CLASS + more
    assert len(check(pair([(10, 11.25)]), settings)) == count


@pytest.mark.parametrize(("pairs", "count"), [("", 0), ('[[pair]]\nnets = ["ONE", "OTHER"]\n', 1)])
def test_pairs_that_their_names_do_not_tell_come_from_the_settings(pairs: str, count: int) -> None:
    found = check(pair([(10, 11.25)], names=("ONE", "OTHER")), pairs)
    assert [finding.nets for finding in found] == [("ONE", "OTHER")] * count


def test_a_pair_of_the_settings_that_is_not_there_is_an_error() -> None:
    with pytest.raises(SettingsError, match="ANOTHER"):
        check(pair([], names=("ONE", "OTHER")), '[[pair]]\nnets = ["ONE", "ANOTHER"]\n')


def test_without_ground_the_rule_says_that_it_cannot_look() -> None:
    (unchecked,) = outcome_of(PairReturn, board_of(bare()), "")
    assert isinstance(unchecked, Unchecked) and "[nets]" in unchecked.reason


# Where a finding stands.


def test_a_finding_stands_at_the_half_that_is_worse_off_and_names_both_ties() -> None:
    board = board_of(pair([(10, 11.25), (10, 8.2)]), CLASS)
    (finding,) = findings_of(PairReturn, board, CLASS)
    assert (finding.place.x_mm, finding.place.y_mm) == pytest.approx((10, 9.6))
    source = board.copper[0].artwork.source
    assert finding.place.location.file == source.name
    assert source.data.decode().splitlines()[finding.place.location.line - 1] == "X10000000Y9600000D01*"
    remarks = [(remark.message, remark.place.x_mm, remark.place.y_mm) for remark in finding.remarks]
    assert remarks == [
        ("the nearest tie of D_P is 0.85 mm away", pytest.approx(10), pytest.approx(11.25)),
        ("the nearest tie of D_N is 1.40 mm away", pytest.approx(10), pytest.approx(8.2)),
    ]
    assert all(remark.place.location.file.endswith(".drl") for remark in finding.remarks)


def test_the_worked_example_on_the_rule_s_page() -> None:
    """0.80 nH and 1.09 nH between planes 1.06 mm apart: two parallel round wires, exact (see physics.loop)."""
    near, far = (loop_inductance(1.06, away, 0.25) * 1e9 for away in (0.85, 1.65))
    assert f"{near:.2f} nH for the one half and {far:.2f} nH" in " ".join(PairReturn.page().split())
    assert "0.85 mm from D_P and 1.65 mm from D_N" in check(pair([(10, 11.25)]))[0].message


# The demo board.

TIDE = '[[class]]\nname = "rs485"\nnets = ["RS485_*"]\nrise_time = "10 ns"\n'


@pytest.mark.parametrize(("faults", "count"), [((), 0), (("pair-one-side",), 1)])
def test_the_tide_gauge_s_pair_is_even_but_for_the_fault_that_can_be_put_on_it(faults: tuple, count: int) -> None:
    found = check(tide_gauge(faults), TIDE)
    assert [finding.nets for finding in found] == [("RS485_P", "RS485_N")] * count
    assert all("on the side of RS485_P only" in finding.message for finding in found)
