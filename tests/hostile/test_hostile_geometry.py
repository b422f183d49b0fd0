"""Copper that is drawn badly: what comes of it is valid, and its area is the one worked out by hand.

Areas are of polygons by their corners, of discs as pi d² / 4, of a stroke of a round aperture as its length times its
width and one disc, of a square one swept along (dx, dy) as s² + s (|dx| + |dy|).
"""

from __future__ import annotations

import math

import pytest
import shapely

from fencepost.board.drilling import holes_of
from fencepost.board.parts import Parts, parts_of
from fencepost.board.sources import Drilled
from fencepost.errors import InputError
from fencepost.readers.drill.excellon import read_drill
from fencepost.source import SourceFile
from readers import ipc2581_files as ipc
from readers.gerber_image import read

PI = math.pi
MM = 1_000_000
RELATIVE = 2e-3
"""Discs and arcs are polygons."""

Corners = list[tuple[float, float]]

CONTOURS: dict[str, tuple[Corners, float]] = {
    "a square": ([(0, 0), (1, 0), (1, 1), (0, 1)], 1),
    "clockwise": ([(0, 0), (0, 1), (1, 1), (1, 0)], 1),
    "two triangles that cross in the middle": ([(0, 0), (2, 2), (2, 0), (0, 2)], 2),
    "two squares that touch in a corner": ([(0, 0), (1, 0), (1, 1), (2, 1), (2, 2), (1, 2), (1, 1), (0, 1)], 2),
    "a hole reached by a cut-in": (
        [(0, 0), (4, 0), (4, 4), (0, 4), (0, 2), (1, 2), (1, 3), (3, 3), (3, 1), (1, 1), (1, 2), (0, 2)],
        12,
    ),
    "corners given twice": ([(0, 0), (0, 0), (1, 0), (1, 0), (1, 1), (1, 1), (0, 1)], 1),
    "a spike of no width": ([(0, 0), (1, 0), (1, 1), (3, 3), (1, 1), (0, 1)], 1),
    "a corner in the middle of a side": ([(0, 0), (0.5, 0), (1, 0), (1, 1), (0, 1)], 1),
    "there and back": ([(0, 0), (1, 0), (2, 0), (1, 0)], 0),
    "all in one place": ([(1, 1), (1, 1), (1, 1)], 0),
    "on one line": ([(0, 0), (1, 1), (2, 2)], 0),
    "a sliver of a micrometre": ([(0, 0), (10, 0), (10, 0.001), (0, 0.001)], 0.01),
    "a sliver of a nanometre": ([(0, 0), (10, 0), (10, 0.000001), (0, 0.000001)], 0.00001),
    "drawn round twice": ([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0), (1, 0), (1, 1), (0, 1)], 1),
}


def area(parts: Parts) -> float:
    """Of everything, and it is all valid."""
    outlines = parts.outlines
    assert shapely.is_valid(outlines).all(), shapely.is_valid_reason(outlines)
    assert not shapely.is_empty(outlines).any()
    assert set(shapely.get_type_id(outlines)) <= {3, 6}
    return float(shapely.union_all(outlines).area)


def region(corners: Corners) -> str:
    """A contour of straight sides."""
    (x, y), *rest = [(round(x * MM), round(y * MM)) for x, y in corners]
    return f"G01*G36*X{x}Y{y}D02*{''.join(f'X{a}Y{b}D01*' for a, b in [*rest, (x, y)])}G37*"


@pytest.mark.parametrize(("corners", "expected"), CONTOURS.values(), ids=CONTOURS)
def test_a_contour_in_gerber(corners: Corners, expected: float) -> None:
    for copies in (1, 3):
        assert area(parts_of(read(region(corners) * copies))) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("corners", "expected"), CONTOURS.values(), ids=CONTOURS)
def test_the_same_contour_in_ipc2581(corners: Corners, expected: float) -> None:
    for shape in (ipc.polygon(*corners), f"<Contour>{ipc.polygon(*corners)}</Contour>"):
        assert area(parts_of(ipc.top_of(shape))) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("corners", "expected"), CONTOURS.values(), ids=CONTOURS)
def test_the_same_contour_taken_out_of_copper(corners: Corners, expected: float) -> None:
    plate = region([(-1, -1), (11, -1), (11, 5), (-1, 5)])
    assert area(parts_of(read(f"{plate}%LPC*%{region(corners)}"))) == pytest.approx(72 - expected, rel=1e-9)


