"""Where labels and copper disagree. The boards are tables: each has one thing wrong with it, or looks as if it had.

Distances are those of the board's definition, worked out by hand beside each.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from fencepost_rules.net_agreement import NetAgreement

import tide_gauge as demo
from boards import board_from, board_of, findings_of, outcome_of
from fencepost.checking.finding import Finding, Severity, Unchecked
from fencepost.signals.shorts import FOLLOWED
from sketch import Sketch
from sketch.items import Trace

Change = Callable[[Sketch], object]


def plain() -> Sketch:
    """Four layers, ground on L2 and L3, a signal from L1 to L4, all as it should be."""
    board = Sketch(layers=4)
    for layer in (2, 3):
        board.pour("GND", layer)
    board.vias("GND", [(3, 3), (17, 3)])
    board.trace("SIG", 1, [(3, 10), (8, 10)], 0.2)
    board.pad("U1", "1", "SIG", 1, (3, 10), 0.8, "round")
    board.via("SIG", (8, 10))
    board.trace("SIG", 4, [(8, 10), (13, 10)], 0.2)
    board.pad("U2", "7", "SIG", 4, (13, 10), (1.0, 0.5))
    return board


def found(change: Change, **options: Any) -> list[Finding]:
    """The findings on the plain board with a change."""
    board = plain()
    change(board)
    return findings_of(NetAgreement, board_of(board, **options))


def test_a_board_that_agrees_has_no_findings() -> None:
    """By its labels, and by a netlist beside them."""
    assert found(lambda board: None) == []
    files = plain().gerber()
    files["board.ipc"] = plain().testnet()
    assert findings_of(NetAgreement, board_from(files)) == []


# Two nets, the layer on which they meet, and where.
SHORTS: dict[str, tuple[Change, tuple[str, str], str, tuple[float, float]]] = {
    "a trace across another": (
        lambda board: board.trace("OTHER", 1, [(5, 8), (5, 12)], 0.2), ("OTHER", "SIG"), "L1", (5, 10)
    ),
    "a trace that touches a pad": (
        lambda board: board.trace("OTHER", 1, [(3, 10.5), (3, 14)], 0.2), ("OTHER", "SIG"), "L1", (3, 10.25)
    ),
    "a gap of half a tolerance": (
        lambda board: board.trace("OTHER", 1, [(4, 10.2005), (7, 10.2005)], 0.2), ("OTHER", "SIG"), "L1", (4, 10.1)
    ),
    "a barrel through a trace": (
        lambda board: board.via("OTHER", (5, 10), pads=(2,)), ("OTHER", "SIG"), "L1", (5, 10)
    ),
    "a pad in the wrong pour": (
        lambda board: board.via("GND", (12, 15), label="OTHER", pads=(1, 4)), ("GND", "OTHER"), "L2", (12, 15)
    ),
    "copper without a label between them": (
        lambda board: (
            board.trace("OTHER", 1, [(5, 12), (5, 14)], 0.2),
            board.trace("", 1, [(5, 12), (5, 11)], 0.2),
            board.trace(None, 1, [(5, 11), (5, 10)], 0.2),
        ),
        ("OTHER", "SIG"), "L1", (5, 10),
    ),
    "a hole without a label between them": (
        lambda board: (
            board.trace("OTHER", 4, [(5, 10), (5, 14)], 0.2), board.via("", (5, 10), pads=(2, 3))
        ),
        ("OTHER", "SIG"), "L1", (5, 10),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("change", "nets", "layer", "at"), SHORTS.values(), ids=SHORTS.keys())
def test_a_short_is_found_where_it_is(
    change: Change, nets: tuple[str, str], layer: str, at: tuple[float, float]
) -> None:
    """Once, with a place on each net, within half a trace width of where they meet."""
    (finding,) = found(change)
    assert (finding.severity, finding.nets) == (Severity.ERROR, nets)
    assert "are connected: their copper meets" in finding.message
    assert (finding.place.x_mm, finding.place.y_mm) == pytest.approx(at, abs=0.3)
    assert finding.layers == (layer,)
    assert len({finding.place.location, finding.remarks[0].place.location}) == 2


def test_places_of_a_short_are_strokes_of_both_nets() -> None:
    """The line of each file names the feature that is there."""
    board = plain()
    board.trace("OTHER", 1, [(5, 8), (5, 12)], 0.2)
    files = board.gerber()
    (finding,) = findings_of(NetAgreement, board_from(files))
    text = files["board-L1.gbr"].decode().splitlines()
    for place, net in ((finding.place, "OTHER"), (finding.remarks[0].place, "SIG")):
        before = text[: place.location.line]
        assert "D01*" in before[-1]
        assert next(line for line in reversed(before) if line.startswith("%TO.N")) == f"%TO.N,{net}*%"


def test_three_nets_on_one_piece_are_two_shorts() -> None:
    """Each net with the one that it meets, not every one with every other."""

    def change(board: Sketch) -> None:
        board.trace("A", 1, [(5, 8), (5, 12)], 0.2)
        board.trace("B", 1, [(5, 12), (9, 12)], 0.2)

    assert [finding.nets for finding in found(change)] == [("A", "B"), ("A", "SIG")]


def test_of_a_hundred_nets_and_more_on_one_piece_the_rest_is_said_to_be_unchecked() -> None:
    board = Sketch(layers=2, size=(20.0, 10.0))
    board.trace("SIG", 1, [(1, 5), (19, 5)])
    for i in range(FOLLOWED + 3):
        board.trace(f"N{i}", 1, [(2 + 0.15 * i, 5), (2 + 0.15 * i, 6)], 0.1)
    board.via("SIG", (1, 5))
    said = outcome_of(NetAgreement, board_of(board))
    assert len([one for one in said if isinstance(one, Finding)]) == FOLLOWED
    assert [one.reason[:12] for one in said if isinstance(one, Unchecked)] == ["3 more nets "]


@pytest.mark.parametrize(
    "change",
    [
        lambda board: board.trace("OTHER", 1, [(4, 10.203), (7, 10.203)], 0.2),
        lambda board: board.trace("", 1, [(5, 8), (5, 12)], 0.2),
        lambda board: board.trace("N/C", 1, [(5, 8), (5, 12)], 0.2),
        lambda board: board.trace("OTHER", 4, [(5, 8), (5, 12)], 0.2),
        lambda board: board.via("OTHER", (5, 10), span=(3, 4)),
        lambda board: board.via("OTHER", (5, 10), plated=False, pads=(2,)),
    ],
    ids=["3 µm apart", "no net", "not connected", "another layer", "a via below", "a hole without plating"],
)
def test_what_does_not_touch_or_has_no_net_is_no_short(change: Change) -> None:
    """Nothing of SIG is connected to OTHER."""
    assert [finding for finding in found(change) if "connected: " in finding.message] == []


def etched(board: Sketch) -> None:
    """A bridge of copper that is a part itself, without a net, between the pads of that part."""
    board.trace("OTHER", 1, [(5, 12), (5, 14)], 0.2)
    board.pad("NT1", "1", "SIG", 1, (5, 10), 0.4, "round")
    board.pad("NT1", "2", "OTHER", 1, (5, 12), 0.4, "round")
    bridge = board.trace("", 1, [(5, 10), (5, 12)], 0.2)
    board.replace(bridge, function=("EtchedComponent",))


def tie(board: Sketch) -> None:
    """Two pads of one part that overlap."""
    board.trace("OTHER", 1, [(5, 10.5), (5, 14)], 0.2)
    board.pad("NT1", "1", "SIG", 1, (5, 10), 0.6, "round")
    board.pad("NT1", "2", "OTHER", 1, (5, 10.5), 0.6, "round")


def third(board: Sketch) -> None:
    """The same, but the part has a pin on a third net."""
    tie(board)
    board.pad("NT1", "3", "GND", 1, (7, 14), 0.6, "round")
    board.via("GND", (7, 14))


@pytest.mark.parametrize(
    ("change", "severity", "said"),
    [
        (etched, Severity.NOTE, "are joined on L1 by an etched component, as is meant"),
        (tie, Severity.NOTE, "are joined on L1 by NT1, as is meant"),
        (third, Severity.ERROR, "are connected: their copper meets on L1"),
    ],
)
def test_what_is_meant_to_join_two_nets_is_a_note(change: Change, severity: Severity, said: str) -> None:
    """Etched components (The Gerber Layer Format Specification, 2024.05), and net ties made of two pads."""
    (finding,) = found(change)
    assert (finding.severity, finding.nets) == (severity, ("OTHER", "SIG"))
    assert said in finding.message


def test_a_tie_does_not_excuse_a_short_elsewhere() -> None:
    """Both are found."""

    def change(board: Sketch) -> None:
        tie(board)
        board.trace("OTHER", 1, [(6, 14), (6, 9)], 0.2)

    assert {finding.severity for finding in found(change)} == {Severity.ERROR, Severity.NOTE}


def cut(board: Sketch) -> None:
    """From (8, 10) to (11, 10), with a round end of 0.1 mm, before the pad that begins at 12.5."""
    board.remove(*board.find(Trace, layer=4))
    board.trace("SIG", 4, [(8, 10), (11, 10)], 0.2)


def missing(board: Sketch) -> None:
    """From the via's pad, which ends at 8.3, to the pad at 12.5."""
    board.remove(*board.find(Trace, layer=4))


