"""Slots, routs, repeats and attributes of Excellon and XNC files, against positions worked out by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from fencepost.readers.artwork import SAGITTA_MM, DrillHits
from fencepost.readers.drill.excellon import read_drill
from fencepost.source import SourceFile

HEADER = "M48\nMETRIC\nT1C0.6\nT2C1.0\n%\n"


def read(body: str, header: str = HEADER) -> DrillHits:
    """A file with two tools and this body."""
    return read_drill(SourceFile("fab/a.drl", (header + body + "M30\n").encode()))


def segments(hits: DrillHits) -> list[tuple[float, ...]]:
    """x and y of start and end of each row, to the nanometre."""
    return [tuple(row) for row in np.round(np.column_stack([hits.start, hits.end]), 6).tolist()]


SLOTS = {
    "a slot by G85": ("T1\nX1.0Y2.0G85X3.0Y4.0\n", [(1, 2, 3, 4)]),
    "a slot by G85 along one axis": ("T1\nX1.0Y2.0G85X3.0\n", [(1, 2, 3, 2)]),
    "slots in a row, axes left out": (
        "T1\nX1.0Y2.0G85X3.0\nX5.0G85Y6.0\nY7.0G85X8.0Y9.0\nG85X0.0\n",
        [(1, 2, 3, 2), (5, 2, 5, 6), (5, 7, 8, 9), (8, 9, 0, 9)],
    ),
    "holes before and after a slot": (
        "T1\nX1.0Y1.0\nX2.0\nX3.0G85Y2.0\nX4.0\n",
        [(1, 1, 1, 1), (2, 1, 2, 1), (3, 1, 3, 2), (4, 2, 4, 2)],
    ),
    "a rout of one piece": ("T1\nG00X1.0Y2.0\nM15\nG01X3.0Y2.0\nM16\nG05\n", [(1, 2, 3, 2)]),
    "a rout of several pieces is a row for each": (
        "T1\nG00X0.0Y0.0\nM15\nG01X4.0\nG01Y3.0\nG01X0.0\nG01Y0.0\nM16\nG05\nX9.0Y9.0\n",
        [(0, 0, 4, 0), (4, 0, 4, 3), (4, 3, 0, 3), (0, 3, 0, 0), (9, 9, 9, 9)],
    ),
    "two routs, up by M17": (
        "T1\nG00X0.0Y0.0\nM15\nG01X1.0\nM17\nG00X5.0\nM15\nG01X6.0\nM17\n",
        [(0, 0, 1, 0), (5, 0, 6, 0)],
    ),
    "coordinates on the lines after the command": (
        "T1\nG00\nX1.0Y2.0\nM15\nG01\nX3.0Y2.0\nY5.0\nM16\nG05\n",
        [(1, 2, 3, 2), (3, 2, 3, 5)],
    ),
    "bare coordinates while the tool is down": (
        "T1\nG00X1.0Y2.0\nM15\nX3.0Y2.0\nY5.0\nM16\nG05\n",
        [(1, 2, 3, 2), (3, 2, 3, 5)],
    ),
    "up by G05 alone": ("T1\nG00X1.0Y2.0\nM15\nG01X3.0\nG05\nX7.0\n", [(1, 2, 3, 2), (7, 2, 7, 2)]),
    "up at the end of the program": ("T1\nG00X1.0Y2.0\nM15\nG01X3.0\n", [(1, 2, 3, 2)]),
    "down and up in one place is a hole": ("T1\nG00X1.0Y2.0\nM15\nM16\nG05\n", [(1, 2, 1, 2)]),
    "moves with the tool up make nothing": ("T1\nG00X1.0Y2.0\nG00X3.0\nX4.0\nG05\nX5.0\n", [(5, 2, 5, 2)]),
    "an incremental rout": (
        "G91\nT1\nG00X1.0Y2.0\nM15\nG01X2.0\nG01Y1.0\nX1.0Y1.0\nM16\nG90\nG05\nX0.0\n",
        [(1, 2, 3, 2), (3, 2, 3, 3), (3, 3, 4, 4), (0, 4, 0, 4)],
    ),
    "a repeat on both axes": (
        "T1\nX1.0Y1.0\nR3X0.5Y-0.25\n",
        [(1, 1, 1, 1), (1.5, 0.75, 1.5, 0.75), (2, 0.5, 2, 0.5), (2.5, 0.25, 2.5, 0.25)],
    ),
    "a repeat of a repeat goes on from its last hole": (
        "T1\nX1.0Y1.0\nR1X1.0\nR2Y1.0\nX0.0\n",
        [(1, 1, 1, 1), (2, 1, 2, 1), (2, 2, 2, 2), (2, 3, 2, 3), (0, 3, 0, 3)],
    ),
    "a repeat of no times": ("T1\nX1.0Y1.0\nR0X1.0\n", [(1, 1, 1, 1)]),
    "no holes at all": ("T1\nT2\nT0\n", []),
}


@pytest.mark.parametrize(("body", "expected"), SLOTS.values(), ids=SLOTS.keys())
def test_rows(body: str, expected: list[tuple[float, ...]]) -> None:
    assert segments(read(body)) == expected


def test_slot_in_inches_without_points() -> None:
    """2:4 with trailing zeros kept: 1000 is 0.1 inch, 2.54 mm."""
    hits = read("T1\nX1000Y2000G85X3000\n", "M48\nINCH,TZ,00.0000\nT1C0.05\n%\n")
    assert segments(hits) == [(2.54, 5.08, 7.62, 5.08)]
    assert hits.diameter.tolist() == pytest.approx([1.27])


# Start (3, 4), and where the arc ends, how it is written, its centre, and how far round it goes, counter-clockwise
# positive. The points are on circles of the 3-4-5 triangle.
ARCS = {
    "a quarter, counter-clockwise, by its centre": ("G03X-4.0Y3.0I-3.0J-4.0", (0, 0), 90.0),
    "three quarters, clockwise, by its centre": ("G02X-4.0Y3.0I-3.0J-4.0", (0, 0), -270.0),
    "a quarter, clockwise, by its radius": ("G02X4.0Y-3.0A5.0", (0, 0), -90.0),
    "a half, by its radius": ("G03X-3.0Y-4.0A5.0", (0, 0), 180.0),
    "a quarter, counter-clockwise, by its radius": ("G03X-4.0Y3.0A5.0", (0, 0), 90.0),
    "a full circle": ("G03X3.0Y4.0I-3.0J-4.0", (0, 0), 360.0),
    "a full circle clockwise, its end left out": ("G02I-3.0J-4.0", (0, 0), -360.0),
    "the centre on one axis": ("G03X3.0Y10.0J3.0", (3, 7), 180.0),
}


@pytest.mark.parametrize(("command", "centre", "degrees"), ARCS.values(), ids=ARCS.keys())
def test_an_arc_is_chords_on_its_circle(command: str, centre: tuple[float, float], degrees: float) -> None:
    """Every point on the circle, the sense and the angle as told, and no chord further from it than the sagitta."""
    hits = read(f"T1\nG00X3.0Y4.0\nM15\n{command}\nM16\nG05\n")
    path = np.vstack([hits.start, hits.end[-1:]])
    assert (hits.start[1:] == hits.end[:-1]).all()
    radius = math.hypot(3 - centre[0], 4 - centre[1])
    np.testing.assert_allclose(np.hypot(*(path - centre).T), radius, atol=1e-9)
    angles = np.unwrap(np.arctan2(*(path - centre).T[::-1]))
    assert math.degrees(angles[-1] - angles[0]) == pytest.approx(degrees, abs=1e-6)
    middles = (path[1:] + path[:-1]) / 2
    assert radius - np.hypot(*(middles - centre).T).min() <= SAGITTA_MM + 1e-12


def test_the_area_of_a_routed_ring_is_that_of_the_annulus() -> None:
    """A circle of 5 mm radius cut with a tool of 0.6 mm: area 2 pi r w, to the precision of the chords."""
    hits = read("T1\nG00X5.0Y0.0\nM15\nG02X5.0Y0.0I-5.0J0.0\nM16\nG05\n")
    ring = shapely.MultiLineString(list(np.stack([hits.start, hits.end], axis=1))).buffer(0.3, quad_segs=64)
    assert ring.area == pytest.approx(2 * math.pi * 5.0 * 0.6, rel=1e-3)


def test_diameters_follow_the_tool() -> None:
    hits = read("T1\nX1.0Y1.0\nT2\nX2.0\nG00X3.0\nM15\nG01X4.0\nM16\nG05\nT1\nX5.0\n")
    assert hits.diameter.tolist() == [0.6, 1.0, 1.0, 0.6]


ATTRIBUTED = """M48
; #@! TF.FileFunction,Plated,1,4,PTH
; #@! TF.Part,Single
METRIC
; #@! TA.AperFunction,Plated,PTH,ViaDrill
T1C0.3
; #@! TA.AperFunction,Plated,PTH,ComponentDrill
T2C0.9
; #@! TD
T3C1.1
%
T1
X1.0Y1.0
; #@! TO.N,/BUS\\u002C0
X2.0
T2
; #@! TO.P,J1,3
X3.0
; #@! TD.N
X4.0
; #@! TD
T3
; #@! TO.N,µV
X5.0
M30
"""


def test_attributes_go_to_file_tools_and_hits() -> None:
    """As Ucamco's Gerber format has it, 5.1: TA holds for tools defined after it, TO for hits, until TD."""
    hits = read_drill(SourceFile("fab/a.drl", ATTRIBUTED.encode()))

    def of(column: np.ndarray) -> list[tuple[str, ...]]:
        return [hits.values[i] if i >= 0 else () for i in column]

    assert hits.attributes == {".FileFunction": ("Plated", "1", "4", "PTH"), ".Part": ("Single",)}
    via, pin = ("Plated", "PTH", "ViaDrill"), ("Plated", "PTH", "ComponentDrill")
    assert of(hits.function) == [via, via, pin, pin, ()]
    assert of(hits.net) == [(), ("/BUS,0",), ("/BUS,0",), (), ("µV",)]
    assert of(hits.pin) == [(), (), ("J1", "3"), ("J1", "3"), ()]


def test_plating_told_by_comments_is_the_function_of_the_tools_after_them() -> None:
    body = ";TYPE=NON_PLATED\nT2\nX3.0Y3.0\n;TYPE=PLATED\nT1\nX4.0\n"
    header = "M48\nMETRIC\n;TYPE=PLATED\nT1C0.3\n;TYPE=NON_PLATED\nT2C3.0\n%\n"
    for text in ("T2\nX3.0Y3.0\nT1\nX4.0\n", body):
        hits = read(text, header)
        assert [hits.values[i] for i in hits.function] == [("NonPlated",), ("Plated",)]
    hits = read(body, HEADER)
    assert [hits.values[i] for i in hits.function] == [("NonPlated",), ("Plated",)]


def test_a_tool_line_in_the_header_does_not_take_the_tool_up() -> None:
    """M48 ... % defines tools; without a header the same line takes the tool up as well."""
    assert read("X1.0Y1.0\n", "METRIC\nT1C0.6\n").diameter.tolist() == [0.6]
    with pytest.raises(Exception, match=r"fab/a\.drl:6:1: error: no tool is taken up"):
        read("X1.0Y1.0\n")