ROUND, SQUARE, OBLONG, NONE, FLAT = (
    "%ADD10C,1*%D10*",
    "%ADD10R,1X1*%D10*",
    "%ADD10R,1X2*%D10*",
    "%ADD10C,0*%D10*",
    "%ADD10R,1X0*%D10*",
)
RING = "%ADD10C,0.2*%D10*"
HERE, THERE, ASLANT = "X0Y0D01*", f"X{2 * MM}Y0D01*", f"X{MM}Y{MM}D01*"
MOVE = "G01*X0Y0D02*"

DRAWN: dict[str, tuple[str, float]] = {
    "a flash": (f"{ROUND}X0Y0D03*", PI / 4),
    "a flash three times": (f"{OBLONG}X0Y0D03*X0Y0D03*D03*", 2),
    "a flash of no size": (f"{NONE}X0Y0D03*", 0),
    "a flash without height": (f"{FLAT}X0Y0D03*", 0),
    "a stroke": (f"{ROUND}{MOVE}{THERE}", 2 + PI / 4),
    "a stroke drawn twice": (f"{ROUND}{MOVE}{THERE}{HERE}", 2 + PI / 4),
    "a stroke of no length": (f"{ROUND}{MOVE}{HERE}", PI / 4),
    "a stroke of no length, three times": (f"{ROUND}{MOVE}{HERE}{HERE}{HERE}", PI / 4),
    "a stroke of no width": (f"{NONE}{MOVE}{THERE}", 0),
    "a stroke of a square": (f"{SQUARE}{MOVE}{THERE}", 3),
    "a stroke of a square, aslant": (f"{SQUARE}{MOVE}{ASLANT}", 3),
    "a stroke of a square of no length": (f"{SQUARE}{MOVE}{HERE}", 1),
    "a stroke of a square without height": (f"{FLAT}{MOVE}{THERE}", 0),
    "a whole circle": (f"{RING}G75*{MOVE}G03*X0Y0I{MM}J0D01*", 2 * PI * 0.2),
    "a whole circle, clockwise": (f"{RING}G75*{MOVE}G02*X0Y0I{MM}J0D01*", 2 * PI * 0.2),
    "no turn in single quadrant mode": (f"{RING}G74*{MOVE}G03*X0Y0I{MM}J0D01*", PI * 0.01),
    "a quarter in single quadrant mode": (f"{RING}G74*{MOVE}G03*X{MM}Y{MM}I0J{MM}D01*", PI / 2 * 0.2 + PI * 0.01),
    "an arc of no radius": (f"{RING}G75*{MOVE}G03*X0Y0I0J0D01*", PI * 0.01),
    "a disc as a region": (f"G75*G36*X0Y0D02*G03*X0Y0I{MM}J0D01*G37*", PI),
    "half a disc": (f"G75*G36*X0Y0D02*G03*X{2 * MM}Y0I{MM}J0D01*G01*X0Y0D01*G37*", PI / 2),
    "a quarter whose radii are 1 and 1.005": (
        f"G75*G36*X0Y0D02*G01*X{MM}D01*G03*X0Y1005000I-{MM}J0D01*G01*X0Y0D01*G37*",
        PI / 4 * (1 + 1.005 + 1.005**2) / 3,
    ),
    "taken away again": (f"{SQUARE}X0Y0D03*%LPC*%X0Y0D03*", 0),
    "taken away before it is there": (f"{SQUARE}%LPC*%X0Y0D03*%LPD*%X0Y0D03*", 1),
    "cut in two": (f"{SQUARE}{MOVE}{THERE}%LPC*%X{MM}Y0D03*", 2),
    "a hole in a flash": ("%ADD10C,2X1*%D10*X0Y0D03*", 0.75 * PI),
    "a hole larger than its flash": ("%ADD10C,1X2*%D10*X0Y0D03*", 0),
}  # fmt: skip


@pytest.mark.parametrize(("body", "expected"), DRAWN.values(), ids=DRAWN)
def test_flashes_strokes_and_arcs(body: str, expected: float) -> None:
    assert area(parts_of(read(body))) == pytest.approx(expected, rel=RELATIVE, abs=1e-12)


ENDS = "expected an arc whose ends are equally far from its centre"

NO_ARCS = {
    "an end in the centre": (f"G75*{MOVE}G03*\nX{MM}Y0I{MM}J0D01*", ENDS),
    "radii of 1 and 1.49 mm": (f"G75*{MOVE}G03*\nX0Y1100000I-{MM}J0D01*", ENDS),
    "half a turn in single quadrant mode": (f"G74*{MOVE}G03*\nX{2 * MM}Y0I{MM}J0D01*", ENDS),
    "no quadrant mode": (f"{MOVE}G03*\nX{MM}Y{MM}I0J{MM}D01*", "expected G75 or G74 before the first arc"),
}