def far_pad(board: Sketch) -> None:
    """From the stroke's round end at 8.1 to the pad's edge at 14.5."""
    board.pad("U3", "2", "SIG", 1, (15, 10), (1.0, 0.5))


def two_pours(board: Sketch) -> None:
    """Two areas of a supply on L1 with a via each, 2 mm apart."""
    board.copper("VCC", 1, (2, 15, 6, 18))
    board.copper("VCC", 1, (8, 15, 12, 18))
    board.via("VCC", (4, 16.5), pads=(1,))
    board.via("VCC", (10, 16.5), pads=(1,))


@pytest.mark.parametrize(
    ("change", "net", "layer", "distance"),
    [(cut, "SIG", "L4", 1.4), (missing, "SIG", "L4", 4.2), (far_pad, "SIG", "L1", 6.2), (two_pours, "VCC", "L1", 2.0)],
)
def test_an_open_is_found_with_its_width(change: Change, net: str, layer: str, distance: float) -> None:
    """From copper to copper of the two sides, in mm."""
    (finding,) = found(change)
    assert (finding.severity, finding.nets, finding.layers) == (Severity.ERROR, (net,), (layer,))
    assert finding.measured is not None
    assert finding.measured.value == pytest.approx(distance, abs=1e-3)
    assert f"{net} is open" in finding.message


