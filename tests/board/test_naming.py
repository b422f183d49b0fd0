"""Nets of boards without labels: from a netlist, from points in the settings, from copper alone."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from boards import board_from, board_of
from fencepost.board.model import Board, NetKind
from fencepost.errors import FencepostError, InputError, SettingsError
from readers.test_testnet_records import record
from sketch import Sketch

Files = dict[str, bytes]


def sketch() -> Sketch:
    """Four layers: ground on L2 and L3, a supply on L3, two signals, a blind and a buried via, parts on both sides."""
    board = Sketch(layers=4)
    board.pour("GND", 2)
    board.pour("VCC", 3, (10, 0, 20, 20))
    board.pour("GND", 3)
    board.vias("GND", [(3, 3), (7, 15)])
    board.via("VCC", (15, 15))
    board.pad("U1", "1", "SIG", 1, (4, 10), (1.0, 0.5), angle=30)
    board.trace("SIG", 1, [(4, 10), (8, 10)])
    board.via("SIG", (8, 10))
    board.trace("SIG", 4, [(8, 10), (12, 10)])
    board.pad("U2", "7", "SIG", 4, (12, 10), (1.0, 0.5))
    board.pad("U2", "8", "", 4, (14, 10), (1.0, 0.5))
    board.via("BLIND", (5, 6), span=(1, 2))
    board.trace("BLIND", 1, [(5, 6), (6, 6)])
    board.via("BURIED", (6, 4), span=(2, 3))
    board.through_pad("J1", "1", "GND", (17, 4))
    board.hole((2, 17), 2.0)
    return board


def kind_of(board: Board, name: str) -> NetKind:
    return board.nets[board.net_index[name]].kind


def partition(board: Board) -> set[frozenset[int]]:
    """Which plated holes are on one net."""
    groups: dict[int, set[int]] = {}
    for hole in np.flatnonzero(board.holes.plated):
        groups.setdefault(int(board.holes.net[hole]), set()).add(int(hole))
    return {frozenset(group) for group in groups.values()}


def unlabelled(**options: object) -> Files:
    """A package whose copper names no net and no pin."""
    return sketch().gerber(attributes="files", **options)


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("sides", [False, True])
@pytest.mark.parametrize("pose", [{}, {"turn": 33.3, "move": (120.0, -80.0), "mirror": True}], ids=["plain", "placed"])
def test_a_netlist_names_all_copper_that_it_has_points_on(units: str, sides: bool, pose: dict[str, object]) -> None:
    """The same nets at the same holes as the labels give, whether the bottom is its layer 4 or its side 2."""
    labelled = board_of(sketch(), **pose)
    files = unlabelled(**pose)
    files["board.ipc"] = sketch().testnet(units=units, sides=sides, **pose)
    board = board_from(files)
    assert board.points is not None
    assert (board.points.piece[board.points.asked] >= 0).all()
    names = [[own.nets[net].name for net in own.holes.net[own.holes.plated]] for own in (labelled, board)]
    assert names[0] == names[1]
    assert kind_of(board, "GND") is NetKind.GROUND
    assert (
        "no copper file names its nets: 5 named by board/board.ipc, 1 known from their copper alone"
        in board.assumptions
    )
    assert board.files["board/board.ipc"] == "netlist of 10 points"


def test_labels_come_before_a_netlist() -> None:
    """It names only what they leave open; nets that only it knows are no nets of the board."""
    files = sketch().gerber()
    files["board.ipc"] = sketch().testnet().replace(b"327SIG", b"327SOG")
    board = board_from(files)
    assert {net.name for net in board.nets} == {"GND", "VCC", "SIG", "BLIND", "BURIED"}
    assert board.points is not None
    partly = sketch()
    partly.items = [item for item in partly.items if getattr(item, "net", None) != "BLIND"]
    partly.via("BLIND", (5, 6), span=(1, 2), label="")
    files = partly.gerber()
    files["board.ipc"] = partly.testnet()
    board = board_from(files)
    assert kind_of(board, "BLIND") is NetKind.SIGNAL
    assert board.nets[board.net_index["BLIND"]].named


def test_the_net_of_most_points_names_an_island() -> None:
    """As with labels."""
    files = unlabelled()
    files["board.ipc"] = sketch().testnet().replace(b"327SIG ", b"327GUS ", 1)
    assert files["board.ipc"].count(b"SIG") == 2
    names = {net.name for net in board_from(files).nets}
    assert "SIG" in names
    assert "GUS" not in names


def test_copper_alone_tells_the_same_nets_apart_as_labels_do() -> None:
    """Holes fall into the same groups; names are made up from positions, each net its own."""
    board = board_of(sketch(), attributes="files")
    assert partition(board) == partition(board_of(sketch()))
    assert not any(net.named for net in board.nets)
    assert len({net.name for net in board.nets}) == len(board.nets) == 6
    assert "no copper file names its nets: 6 known from their copper alone" in board.assumptions


def test_copper_at_one_place_on_two_layers_is_two_nets() -> None:
    """Made-up names do not join what nothing joins."""
    board = Sketch(layers=2)
    for layer in (1, 2):
        board.pad("", "", None, layer, (5, 5), 1.0, "round")
    board.trace(None, 1, [(12, 5), (13, 5)])
    board.via(None, (15, 5))
    names = {net.name for net in board_of(board, attributes="files").nets}
    assert {"net at (5.000, 5.000)", "net at (5.000, 5.000) on L2"} <= names
    assert len(names) == 4


@pytest.mark.parametrize(
    "spots",
    ['"3, 3"', '"1, 10, L2"', '["3, 3", "17, 4"]', '"17, 4"', '"3.1, 3, L3"', '"9, 17, L3"'],
    ids=["via", "plane", "several on one net", "pin", "in the barrel", "other plane"],
)
def test_a_point_of_the_settings_is_on_ground(spots: str) -> None:
    """Copper at the point, or the barrel around it, and all that is joined to it."""
    settings = f"[nets]\nground_at = {spots}"
    board = board_of(sketch(), settings, attributes="files")
    via = int(np.argmin(np.hypot(*(board.holes.centre - [3, 3]).T)))
    grounds = board.nets_of(NetKind.GROUND).tolist()
    assert grounds == [board.holes.net[via]]
    assert not any("ground" in note for note in board.assumptions)


def test_points_make_ground_of_named_nets_too() -> None:
    """And of copper without a label on a board that has labels, which gets a name for it."""
    board = board_of(sketch(), '[nets]\nground_at = "15, 15"')
    assert kind_of(board, "VCC") is NetKind.GROUND
    assert kind_of(board, "GND") is NetKind.GROUND
    board = board_of(sketch(), '[nets]\nground_at = "14, 10, L4"')
    assert kind_of(board, "net at (14.000, 10.000)") is NetKind.GROUND


@pytest.mark.parametrize(
    ("spots", "message"),
    [
        ('"50, 50"', '"50, 50": there is no copper at this point on any layer'),
        ('"1, 10, L1"', "there is no copper at this point on L1"),
        ('"1, 10, L5"', "the board has 4 copper layers"),
        ('"8, 10, L2"', "there is no copper at this point on L2"),
        ('"6, 10"', "L1, L2, L3 have copper that is not connected; add the layer"),
    ],
)
def test_a_point_on_no_copper_is_an_error(spots: str, message: str) -> None:
    """Of the settings, with their key. A signal's via that passes L2 has no copper of ground there."""
    board = sketch()
    if "8, 10" in spots:
        board.items = [item for item in board.items if getattr(item, "at", None) != (8, 10)]
        board.hole((8, 10), 1.0)
    with pytest.raises(SettingsError) as caught:
        board_of(board, f"[nets]\nground_at = {spots}", attributes="files")
    assert caught.value.key == "nets.ground_at"
    assert message in caught.value.message


