"""IPC-2581 files by a strategy, with what they hold known from how they are written.

Every shape stands in a square of its own, so that its area is that of its formula and all of them add up. Source: the
schemas of IPC-2581 revisions B and C.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from hypothesis import strategies as st

from fuzz.written import Written

SQUARE_MM = 10.0
UNITS = {"MILLIMETER": 1.0, "INCH": 25.4, "MICRON": 1e-3}

BREAKAGES: dict[str, bool] = {
    "cut short": True, "no units": True, "unknown units": True, "no copper layer": True, "layer without features": True,
    "unknown shape": True, "a word for a number": True, "no number": True, "unclosed element": True, "entity": True,
    "two roots": True, "unknown revision": True, "infinite": True, "step inside a step": True, "unknown layer": True,
    "control character": True, "dropped line": False, "dropped attribute": False,
}  # fmt: skip
"""What can be wrong with a nearly valid file, and whether it must be refused."""


@dataclass(frozen=True)
class Ipc2581Case(Written):
    """`squares`: lower left corner and area of the top layer's copper in mm². `holes`: x, y and diameter in mm."""

    lines: tuple[str, ...]
    drawing: tuple[int, ...]
    squares: tuple[tuple[float, float, float], ...]
    nets: frozenset[str]
    holes: tuple[tuple[float, float, float], ...]
    broken: str = ""

    def joined(self, lines: tuple[str, ...]) -> bytes:
        """A file of other lines."""
        return "\n".join(lines).encode()


@st.composite
def ipc2581_files(draw: st.DrawFn, nearly: bool = False) -> Ipc2581Case:
    """Valid files, or with `nearly` such as have one thing wrong."""
    page = _Page(draw, UNITS[(unit := draw(st.sampled_from(sorted(UNITS))))])
    for number, kind in enumerate(draw(st.lists(st.sampled_from(sorted(_KINDS)), min_size=1, max_size=7))):
        page.begin(number)
        _KINDS[kind](page)
    case = page.case(unit, draw(st.sampled_from(("B", "C"))))
    return _broken(draw, case) if nearly else case