def test_an_open_names_the_pins_that_are_cut_off() -> None:
    """And both places."""
    (finding,) = found(cut)
    assert "its copper on L4 with U2-7 is 1.40 mm from the rest of the net" in finding.message
    assert finding.remarks[0].message == "the nearest of the rest of SIG"


def test_sides_on_different_layers_are_measured_from_above() -> None:
    """A via that does not reach L4."""

    def change(board: Sketch) -> None:
        (via,) = [item for item in board.items if getattr(item, "at", None) == (8, 10)]
        board.remove(via)
        board.via("SIG", (8, 10), span=(1, 2))

    (finding,) = found(change)
    assert finding.measured is not None
    assert finding.measured.value == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    "change",
    [
        lambda board: board.copper("GND", 1, (10, 14, 12, 16)),
        lambda board: board.trace("SIG", 1, [(5, 15), (8, 15)]),
        lambda board: board.pad("U9", "1", "", 1, (5, 15), 1.0, "round"),
    ],
    ids=["copper alone", "a trace alone", "a pad of no net"],
)
def test_copper_without_pad_or_hole_is_no_open(change: Change) -> None:
    """It connects nothing, joined or not."""
    assert found(change) == []


def via(**options: Any) -> Change:
    return lambda board: board.via("GND", (12, 15), **options)


def crowded(board: Sketch) -> None:
    """Signal vias in line on both sides: their antipads and the false one are one void."""
    board.via("GND", (12, 15), isolate=(2,))
    for number, x in enumerate((11.2, 12.8)):
        board.via(f"S{number}", (x, 15))


# Layers that the via at (12, 15) is not tied to, and the gap to the copper there.
ISOLATED: dict[str, tuple[Change, tuple[str, ...], float]] = {
    "kept off one plane": (via(isolate=(2,)), ("L2",), 0.2),
    "kept off both planes": (via(isolate=(2, 3)), ("L2", "L3"), 0.2),
    "a barrel without a pad": (via(isolate=(2,), pads=(1, 4)), ("L2",), 0.2),
    "a void that others share": (crowded, ("L2",), 0.2),
    "a power via in its own area": (
        lambda board: (board.pour("VCC", 1, (8, 12, 16, 19)), board.pour("VCC", 4, (8, 12, 16, 19)),
                       board.vias("VCC", [(10, 17), (14, 17)]), board.via("VCC", (12, 15), isolate=(4,))),
        ("L4",), 0.2,
    ),
}  # fmt: skip