def two(files: Files) -> None:
    files["other.ipc"] = files["board.ipc"]


def cut(files: Files) -> None:
    files["board.ipc"] = files["board.ipc"].replace(b"999\n", b"")


def cut_twice(files: Files) -> None:
    cut(files)
    name = next(name for name in files if name.endswith("L1.gbr"))
    files[name] = files[name].replace(b"M02*", b"")


@pytest.mark.parametrize(
    ("change", "message", "lines"),
    [
        (two, "a second netlist beside board/board.ipc; a package has one", 1),
        (cut, "the netlist ends without 999", 1),
        (cut_twice, "the netlist ends without 999", 2),
    ],
)
def test_a_netlist_that_is_not_whole_ends_the_reading(
    change: Callable[[Files], None], message: str, lines: int
) -> None:
    """Beside whatever else is wrong with the package."""
    files = unlabelled()
    files["board.ipc"] = sketch().testnet()
    change(files)
    with pytest.raises(FencepostError) as caught:
        board_from(files)
    assert message in str(caught.value)
    assert len(str(caught.value).splitlines()) == lines


def test_a_netlist_goes_with_an_ipc2581_file_too() -> None:
    """One is read, and a second is an error."""
    files = {"board.xml": sketch().ipc2581(), "board.ipc": sketch().testnet()}
    board = board_from(files)
    assert board.points is not None
    assert (board.points.piece[board.points.asked] >= 0).all()
    two(files)
    with pytest.raises(InputError, match="a second netlist"):
        board_from(files)


def test_holes_without_plating_are_asked_nothing() -> None:
    """A tooling hole of the netlist has no copper, and need not."""
    files = unlabelled()
    bare = record(code="367", net="", part="", hole="D2000U", place="X+002000Y+017000")
    text = sketch().testnet().decode().replace("999\n", f"{bare}999\n")
    files["board.ipc"] = text.encode()
    board = board_from(files)
    assert board.points is not None
    assert board.points.asked.tolist() == [True] * 10 + [False]
    assert board.points.piece[-1] == -1


def test_a_via_on_a_via_is_the_one_of_the_span() -> None:
    """Blind from both sides at one place, two nets: each point names its own."""
    board = Sketch(layers=4)
    board.via("A", (5, 5), span=(1, 2))
    board.via("B", (5, 5), span=(3, 4))
    files = board.gerber(attributes="files")
    files["board.ipc"] = board.testnet()
    read = board_from(files)
    found = {(read.nets[net].name, int(first)) for net, first in zip(read.holes.net, read.holes.first, strict=True)}
    assert found == {("A", 1), ("B", 3)}


@pytest.mark.parametrize("head", ["C\nP UNITS CUST 1\n", "C\tmade up\nP\tUNITS\tCUST 1\n", "\nP  UNITS CUST 1\n"])
def test_a_netlist_is_known_by_its_records_however_they_are_spaced(head: str) -> None:
    """Not passed over for a file of another kind."""
    text = sketch().testnet().decode()
    files = unlabelled()
    files["board.ipc"] = (head + "".join(f"{line}\n" for line in text.splitlines() if line[0] in "39")).encode()
    assert board_from(files).points is not None