@dataclass
class _Page:
    """A file in the making: what is put down in millimetres comes out in the file's unit."""

    draw: st.DrawFn
    unit_mm: float
    sets: list[str] = field(default_factory=list)
    shapes: list[str] = field(default_factory=list)
    squares: list[tuple[float, float, float]] = field(default_factory=list)
    nets: set[str] = field(default_factory=set)
    origin: tuple[float, float] = (0.0, 0.0)

    def begin(self, number: int) -> None:
        """Go to the next square; sometimes of a net."""
        self.origin = (number % 3 * SQUARE_MM, number // 3 * SQUARE_MM)
        self.net = self.draw(st.sampled_from(("", "GND", "+3V3", "A & B", "Ω")))

    def size(self, low: float = 0.5, high: float = 2.0) -> float:
        """A length in mm, to 10 µm."""
        return self.draw(st.integers(round(low * 100), round(high * 100))) / 100

    def number(self, value: float) -> str:
        """A length in the file's unit."""
        return f"{value / self.unit_mm:.9f}"

    def point(self, x: float, y: float, prefix: str = "") -> str:
        """Attributes of a place in the square, from its middle."""
        names = (f"{prefix}X", f"{prefix}Y") if prefix else ("x", "y")
        middle = (self.origin[0] + SQUARE_MM / 2 + x, self.origin[1] + SQUARE_MM / 2 + y)
        return " ".join(f'{name}="{self.number(value)}"' for name, value in zip(names, middle, strict=True))

    def path(self, tag: str, corners: list[tuple[float, float]], more: str = "") -> str:
        """A closed path."""
        steps = "".join(f"<PolyStepSegment {self.point(*corner)}/>" for corner in (*corners[1:], corners[0]))
        return f"<{tag}><PolyBegin {self.point(*corners[0])}/>{steps}{more}</{tag}>"

    def put(self, contents: str, area: float, location: bool = True) -> None:
        """A Set that draws this much copper."""
        at = f"<Location {self.point(0, 0)}/>" if location else ""
        net = f' net="{self.net.replace("&", "&amp;")}"' if self.net else ""
        self.sets.append(f"<Set{net}><Features>{at}{contents}</Features></Set>")
        self.done(area)

    def done(self, area: float) -> None:
        """The square holds this much copper."""
        self.squares.append((*self.origin, area))
        if self.net:
            self.nets.add(self.net)

    def case(self, unit: str, revision: str) -> Ipc2581Case:
        """All of it in order, what can be dropped by itself on a line of its own."""
        place, size = st.integers(-5000, 30000), st.integers(10, 500)
        # One place each: a file may say one hole in several sections, and it is then read once.
        holes = self.draw(
            st.lists(st.tuples(place, place, size), min_size=1, max_size=5, unique_by=lambda hole: hole[:2])
        )
        drilled = [(x / 1000, y / 1000, diameter / 100) for x, y, diameter in holes]
        self.origin = (-SQUARE_MM / 2, -SQUARE_MM / 2)
        border = self.path("Polygon", [(-20, -20), (60, -20), (60, 60), (-20, 60)])
        head = [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<IPC-2581 revision="{revision}" xmlns="http://webstds.ipc.org/2581">',
            '<Content roleRef="o"><FunctionMode mode="FABRICATION"/>',
            f'<DictionaryStandard units="{unit}">',
            *self.shapes,
            "</DictionaryStandard></Content>",
            f'<Ecad name="e"><CadHeader units="{unit}"/><CadData>',
            '<Layer name="TOP" layerFunction="CONDUCTOR" side="TOP" polarity="POSITIVE"/>',
            '<Layer name="BOTTOM" layerFunction="CONDUCTOR" side="BOTTOM" polarity="POSITIVE"/>',
            '<Layer name="drill" layerFunction="DRILL" side="ALL" polarity="POSITIVE">'
            '<Span fromLayer="TOP" toLayer="BOTTOM"/></Layer>',
            '<Step name="board">',
            f'<Datum x="0" y="0"/><Profile>{border}</Profile>',
            '<LayerFeature layerRef="TOP">',
        ]
        made = [
            f'<Set><Hole name="H{number}" diameter="{self.number(size)}" platingStatus="VIA" plusTol="0" minusTol="0" '
            f"{self.point(x, y)}/></Set>"
            for number, (x, y, size) in enumerate(drilled)
        ]
        middle = [
            "</LayerFeature>",
            '<LayerFeature layerRef="BOTTOM">',
            "</LayerFeature>",
            '<LayerFeature layerRef="drill">',
        ]
        tail = ["</LayerFeature>", "</Step></CadData></Ecad></IPC-2581>"]
        lines = [*head, *self.sets, *middle, *made, *tail]
        first_hole = len(head) + len(self.sets) + len(middle)
        drawing = (*range(len(head), len(head) + len(self.sets)), *range(first_hole, first_hole + len(made)))
        return Ipc2581Case(tuple(lines), drawing, tuple(self.squares), frozenset(self.nets), tuple(drilled))


# Shapes, each in a square


def _standard(page: _Page) -> tuple[str, float]:
    """A standard primitive and its area."""
    a, b = page.size(), page.size()
    sides = f'width="{page.number(a)}" height="{page.number(b)}"'
    short, long = sorted((a, b))
    return page.draw(
        st.sampled_from(
            (
                (f'<Circle diameter="{page.number(a)}"/>', math.pi * a**2 / 4),
                (f"<RectCenter {sides}/>", a * b),
                (f"<Oval {sides}/>", math.pi * short**2 / 4 + short * (long - short)),
                (f"<Diamond {sides}/>", a * b / 2),
                (f'<Donut shape="ROUND" outerDiameter="{page.number(a + b)}" innerDiameter="{page.number(a)}"/>',
                 math.pi * ((a + b) ** 2 - a**2) / 4),
                (f'<Hexagon length="{page.number(a)}"/>', 3 * math.sqrt(3) / 8 * a**2),
            )
        )
    )  # fmt: skip


def _own(page: _Page) -> None:
    shape, area = _standard(page)
    page.put(shape, area)


def _pad(page: _Page) -> None:
    """A shape of the dictionary, turned and mirrored."""
    shape, area = _standard(page)
    name = f"S{len(page.shapes)}"
    page.shapes.append(f'<EntryStandard id="{name}">{shape}</EntryStandard>')
    turn = page.draw(st.sampled_from(("", '<Xform rotation="30"/>', '<Xform rotation="90" mirror="true"/>')))
    net = f' net="{page.net.replace("&", "&amp;")}"' if page.net else ""
    place = f'<Location {page.point(0, 0)}/><StandardPrimitiveRef id="{name}"/>'
    page.sets.append(f"<Set{net}><Pad>{turn}{place}</Pad></Set>")
    page.done(area)


def _line(page: _Page) -> None:
    width, length = page.size(0.1, 0.8), page.size(1.0, 6.0)
    ends = f"{page.point(-length / 2, 0, 'start')} {page.point(length / 2, 0, 'end')}"
    described = f'<LineDesc lineEnd="ROUND" lineWidth="{page.number(width)}"/>'
    page.put(f"<Line {ends}>{described}</Line>", length * width + math.pi * width**2 / 4, location=False)


def _arc(page: _Page) -> None:
    width, radius = page.size(0.1, 0.5), page.size(1.0, 3.0)
    ends = f"{page.point(radius, 0, 'start')} {page.point(0, radius, 'end')} {page.point(0, 0, 'center')}"
    described = f'<LineDesc lineEnd="ROUND" lineWidth="{page.number(width)}"/>'
    area = math.pi / 2 * radius * width + math.pi * width**2 / 4
    page.put(f'<Arc {ends} clockwise="false">{described}</Arc>', area, location=False)


def _contour(page: _Page) -> None:
    """A box without a smaller one."""
    a, b = page.size(2.0, 4.0), page.size(0.2, 1.5)
    outer = page.path("Polygon", [(-a / 2, -a / 2), (a / 2, -a / 2), (a / 2, a / 2), (-a / 2, a / 2)])
    inner = page.path("Cutout", [(-b / 2, -b / 2), (b / 2, -b / 2), (b / 2, b / 2), (-b / 2, b / 2)])
    page.put(f"<Contour>{outer}{inner}</Contour>", a**2 - b**2, location=False)


_KINDS = {"own": _own, "pad": _pad, "line": _line, "arc": _arc, "contour": _contour}


# One thing wrong


def _broken(draw: st.DrawFn, case: Ipc2581Case) -> Ipc2581Case:
    text = "\n".join(case.lines)
    lines = list(case.lines)
    broken = draw(st.sampled_from(sorted(BREAKAGES)))
    hole = '<Hole name="H0" diameter="'
    step, top = '<Step name="board">', '<LayerFeature layerRef="TOP">'
    replaced = {
        "no units": ("<CadHeader units", "<CadHeader other"),
        "unknown units": ('<CadHeader units="', '<CadHeader units="X'),
        "no copper layer": ("CONDUCTOR", "DOCUMENT"),
        "layer without features": ('<LayerFeature layerRef="BOTTOM">\n</LayerFeature>', ""),
        "unknown shape": (top, f'{top}<Set><Pad><Location x="0" y="0"/><StandardPrimitiveRef id="no"/></Pad></Set>'),
        "a word for a number": (hole, f"{hole}wide"), "no number": ("diameter=", "radius="),
        "unclosed element": ("</LayerFeature>", "", 1), "entity": ("?>", '?><!DOCTYPE a [<!ENTITY b "c">]>'),
        "two roots": ("</IPC-2581>", "</IPC-2581><IPC-2581/>"), "unknown revision": ('revision="', 'revision="Z'),
        "infinite": (hole, f'{hole}inf" was="'), "step inside a step": (step, f"{step}{step}</Step>"),
        "unknown layer": ('layerRef="drill"', 'layerRef="nowhere"'), "control character": (step, f"{step}\x01"),
    }  # fmt: skip
    if broken in replaced:
        old, new, *count = replaced[broken]
        text = text.replace(old, new, *count)
    elif broken == "cut short":
        text = text[: draw(st.integers(60, len(text) - 2))]
    elif broken == "dropped attribute":
        words = text.split(" ")
        del words[draw(st.integers(1, len(words) - 1))]
        text = " ".join(words)
    else:
        del lines[draw(st.integers(0, len(lines) - 1))]
        text = "\n".join(lines)
    return Ipc2581Case((text,), (), (), frozenset(), (), broken)
