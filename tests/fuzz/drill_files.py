"""Drill files in their dialects by a strategy, with the holes known from how they are written.

Sources: the Excellon format 2 part program commands; Ucamco, The XNC Format Specification.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

from hypothesis import strategies as st

from fencepost.settings.model import DrillClaim
from fuzz.written import Written

MM_PER_INCH = 25.4
DIGITS = {"mm": (3, 3), "inch": (2, 4)}

BREAKAGES: dict[str, bool] = {
    "no end": True, "after the end": True, "a word": True, "unknown tool": True, "no tool": True, "no unit": True,
    "another unit": True, "two sizes": True, "refused code": True, "cut with the tool up": True,
    "moved while down": True,
    "nothing to repeat": True, "another origin": True, "a long number": True, "no plunge": True, "dropped line": False,
}  # fmt: skip
"""What can be wrong with a nearly valid file, and whether it must be refused."""


@dataclass(frozen=True)
class DrillCase(Written):
    """`cuts` are rows of x0, y0, x1, y1 and diameter in mm, a hole where both ends are one point; `nets` of each."""

    lines: tuple[str, ...]
    drilling: tuple[int, ...]
    cuts: tuple[tuple[float, float, float, float, float], ...]
    nets: tuple[str, ...]
    step: float
    claim: DrillClaim | None = None
    ending: str = "\n"
    broken: str = ""


@st.composite
def drill_files(draw: st.DrawFn, nearly: bool = False) -> DrillCase:
    """Valid files, or with `nearly` such as have one thing wrong."""
    spindle = _Spindle(draw)
    for name in draw(st.permutations(sorted(spindle.tools))):
        spindle.take(name)
        for move in draw(st.lists(st.sampled_from(_MOVES), min_size=1, max_size=4)):
            getattr(spindle, move)()
    case = spindle.case()
    return _broken(draw, case) if nearly else case


_MOVES = ("hit", "row", "modal", "repeat", "slot", "rout", "plunge", "steps", "name_net")


@dataclass
class _Spindle:
    """A file in the making. Places are whole steps of the file's coarsest number, so that none is rounded."""

    draw: st.DrawFn
    body: list[str] = field(default_factory=list)
    drilling: list[int] = field(default_factory=list)
    cuts: list[tuple[float, float, float, float, float]] = field(default_factory=list)
    nets: list[str] = field(default_factory=list)
    at: tuple[int, int] = (0, 0)
    net: str = ""
    held: float = 0.0

    def __post_init__(self) -> None:
        draw = self.draw
        self.unit = draw(st.sampled_from(("mm", "inch")))
        self.zeros = draw(st.sampled_from(("point", "leading", "trailing")))
        self.header = draw(st.booleans())
        self.told = draw(st.sampled_from(("comment", "claim", "picture"))) if self.zeros != "point" else ""
        if not self.header and self.told == "picture":
            self.told = "comment"
        self.tools = {
            f"T{number}": draw(st.integers(20, 300))
            for number in draw(st.sets(st.integers(1, 99), min_size=1, max_size=3))
        }

    @property
    def step(self) -> float:
        """Of a coordinate, in mm."""
        return 0.001 if self.unit == "mm" else MM_PER_INCH * 1e-4

    def size(self, name: str) -> str:
        """A diameter as the file writes it: hundredths of a millimetre, or tenths of a mil."""
        return f"{self.tools[name] / 100:.3f}" if self.unit == "mm" else f"{self.tools[name] / 1e4:.4f}"

    def number(self, steps: int) -> str:
        """A coordinate, in steps."""
        whole, decimal = DIGITS[self.unit]
        sign, digits = ("-" if steps < 0 else ""), f"{abs(steps):0{whole + decimal}d}"
        if self.zeros == "point":
            return sign + f"{abs(steps) / 10**decimal:.{decimal}f}"
        if self.zeros == "trailing":
            return sign + (digits.lstrip("0") or "0")
        return sign + (digits.rstrip("0") or "0")

    def place(self) -> tuple[int, int]:
        """Anywhere on a board of 50 mm or 5 inch."""
        return self.draw(st.integers(-5000, 50000)), self.draw(st.integers(-5000, 50000))

    def put(self, line: str, drills: bool = False) -> None:
        """A line; `drills` where a hole hangs on it."""
        if drills:
            self.drilling.append(len(self.body))
        self.body.append(line)

    def cut(self, *points: tuple[int, int]) -> None:
        """Note what is cut from point to point, or at one."""
        ends = list(pairwise(points)) or [(points[0], points[0])]
        for (x0, y0), (x1, y1) in ends:
            self.cuts.append((x0 * self.step, y0 * self.step, x1 * self.step, y1 * self.step, self.held))
            self.nets.append(self.net)
        self.at = points[-1]

    def xy(self, point: tuple[int, int]) -> str:
        """A place, whole."""
        return f"X{self.number(point[0])}Y{self.number(point[1])}"

    # What a file can do

    def take(self, name: str) -> None:
        """Take up a tool, and hit once, so that nothing is left open to what came before."""
        self.held = float(self.size(name)) * (1.0 if self.unit == "mm" else MM_PER_INCH)
        definition = "" if self.header else f"C{self.size(name)}"
        self.put(f"T{int(name[1:]):0{self.draw(st.integers(1, 3))}d}{definition}")
        self.hit()

    def name_net(self) -> None:
        """Hits belong to a net from here on, or to none."""
        self.net = self.draw(st.sampled_from(("", "GND", "+3V3", "A b")))
        self.put(f"; #@! TO.N,{self.net}" if self.net else "; #@! TD.N")

    def hit(self) -> None:
        point = self.place()
        self.put(self.xy(point), drills=True)
        self.cut(point)

    def row(self) -> None:
        for _ in range(self.draw(st.integers(2, 5))):
            self.hit()

    def modal(self) -> None:
        """Only x or y, where the other stays."""
        value = self.draw(st.integers(-5000, 50000))
        along_x = self.draw(st.booleans())
        self.put(f"{'X' if along_x else 'Y'}{self.number(value)}", drills=True)
        self.cut((value, self.at[1]) if along_x else (self.at[0], value))

    def repeat(self) -> None:
        self.hit()
        count, (dx, dy) = (
            self.draw(st.integers(1, 4)),
            (self.draw(st.integers(100, 900)), self.draw(st.integers(0, 900))),
        )
        self.put(f"R{count}X{self.number(dx)}Y{self.number(dy)}", drills=True)
        for _ in range(count):
            self.cut((self.at[0] + dx, self.at[1] + dy))

    def slot(self) -> None:
        start, end = self.place(), self.place()
        self.put(f"{self.xy(start)}G85{self.xy(end)}", drills=True)
        self.cut(start, end)

    def rout(self) -> None:
        start, *rest = (self.place() for _ in range(self.draw(st.integers(2, 4))))
        if rest[0] == start:  # else it would be a hole, with or without a cut
            rest[0] = (start[0] + 1, start[1])
        self.put(f"G00{self.xy(start)}")
        self.put("M15")
        for point in rest:
            self.put(f"G01{self.xy(point)}", drills=True)
        self.put("M16")
        self.put("G05")
        self.cut(start, *rest)

    def plunge(self) -> None:
        """Down and up in one place."""
        point = self.place()
        for line in (f"G00{self.xy(point)}", "M15", "M16", "G05"):
            self.put(line, drills=line == "M15")
        self.cut(point)

    def steps(self) -> None:
        """Incremental for a while."""
        self.put("G91")
        for _ in range(self.draw(st.integers(1, 3))):
            dx, dy = self.draw(st.integers(1, 900)), self.draw(st.integers(1, 900))
            self.put(f"X{self.number(dx)}Y{self.number(dy)}", drills=True)
            self.cut((self.at[0] + dx, self.at[1] + dy))
        self.put("G90")

    def case(self) -> DrillCase:
        """All of it in order."""
        whole, decimal = DIGITS[self.unit]
        zeros = {"point": "", "leading": ",LZ", "trailing": ",TZ"}[self.zeros]
        lines = ["; #@! TF.FileFunction,Plated,1,2,PTH"]
        claim = None
        if self.told == "comment":
            lines.append(f";FILE_FORMAT={whole}:{decimal}")
        if self.told == "claim" or (not self.header and self.zeros != "point"):
            claim = DrillClaim(plated=True, digits=(whole, decimal), zeros=self.zeros)
        picture = f",{'0' * whole}.{'0' * decimal}" if self.told == "picture" else ""
        unit = "METRIC" if self.unit == "mm" else "INCH"
        if self.header:
            lines += ["M48", "FMAT,2", f"{unit}{zeros}{picture}"]
            lines += [f"{name}C{self.size(name)}" for name in sorted(self.tools)]
            lines += ["%", "G90", "G05"]
        else:
            lines += ["M71" if self.unit == "mm" else "M72", "G90"]
        drilling = tuple(number + len(lines) for number in self.drilling)
        lines += [*self.body, "T0", "M30"]
        ending = self.draw(st.sampled_from(("\n", "\r\n", "\r")))
        return DrillCase(tuple(lines), drilling, tuple(self.cuts), tuple(self.nets), self.step, claim, ending)


