"""What an IPC-D-356 netlist says, record by record. The layout of the columns is that of IPC-D-356B, from memory."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fencepost.readers.testnet.netlist import Netlist, Point
from fencepost.readers.testnet.reader import read_testnet
from fencepost.source import SourceFile
from sketch import Sketch

HEAD = "C  made up\nP  JOB   test\nP  UNITS CUST 0\n"


def record(
    code: str = "317",
    net: str = "GND",
    part: str = "VIA",
    dash: str = "-",
    pin: str = "",
    middle: str = " ",
    hole: str = "D0118P",
    access: str = "00",
    place: str = "X+012345Y-006789",
    size: str = "X0236Y0000",
    tail: str = "R000S3",
) -> str:
    """One test record, every field in its columns."""
    line = f"{code}{net:<14}   {part:<6}{dash}{pin:<4}{middle}{hole:<6}A{access}{place}{size}{tail}"
    assert [line[38], line[41], line[49]] == ["A", "X", "Y"]
    return f"{line}\n"


def read(body: str, head: str = HEAD) -> Netlist:
    """The netlist of these records."""
    return read_testnet(SourceFile("fab/test.ipc", (head + body + "999\n").encode()))


def test_every_column_is_read() -> None:
    """In mm: 0.0118 in are 0.29972 mm, 1.2345 in 31.3563 mm."""
    found = read(record(code="327", net="A", part="U1", pin="12", middle="M", hole="", access="04", tail="R270S1"))
    assert found.kind.tolist() == [Point.SURFACE]
    assert [found.nets[i] for i in found.net] == ["A"]
    assert (found.part.tolist(), found.pin.tolist(), found.middle.tolist()) == (["U1"], ["12"], [True])
    assert (found.hole.tolist(), found.plated.tolist(), found.access.tolist()) == ([0.0], [False], [4])
    assert found.xy == pytest.approx(np.array([[31.3563, -17.24406]]))
    assert found.size == pytest.approx(np.array([[0.59944, 0.0]]))
    assert (found.rotation.tolist(), found.mask.tolist()) == ([270.0], [1])
    through = read(record())
    assert (through.hole.tolist(), through.plated.tolist()) == ([pytest.approx(0.29972)], [True])
    assert through.location(0).line == 4


@pytest.mark.parametrize(
    ("unit", "millimetres"),
    [("CUST 0", 0.00254), ("CUST0", 0.00254), ("CUST 1", 0.001), ("CUST 2", 0.00254), ("SI", 0.001)],
)
def test_units(unit: str, millimetres: float) -> None:
    """0.0001 inch or 0.001 mm, for places, holes and pads alike (from memory)."""
    found = read(record(), head=f"P  UNITS {unit}\n")
    assert found.xy[0] == pytest.approx(np.array([12345, -6789]) * millimetres)
    assert found.hole[0] == pytest.approx(118 * millimetres)
    assert found.size[0, 0] == pytest.approx(236 * millimetres)


@pytest.mark.parametrize(
    ("changes", "name", "value"),
    [
        ({"code": "307", "access": "01", "tail": "R000S0L01L03"}, "span", [1, 3]),
        ({"code": "307", "access": "02", "tail": "R000S0 L02-05"}, "span", [2, 5]),
        ({"code": "307", "access": "01", "tail": "R000 S0L01L03"}, "span", [1, 3]),
        ({"code": "317", "tail": "R000S0L01L03"}, "span", [0, 0]),
        ({"code": "367", "hole": "D1260U"}, "kind", Point.TOOLING),
        ({"code": "367", "hole": "D1260U"}, "plated", False),
        ({"place": "X 012345Y 006789"}, "xy", [31.3563, 17.24406]),
        ({"place": "X+ 12345Y-    89"}, "xy", [31.3563, -0.22606]),
        ({"size": "X 236Y    "}, "size", [0.59944, 0.0]),
        ({"tail": ""}, "mask", -1),
        ({"tail": ""}, "rotation", None),
        ({"tail": "R   S2"}, "rotation", None),
        ({"tail": "    S2"}, "mask", 2),
        ({"tail": "R045 S2 any"}, "mask", 2),
        ({"tail": "R045 S2 any"}, "rotation", 45.0),
        ({"net": "N/C"}, "net", -1),
        ({"net": ""}, "net", -1),
        ({"net": "A B"}, "nets", "A B"),
        ({"dash": " "}, "part", "VIA"),
    ],
)
def test_what_columns_may_hold(changes: dict[str, str], name: str, value: object) -> None:
    """One field of a record at a time."""
    found = getattr(read(record(**changes)), name)[0]
    if value is None:
        assert np.isnan(found)
    else:
        assert np.asarray(found).tolist() == (pytest.approx(value) if isinstance(value, (list, float)) else value)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_blanks_comments_and_a_missing_last_one(end: str) -> None:
    """Runs of records that are broken up by other lines are one netlist, in the order of the file."""
    lines = [
        *HEAD.splitlines(),
        record(net="A").strip(),
        "",
        "C  more",
        record(net="B").strip() + "  ",
        record(net="A").strip(),
        "999",
    ]
    found = read_testnet(SourceFile("a", end.join(lines).encode()))
    assert [found.nets[i] for i in found.net] == ["A", "B", "A"]
    assert [found.location(i).line for i in range(3)] == [4, 7, 8]


def test_aliases_stand_for_long_names() -> None:
    """Wherever in the file they are given; UTF-8 and, failing that, one byte a character."""
    alias = "P  NNAME00001 a name with blanks, longer than 14\nP  NNAME2  Ω\n"
    body = record(net="NNAME00001") + record(net="NNAME2") + record(net="NNAMELESS")
    for text in (HEAD + alias + body, HEAD + body + alias):
        found = read_testnet(SourceFile("a", f"{text}999\n".encode()))
        assert [found.nets[i] for i in found.net] == ["a name with blanks, longer than 14", "Ω", "NNAMELESS"]
    latin = read_testnet(SourceFile("a", f"{HEAD}{record(net='Ü')}999\n".encode("latin-1")))
    assert latin.nets == ("Ü",)


def test_records_that_go_on_take_over_what_they_leave_out() -> None:
    """Net, part, pin, hole and plating of the record before; not its place."""
    silent = record(code="017", net="", part="", dash=" ", hole="", access="04", place="X+000100Y+000200")
    found = read(record(net="A", part="J1", pin="3") + silent + silent + record(net="B"))
    assert [found.nets[i] for i in found.net] == ["A", "A", "A", "B"]
    assert found.part.tolist() == ["J1", "J1", "J1", "VIA"]
    assert found.goes_on.tolist() == [False, True, True, False]
    assert found.plated.all()
    assert found.hole == pytest.approx(0.29972)
    assert found.xy[1] == pytest.approx([0.254, 0.508])


def test_what_holds_no_point_is_passed_over_and_said() -> None:
    """Conductors, adjacency, edges and what goes on with them; parameters that are not known."""
    body = "378A              L01 X0100 X001000Y002000 X003000Y\n078 X1\n379A  B\n389BOARD_EDGE X0Y0\n"
    found = read(record() + body + record(), head=HEAD + "P  FOO bar\n")
    assert len(found) == 2
    assert found.notes == (
        "fab/test.ipc: records without a test point were passed over: 1 of 078, 1 of 378, 1 of 379, 1 of 389",
        "fab/test.ipc: parameters that are not known were passed over: FOO",
    )
    assert read(record()).notes == ()


def test_one_image_may_be_named() -> None:
    """And other parameters say nothing about points."""
    head = HEAD + "P  IMAGE PRIMARY\nP  VER IPC-D-356B\nP  CODE  00\nP  TITLE\n"
    assert len(read(record() + "P  IMAGE PRIMARY\n" + record(), head)) == 2


@given(
    st.lists(st.tuples(st.integers(-999999, 999999), st.integers(-999999, 999999), st.sampled_from("ABC")), min_size=1)
)
def test_any_run_of_records_comes_back(points: list[tuple[int, int, str]]) -> None:
    """Places to the last digit and nets in the order of the file."""
    found = read("".join(record(net=net, place=f"X{x:+07d}Y{y:+07d}") for x, y, net in points), "P  UNITS CUST 1\n")
    assert np.round(found.xy * 1000).astype(int).tolist() == [[x, y] for x, y, _ in points]
    assert [found.nets[i] for i in found.net] == [net for _, _, net in points]


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_a_sketch_is_read_back(units: str) -> None:
    """Places within half a step, nets with their full names, layers and spans."""
    sketch = Sketch(layers=4)
    sketch.via("A_NAME_OF_MORE_THAN_14", (3.3, 4.4), drill=0.3, pad=0.6)
    sketch.via("GND", (5.0, 4.4), span=(1, 2))
    sketch.pad("U1", "12", "SIG", 4, (7.0, 8.0), (1.0, 0.5))
    sketch.through_pad("J1", "1", "", (9.0, 8.0))
    found = read_testnet(SourceFile("a", sketch.testnet(units=units, turn=90.0, move=(100.0, 0.0))))
    half = 0.0005 if units == "mm" else 0.00127
    assert found.xy == pytest.approx(np.array([[95.6, 3.3], [95.6, 5.0], [92.0, 7.0], [92.0, 9.0]]), abs=half + 1e-9)
    assert [found.nets[i] if i >= 0 else "" for i in found.net] == ["A_NAME_OF_MORE_THAN_14", "GND", "SIG", ""]
    assert found.kind.tolist() == [Point.THROUGH, Point.BLIND, Point.SURFACE, Point.THROUGH]
    assert found.span.tolist() == [[0, 0], [1, 2], [0, 0], [0, 0]]
    assert found.access.tolist() == [0, 1, 4, 0]
    assert (found.part[2], found.pin[2]) == ("U1", "12")