@pytest.mark.parametrize(("change", "layers", "gap"), ISOLATED.values(), ids=ISOLATED.keys())
def test_a_via_that_its_own_copper_keeps_off_is_found(change: Change, layers: tuple[str, ...], gap: float) -> None:
    """At the hit that drills it, once, with all layers on which it ties nothing; the gap is the pour's clearance."""
    (finding,) = [one for one in found(change) if "is not connected to" in one.message]
    assert (finding.severity, finding.layers) == (Severity.WARNING, layers)
    assert (finding.place.x_mm, finding.place.y_mm) == (12, 15)
    assert finding.place.location.file.endswith(".drl")
    assert finding.measured is not None
    assert finding.measured.value == pytest.approx(gap, abs=0.002)
    assert len(finding.remarks) == len(layers)


def joined_by_trace(board: Sketch) -> None:
    """Kept off the pour, and led to it by a stroke."""
    board.via("GND", (12, 15), isolate=(2,))
    board.trace("GND", 2, [(12, 15), (14, 15)], 0.2)


def in_a_void(board: Sketch) -> None:
    """The plane has a void of 8 mm around the via."""
    (pour,) = board.find(type(board.items[0]), layer=2)
    board.remove(pour)
    board.pour("GND", 2, holes=[(8, 11, 16, 19)])
    board.via("GND", (12, 15))


def other_ground(board: Sketch) -> None:
    """A via of an analogue ground passes the digital one, and a net tie joins the two."""
    board.via("AGND", (12, 15))
    board.trace("AGND", 1, [(12, 15), (14, 15)], 0.3)
    board.pad("NT1", "1", "AGND", 1, (14, 15), 0.6, "round")
    board.pad("NT1", "2", "GND", 1, (14.5, 15), 0.6, "round")
    board.trace("GND", 1, [(14.5, 15), (16, 15)], 0.3)
    board.via("GND", (16, 15))


@pytest.mark.parametrize(
    "change",
    [
        via(),
        lambda board: board.pour("GND", 1, thermal=("via",)),
        joined_by_trace,
        in_a_void,
        other_ground,
        lambda board: board.via("GND", (12, 15), span=(1, 2), isolate=(3,)),
    ],
    ids=["solid", "thermal", "by a trace", "in a void", "another ground", "another layer"],
)
def test_a_via_that_is_joined_or_has_nothing_around_it_is_none(change: Change) -> None:
    """No finding but notes on what is meant."""
    assert [finding for finding in found(change) if finding.severity is not Severity.NOTE] == []


def test_a_pin_that_its_plane_keeps_off_is_a_note() -> None:
    """Pins are kept off planes so that they can be soldered."""
    (finding,) = found(lambda board: board.through_pad("J1", "1", "GND", (12, 15), isolate=(2,)))
    assert finding.severity is Severity.NOTE
    assert "the GND pin is not connected to GND on L2" in finding.message


ONE_OF_EACH: Change = lambda board: (  # noqa: E731
    board.trace("OTHER", 1, [(5, 8), (5, 12)], 0.2),
    board.pad("U3", "2", "SIG", 1, (15, 10), (1.0, 0.5)),
    board.via("GND", (12, 15), isolate=(2,)),
    tie(board),
)


@pytest.mark.parametrize(
    "options",
    [
        {"turn": 90.0},
        {"turn": 33.3, "move": (100.0, -40.0)},
        {"mirror": True},
        {"units": "inch"},
        {"drill": "gerber"},
        {"components": "copper"},
        {"attributes": "comments"},
    ],
    ids=str,
)
def test_findings_do_not_depend_on_how_the_board_is_written(options: dict[str, Any]) -> None:
    """Turned, moved, mirrored, in inches, in other files: the same disagreements with the same measures."""

    def said(**given: Any) -> list[tuple[object, ...]]:
        return sorted(
            (one.severity, one.message, one.nets, one.layers, one.measured and round(one.measured.value, 3))
            for one in found(ONE_OF_EACH, **given)
        )

    assert len(said()) >= 3
    assert said(**options) == said()


def with_netlist(board: Sketch, text: bytes, *, labels: bool) -> list[Finding]:
    files = board.gerber(attributes=True if labels else "files")
    files["board.ipc"] = text
    return findings_of(NetAgreement, board_from(files))


@pytest.mark.parametrize("labels", [True, False], ids=["labels", "no labels"])
def test_netlist_points_on_no_copper_are_found(labels: bool) -> None:
    """At their record, with pin and net."""
    moved, board = plain(), plain()
    (pad,) = [item for item in moved.items if getattr(item, "component", "") == "U2"]
    moved.replace(pad, at=(13, 12))
    text = moved.testnet()
    (finding,) = [one for one in with_netlist(board, text, labels=labels) if "no copper" in one.message]
    assert finding.message == "the netlist has U2-7 of SIG here, and there is no copper"
    line = 1 + text.decode().splitlines().index(next(x for x in text.decode().splitlines() if "U2" in x))
    assert (finding.place.location.file, finding.place.location.line) == ("board/board.ipc", line)
    assert (finding.place.x_mm, finding.place.y_mm) == (13, 12)