@pytest.mark.parametrize(("arc", "said"), NO_ARCS.values(), ids=NO_ARCS)
def test_an_arc_that_cannot_be_is_refused_at_its_place(arc: str, said: str) -> None:
    with pytest.raises(InputError, match=said) as refused:
        read(f"{RING}{arc}")
    assert (refused.value.line, refused.value.column) == (4, 1)


LINE = '<LineDesc lineEnd="{}" lineWidth="1"/>'

IPC_DRAWN: dict[str, tuple[str, float]] = {
    "a line": (f'<Line startX="0" startY="0" endX="2" endY="0">{LINE.format("ROUND")}</Line>', 2 + PI / 4),
    "a line with square ends": (f'<Line startX="0" startY="0" endX="2" endY="0">{LINE.format("SQUARE")}</Line>', 3),
    "a line with flat ends": (f'<Line startX="0" startY="0" endX="2" endY="0">{LINE.format("NONE")}</Line>', 2),
    "a line of no length": (f'<Line startX="1" startY="1" endX="1" endY="1">{LINE.format("ROUND")}</Line>', PI / 4),
    "a square line of no length": (f'<Line startX="1" startY="1" endX="1" endY="1">{LINE.format("SQUARE")}</Line>', 1),
    "a flat line of no length": (f'<Line startX="1" startY="1" endX="1" endY="1">{LINE.format("NONE")}</Line>', 0),
    "a whole circle": (
        '<Arc startX="1" startY="0" endX="1" endY="0" centerX="0" centerY="0" clockwise="true">'
        f"{LINE.format('ROUND')}</Arc>",
        PI * (1.5**2 - 0.5**2),
    ),
    "a disc as a polygon": (
        '<Polygon><PolyBegin x="1" y="0"/>'
        '<PolyStepCurve x="1" y="0" centerX="0" centerY="0" clockwise="true"/></Polygon>',
        PI,
    ),
    "a circle": ('<Circle diameter="1"/>', PI / 4),
    "a circle of no size": ('<Circle diameter="0"/>', 0),
    "a rectangle without height": ('<RectCenter width="1" height="0"/>', 0),
}  # fmt: skip


@pytest.mark.parametrize(("shape", "expected"), IPC_DRAWN.values(), ids=IPC_DRAWN)
def test_shapes_of_ipc2581(shape: str, expected: float) -> None:
    assert area(parts_of(ipc.top_of(shape))) == pytest.approx(expected, rel=RELATIVE, abs=1e-12)


HEAD = "M48\nMETRIC\nT1C1.0\n%\nG05\nT1\n"

DRILLED: dict[str, tuple[str, int, float]] = {
    "a hole": ("X1.0Y1.0\n", 1, PI / 4),
    "a hole three times": ("X1.0Y1.0\n" * 3, 3, PI / 4),
    "a slot": ("X0.0Y0.0G85X2.0Y0.0\n", 1, 2 + PI / 4),
    "a slot of no length": ("X1.0Y1.0G85X1.0Y1.0\n", 1, PI / 4),
    "a rout": ("G00X0.0Y0.0\nM15\nG01X2.0Y0.0\nM16\nG05\n", 1, 2 + PI / 4),
    "a rout of no length": ("G00X0.0Y0.0\nM15\nG01X0.0Y0.0\nM16\nG05\n", 1, PI / 4),
    "down and up again": ("G00X0.0Y0.0\nM15\nM16\nG05\n", 1, PI / 4),
    "there and back": ("G00X0.0Y0.0\nM15\nG01X2.0Y0.0\nG01X0.0Y0.0\nM16\nG05\n", 2, 2 + PI / 4),
    "a whole circle": ("G00X1.0Y0.0\nM15\nG03X1.0Y0.0I-1.0J0.0\nM16\nG05\n", 0, 2 * PI),
    "half a circle by its radius": ("G00X-1.0Y0.0\nM15\nG02X1.0Y0.0A1.0\nM16\nG05\n", 0, PI + PI / 4),
}


@pytest.mark.parametrize(("lines", "count", "expected"), DRILLED.values(), ids=DRILLED)
def test_holes_and_slots(lines: str, count: int, expected: float) -> None:
    """`count` is 0 where it depends on the chords."""
    hits = read_drill(SourceFile("a.drl", f"{HEAD}{lines}M30\n".encode()))
    holes = holes_of((Drilled(hits, True, 1, 2),))
    assert shapely.is_valid(holes.geometry).all()
    assert not count or len(holes) == count
    drilled = shapely.union_all(shapely.buffer(holes.geometry, holes.diameter / 2, quad_segs=64))
    assert drilled.area == pytest.approx(expected, rel=RELATIVE)