# One thing wrong

_WORDS = ("HELLO", "X", "X1Z2", "T", "G01X", "X1.2.3", "M16X1", "%%", "R", "G8")


def _broken(draw: st.DrawFn, case: DrillCase) -> DrillCase:
    lines = list(case.lines)
    broken = draw(st.sampled_from(sorted(BREAKAGES)))
    first_tool = next(number for number, line in enumerate(lines) if line[0] == "T" and number >= lines.index("G90"))
    last = len(lines) - 2
    unit = next(number for number, line in enumerate(lines) if line.startswith(("METRIC", "INCH", "M71", "M72")))
    place = draw(st.integers(first_tool, last))
    insertions: dict[str, tuple[int, list[str]]] = {
        "after the end": (len(lines), ["X1Y1"]),
        "a word": (place, [draw(st.sampled_from(_WORDS))]),
        "unknown tool": (last, ["T100", "X1.0Y1.0"]),
        "no tool": (first_tool, ["X1.0Y1.0"]),
        "another unit": (place, ["M72" if case.step == 0.001 else "M71"]),
        "two sizes": (place, [f"T{int(lines[first_tool][1:].split('C')[0])}C9.125"]),
        "refused code": (place, [draw(st.sampled_from(("G41", "G82", "M01", "M25", "M80", "P1X2Y2", "/X1Y1", "G36")))]),
        "cut with the tool up": (last, ["G00X1.0Y1.0", "G01X2.0"]),
        "moved while down": (last, ["G00X1.0Y1.0", "M15", "G00X2.0Y2.0"]),
        "nothing to repeat": (last, ["G00X1.0Y1.0", "R2X1.0"]),
        "another origin": (place, ["G93X1.0Y1.0"]),
        "a long number": (last, ["X1234567890123456Y1.0"]),
        "no plunge": (last, ["M15"]),
    }  # fmt: skip
    if broken in insertions:
        at, more = insertions[broken]
        lines[at:at] = more
    elif broken == "no end":
        lines.pop()
    elif broken == "no unit":
        del lines[unit]
    else:
        del lines[draw(st.integers(0, last))]
    return DrillCase(tuple(lines), (), (), (), case.step, case.claim, case.ending, broken)