@pytest.mark.parametrize(
    ("missing", "said"),
    [(True, "and there is no plated hole"), (False, "and there is no copper at its hole")],
    ids=["not drilled", "no pads"],
)
def test_netlist_vias_without_hole_or_copper_are_found(missing: bool, said: str) -> None:
    """Even over a plane of their net: a via that is not drilled ties nothing."""
    board = plain()
    via = board.via("GND", (12, 15))
    text = board.testnet()
    board.remove(via)
    if not missing:
        board.via("GND", (12, 15), pads=(), isolate=(2, 3))
    wrong = [one for one in with_netlist(board, text, labels=True) if one.severity is Severity.ERROR]
    assert [one.message for one in wrong] == [f"the netlist has a via of GND here, {said}"]


def test_a_netlist_name_against_a_label_is_found() -> None:
    """Where the net has points under its own name as well; the copper's place goes with it."""
    text = plain().testnet().replace(b"317SIG ", b"317GND ")
    (finding,) = with_netlist(plain(), text, labels=True)
    assert finding.message == "the netlist has a via on GND, and the copper here is labelled SIG"
    assert finding.nets == ("GND", "SIG")
    assert finding.severity is Severity.ERROR


def test_nets_under_another_name_are_one_note() -> None:
    """Cut to 14 characters, or without a sheet's path: the same points, so the same nets."""
    text = plain().testnet().replace(b"SIG ", b"SAG ").replace(b"GND ", b"GNDX")
    (finding,) = with_netlist(plain(), text, labels=True)
    assert finding.severity is Severity.NOTE
    assert finding.message == "the netlist has other names for the same nets: GNDX for GND, SAG for SIG"


def test_a_netlist_of_another_board_is_one_finding() -> None:
    """Not one for each point."""
    (finding,) = with_netlist(plain(), plain().testnet(move=(1.7, 0.9)), labels=True)
    assert "5 of 5 points of the netlist are not on the board: it is of another board or revision" in finding.message


def test_without_labels_a_short_is_found_by_the_netlist() -> None:
    """With a point of each net."""
    board = plain()
    board.pad("U4", "3", "OTHER", 1, (5, 12), 0.6, "round")
    board.trace("OTHER", 1, [(5, 10), (5, 12)], 0.2)
    (finding,) = with_netlist(board, board.testnet(), labels=False)
    assert finding.message == "OTHER and SIG are connected, and the netlist has them apart"
    assert finding.remarks[0].message.endswith("of SIG")


def test_without_labels_an_open_is_found_by_the_netlist() -> None:
    """Two islands that the netlist has on one net."""
    board = plain()
    cut(board)
    (finding,) = with_netlist(board, board.testnet(), labels=False)
    assert finding.measured is not None
    assert finding.measured.value == pytest.approx(1.4, abs=1e-3)


def test_without_labels_and_netlist_nothing_is_checked() -> None:
    """And that is said."""
    (said,) = outcome_of(NetAgreement, board_of(plain(), attributes="files"))
    assert isinstance(said, Unchecked)
    assert "nothing says what is meant" in said.reason


@pytest.mark.parametrize("form", ["gerber", "older", "current"])
@pytest.mark.parametrize(
    ("fault", "said"),
    [
        ("", []),
        ("net-short", ["LED_ACT_K and LED_ERR_K are connected: their copper meets on L1"]),
        (
            "net-open",
            [
                "QSPI_CS is open: its copper on L4 with U2-1 is 2.14 mm from the rest of the net "
                "and joined to none of it"
            ],
        ),
        ("qspi-false-tie", ["the GND via is not connected to GND on L2: the copper all around keeps 0.20 mm off"]),
        ("stray-island", []),
        ("plane-slot", []),
        ("short-tie", []),
    ],
)
def test_faults_of_the_demo_board(fault: str, said: list[str], form: str) -> None:
    """Each by its own finding, in Gerber and in both forms of IPC-2581, and nothing on the clean board."""
    board = demo.tide_gauge([fault] if fault else [])
    files = board.gerber() if form == "gerber" else {"tide.xml": board.ipc2581(forms=form)}
    assert [finding.message for finding in findings_of(NetAgreement, board_from(files))] == said
