"""Gerber layer files by a strategy, with what they hold known from how they are written.

Every object stands in a square of its own, so that its area is that of its formula and all of them add up.
Source: Ucamco, The Gerber Layer Format Specification, 2024.05.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from hypothesis import strategies as st

SQUARE_MM = 10.0
MM_PER_INCH = 25.4

MACROS = {
    "Two": "1,1,$1,0-$1,0*21,1,$1,$2,$1,0,30*",  # a disc of $1 on the left, a box of $1 by $2 on the right
    "Ring": "0 with a hole*$3=$1-$2*1,1,$1,0,0*1,0,$3,0,0*",  # $2 wide in diameter
    "Shape": "4,1,3,0,0,$1,0,0,$1,0,0,15*5,1,6,0-$1,0-$1,$1,0*",  # half a square of $1, and a hexagon in a circle of $1
    "Line": "20,1,$2,0-$1/2,0,$1/2,0,45*",
}
MACRO_AREAS: dict[str, Callable[[float, float], float]] = {
    "Two": lambda a, b: math.pi * a**2 / 4 + a * b,
    "Ring": lambda a, b: math.pi * (a**2 - (a - b) ** 2) / 4,
    "Shape": lambda a, b: a**2 / 2 + polygon_area(a, 6),
    "Line": lambda a, b: a * b,
}
BREAKAGES: dict[str, bool] = {
    "no end": True, "no unit": True, "no format": True, "open contour": True, "open block": True, "open repeat": True,
    "lost star": True, "unknown aperture": True, "unknown macro": True, "a word": True, "aperture twice": True,
    "G37 twice": True, "another unit": True, "flash in a region": True, "arc off its circle": True,
    "after the end": True, "no select": True, "dropped statement": False,
}  # fmt: skip
"""What can be wrong with a nearly valid file, and whether it must be refused."""


@dataclass(frozen=True)
class GerberCase:
    """`squares`: lower left corner and area in mm². `flashes` stand in the image itself, blocks and repeats aside."""

    statements: tuple[str, ...]
    drawing: tuple[int, ...]
    squares: tuple[tuple[float, float, float], ...]
    flashes: int
    nets: frozenset[str]
    pins: frozenset[tuple[str, str]] = frozenset()
    ending: str = "\n"
    broken: str = ""

    @property
    def data(self) -> bytes:
        """The file."""
        return self.joined(self.statements)

    def without(self, number: int) -> bytes:
        """The file without one of its statements."""
        return self.joined(self.statements[:number] + self.statements[number + 1 :])

    def joined(self, statements: tuple[str, ...]) -> bytes:
        """A file of other statements, written alike."""
        return "".join(statement + self.ending for statement in statements).encode()


def polygon_area(diameter: float, corners: int) -> float:
    """Of a regular polygon in a circle."""
    return corners / 2 * (diameter / 2) ** 2 * math.sin(2 * math.pi / corners)


@st.composite
def gerber_files(draw: st.DrawFn, nearly: bool = False) -> GerberCase:
    """Valid files, or with `nearly` such as have one thing wrong."""
    pen = _Pen(draw)
    kinds = draw(st.lists(st.sampled_from(sorted(_KINDS)), min_size=1, max_size=7))
    for number, kind in enumerate(kinds):
        pen.begin(number)
        _KINDS[kind](pen)
    case = pen.case()
    return _broken(draw, case) if nearly else case


@dataclass
class _Pen:
    """A file in the making: what is put down in millimetres comes out in the file's unit and format."""

    draw: st.DrawFn
    body: list[str] = field(default_factory=list)
    drawing: list[int] = field(default_factory=list)
    apertures: list[str] = field(default_factory=list)
    squares: list[tuple[float, float, float]] = field(default_factory=list)
    nets: set[str] = field(default_factory=set)
    pins: set[tuple[str, str]] = field(default_factory=set)
    flashes: int = 0
    origin: tuple[float, float] = (0.0, 0.0)
    macros: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        draw = self.draw
        self.inch = draw(st.booleans())
        self.decimals = draw(st.sampled_from((5, 6)))
        self.trailing = draw(st.booleans())
        self.in_comments = draw(st.booleans())
        self.mode = "G01"

    def begin(self, number: int) -> None:
        """Go to the next square; sometimes say the net or the pin."""
        self.origin = (number % 3 * SQUARE_MM - 12.0, number // 3 * SQUARE_MM - 8.0)
        net = self.draw(st.sampled_from((None, "GND", "A,B", "+3V3", "net 1", "Ω%*")))
        if net is not None:
            self.attribute(f"TO.N,{_escaped(net)}")
            self.net = net
        else:
            self.attribute("TD.N")
            self.net = ""
        self.pin = self.draw(st.sampled_from((None, None, ("R1", "1"), ("U2", "A1"))))
        self.attribute(f"TO.P,{','.join(self.pin)}" if self.pin else "TD.P")
        if self.draw(st.booleans()):
            self.body.append("G04 A remark, D03 and % and all*".replace("%", ""))

    def size(self, low: float = 0.5, high: float = 2.0) -> float:
        """A length in mm, to 10 µm."""
        return self.draw(st.integers(round(low * 100), round(high * 100))) / 100

    def put(self, statement: str, draws: bool = False) -> None:
        """A statement; `draws` where copper hangs on it."""
        if draws:
            self.drawing.append(len(self.body))
        self.body.append(statement)

    def attribute(self, said: str) -> None:
        """An attribute command, or one in a comment."""
        self.body.append(f"G04 #@! {said}*" if self.in_comments else f"%{said}*%")

    def length(self, value: float) -> str:
        """A decimal in the file's unit."""
        return f"{value / MM_PER_INCH:.9f}" if self.inch else f"{value:.6f}"

    def number(self, value: float) -> str:
        """A coordinate as FS says."""
        unit = MM_PER_INCH if self.inch else 1.0
        whole = round(value / unit * 10**self.decimals)
        if not self.trailing:
            return str(whole)
        text = f"{abs(whole):0{3 + self.decimals}d}".rstrip("0") or "0"
        return f"-{text}" if whole < 0 else text

    def at(self, x: float, y: float, code: int, i: float | None = None, j: float | None = None) -> None:
        """An operation at a place in the square, from its middle; I and J from where the pen is."""
        middle = (self.origin[0] + SQUARE_MM / 2, self.origin[1] + SQUARE_MM / 2)
        words = f"X{self.number(middle[0] + x)}Y{self.number(middle[1] + y)}"
        if i is not None and j is not None:
            words += f"I{self.number(i)}J{self.number(j)}"
        self.put(f"{words}D0{code}*", draws=code != 2)

    def use(self, template: str) -> None:
        """Define an aperture and take it up."""
        number = 10 + len(self.apertures)
        self.apertures.append(f"%ADD{number}{template}*%")
        self.put(f"D{number}*")

    def turn(self, mode: str) -> None:
        """G01, G02 or G03."""
        self.put(f"{mode}*")

    def fill(self, area: float, flashes: int = 0) -> None:
        """The square holds this much copper."""
        self.squares.append((*self.origin, area))
        self.flashes += flashes
        if self.net:
            self.nets.add(self.net)
        if self.pin:
            self.pins.add(self.pin)

    def case(self) -> GerberCase:
        """All of it in order."""
        unit, digits = ("IN" if self.inch else "MM"), f"3{self.decimals}"
        head = [
            f"%FS{'T' if self.trailing else 'L'}AX{digits}Y{digits}*%",
            f"%MO{unit}*%",
            "%TF.FileFunction,Copper,L1,Top*%",
            *(f"%AM{name}*{MACROS[name]}%" for name in sorted(self.macros)),
            *self.apertures,
            "G75*",
            "G01*",
        ]
        drawing = tuple(number + len(head) for number in self.drawing)
        ending = self.draw(st.sampled_from(("\n", "\r\n", "")))
        statements = (*head, *self.body, "M02*")
        named = frozenset(self.nets), frozenset(self.pins)
        return GerberCase(statements, drawing, tuple(self.squares), self.flashes, *named, ending)


def _escaped(text: str) -> str:
    return "".join(f"\\u{ord(sign):04X}" if sign in "%*,\\" else sign for sign in text)


# Objects, each in a square


def _template(pen: _Pen) -> tuple[str, float]:
    """A flashed aperture and its area."""
    a, b = pen.size(), pen.size()
    hole = round(pen.draw(st.sampled_from((0.0, 0.1, 0.3))) * min(a, b), 3)  # inside even a turned square
    with_hole = f"X{pen.length(hole)}" if hole else ""
    less = math.pi * hole**2 / 4
    form = pen.draw(st.sampled_from(("C", "R", "O", "P", *sorted(MACROS))))
    if form == "C":
        return f"C,{pen.length(a)}{with_hole}", math.pi * a**2 / 4 - less
    if form == "R":
        return f"R,{pen.length(a)}X{pen.length(b)}{with_hole}", a * b - less
    if form == "O":
        short, long = sorted((a, b))
        return f"O,{pen.length(a)}X{pen.length(b)}{with_hole}", math.pi * short**2 / 4 + short * (long - short) - less
    if form == "P":
        corners = pen.draw(st.integers(4, 12))
        turn = pen.draw(st.sampled_from((0, 15, -30)))
        last = f"X{turn}{with_hole}" if hole or turn else ""
        return f"P,{pen.length(a)}X{corners}{last}", polygon_area(a, corners) - less
    pen.macros.add(form)
    b = min(b, a / 2)
    return f"{form},{pen.length(a)}X{pen.length(b)}", MACRO_AREAS[form](a, b)


def _flash(pen: _Pen) -> None:
    """One aperture, mirrored, turned and scaled."""
    template, area = _template(pen)
    pen.use(template)
    scale = pen.draw(st.sampled_from((1.0, 0.5, 1.5)))
    mirror, degrees = pen.draw(st.sampled_from(("N", "X", "Y", "XY"))), pen.draw(st.sampled_from((0, 30, 270)))
    changed = scale != 1.0 or mirror != "N" or degrees != 0
    if changed:
        for command in (f"%LM{mirror}*%", f"%LR{degrees}*%", f"%LS{scale}*%"):
            pen.put(command)
    pen.at(0, 0, 3)
    if changed:
        for command in ("%LMN*%", "%LR0*%", "%LS1*%"):
            pen.put(command)
    pen.fill(area * scale**2, flashes=1)


def _stroke(pen: _Pen) -> None:
    width, length = pen.size(0.1, 1.0), pen.size(1.0, 6.0)
    pen.use(f"C,{pen.length(width)}")
    pen.at(-length / 2, 0, 2)
    pen.at(length / 2, 0, 1)
    pen.fill(length * width + math.pi * width**2 / 4)


def _arc(pen: _Pen) -> None:
    """A quarter, or all of a circle."""
    width, radius = pen.size(0.1, 0.5), pen.size(1.0, 3.0)
    whole, clockwise = pen.draw(st.booleans()), pen.draw(st.booleans())
    pen.use(f"C,{pen.length(width)}")
    pen.at(radius, 0, 2)
    pen.turn("G02" if clockwise else "G03")
    if whole:
        pen.at(radius, 0, 1, -radius, 0.0)
        pen.fill(2 * math.pi * radius * width)
    else:
        pen.at(0, -radius if clockwise else radius, 1, -radius, 0.0)
        pen.fill(math.pi / 2 * radius * width + math.pi * width**2 / 4)
    pen.turn("G01")


def _region(pen: _Pen) -> None:
    """A contour with one arc, and a second one of straight sides."""
    radius, side = pen.size(1.0, 2.0), pen.size(0.5, 1.5)
    pen.put("G36*")
    pen.at(radius, 0, 2)
    pen.turn("G03")
    pen.at(-radius, 0, 1, -radius, 0.0)
    pen.turn("G01")
    pen.at(radius, 0, 1)
    pen.at(0, -1, 2)
    for x, y in ((side, -1), (side, -1 - side), (0, -1)):
        pen.at(x, y, 1)
    pen.put("G37*")
    pen.fill(math.pi * radius**2 / 2 + side**2 / 2)


def _cleared(pen: _Pen) -> None:
    """A box with a hole that is flashed clear."""
    side, hole = pen.size(2.0, 4.0), pen.size(0.5, 1.5)
    pen.use(f"R,{pen.length(side)}X{pen.length(side)}")
    pen.at(0, 0, 3)
    pen.use(f"C,{pen.length(hole)}")
    pen.put("%LPC*%")
    pen.at(0, 0, 3)
    pen.put("%LPD*%")
    pen.fill(side**2 - math.pi * hole**2 / 4, flashes=2)


def _repeated(pen: _Pen) -> None:
    columns, rows, diameter = pen.draw(st.integers(1, 3)), pen.draw(st.integers(1, 3)), pen.size(0.2, 0.9)
    pen.use(f"C,{pen.length(diameter)}")
    pen.put(f"%SRX{columns}Y{rows}I{pen.length(1.0)}J{pen.length(1.5)}*%")
    pen.at(-2, -2, 3)
    pen.put("%SR*%")
    pen.fill(columns * rows * math.pi * diameter**2 / 4)


def _block(pen: _Pen) -> None:
    """A block aperture with a flash and a stroke, flashed once, scaled and turned."""
    diameter, width, scale = pen.size(0.3, 0.9), pen.size(0.1, 0.3), pen.draw(st.sampled_from((1, 2)))
    number = 100 + len(pen.apertures)
    there, pen.origin = pen.origin, (-SQUARE_MM / 2, -SQUARE_MM / 2)
    pen.put(f"%ABD{number}*%")
    pen.use(f"C,{pen.length(diameter)}")
    pen.at(-1, 0, 3)
    pen.use(f"C,{pen.length(width)}")
    pen.at(0, 0, 2)
    pen.at(1, 0, 1)
    pen.put("%AB*%")
    pen.origin = there
    pen.put(f"D{number}*")
    pen.put(f"%LS{scale}*%")
    pen.put("%LR90*%")
    pen.at(0, 0, 3)
    pen.put("%LS1*%")
    pen.put("%LR0*%")
    pen.fill(scale**2 * (math.pi * diameter**2 / 4 + width + math.pi * width**2 / 4))


_KINDS: dict[str, Callable[[_Pen], None]] = {
    "flash": _flash, "stroke": _stroke, "arc": _arc, "region": _region, "cleared": _cleared, "repeated": _repeated,
    "block": _block,
}  # fmt: skip


# One thing wrong


def _broken(draw: st.DrawFn, case: GerberCase) -> GerberCase:
    lines = list(case.statements)
    body = lines.index("G01*") + 1
    place = draw(st.integers(body, len(lines) - 1))
    first = case.drawing[0]
    inside = {"no end": lambda: lines.pop(), "after the end": lambda: lines.append("X0Y0D03*")}
    insertions = {
        "open contour": (len(lines) - 1, "G36*X0Y0D02*X1000Y0D01*X1000Y1000D01*G37*"),
        "open block": (body, "%ABD999*%"), "open repeat": (len(lines) - 1, "%SRX2Y2I1J1*%"),
        "unknown aperture": (place, "D99999*"), "unknown macro": (body, "%ADD998Nothing,1*%"),
        "a word": (place, draw(st.sampled_from(("HELLO*", "%HELLO*%", "X1Y2", "$", "%", "D3", "G99*", "D01X1*")))),
        "G37 twice": (len(lines) - 1, "G37*"), "flash in a region": (len(lines) - 1, "G36*X0Y0D03*G37*"),
        "another unit": (place, "%MOMM*%" if "%MOIN*%" in lines else "%MOIN*%"),
        "arc off its circle": (len(lines) - 1, "%ADD997C,0.1*%D997*G02*X0Y0D02*X5000000Y0I1000000J1000D01*"),
    }  # fmt: skip
    apertures = [line for line in lines if line.startswith("%ADD")]
    allowed = [name for name in BREAKAGES if name not in ("no select", "aperture twice") or apertures]
    broken = draw(st.sampled_from(allowed))
    if broken in inside:
        inside[broken]()
    elif broken in insertions:
        at, text = insertions[broken]
        lines.insert(at, text)
    elif broken in ("no unit", "no format"):
        lines = [line for line in lines if not line.startswith("%MO" if broken == "no unit" else "%FS")]
    elif broken == "lost star":
        lines[first] = lines[first].removesuffix("*")
        lines.insert(first + 1, "G01*")
    elif broken == "aperture twice":
        lines.insert(body, apertures[0])
    elif broken == "no select":
        lines = [line for line in lines if not (line.startswith("D") and line[1].isdigit())]
        lines.insert(len(lines) - 1, "X0Y0D03*")
    else:
        del lines[place - 1]
    return GerberCase(tuple(lines), (), (), 0, frozenset(), frozenset(), case.ending, broken)
