"""Netlists by a strategy, with their points known from how they are written. Source: IPC-D-356B, from memory."""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import strategies as st

from fuzz.written import Written

UNITS = {"CUST 0": 25.4e-4, "CUST 1": 1e-3, "CUST 2": 25.4e-4, "SI": 1e-3}
"""Millimetres in one step."""

NETS = ("GND", "+3V3", "N/C", "A_B", "a net with a name that is long", "another of those long names", "-", "USB_D+")
BREAKAGES: dict[str, bool] = {
    "no end": True, "after the end": True, "no unit": True, "another unit": True, "a word": True, "cut short": True,
    "a letter in a number": True, "no alias": True, "another alias": True, "goes on with nothing": True,
    "too long": True, "no records": True, "shifted": True, "dropped line": False,
}  # fmt: skip
"""What can be wrong with a nearly valid netlist, and whether it must be refused."""


@dataclass(frozen=True)
class Spot:
    """A test point in mm. `net` is "" for one that is on none."""

    net: str
    part: str
    pin: str
    x: float
    y: float
    hole: float
    plated: bool
    width: float
    height: float


@dataclass(frozen=True)
class TestnetCase(Written):
    """`records` are the lines that hold points, one each."""

    __test__ = False

    lines: tuple[str, ...]
    records: tuple[int, ...]
    spots: tuple[Spot, ...]
    ending: str = "\n"
    broken: str = ""


@st.composite
def testnet_files(draw: st.DrawFn, nearly: bool = False) -> TestnetCase:
    """Valid netlists, or with `nearly` such as have one thing wrong."""
    unit = draw(st.sampled_from(sorted(UNITS)))
    step = UNITS[unit]
    lines = ["C  A netlist", "P  JOB fence", f"P  UNITS {unit}"]
    aliases = {name: f"NNAME{number}" for number, name in enumerate(NETS, 1) if len(name) > 14}
    lines += [f"P  {alias}  {name}" for name, alias in aliases.items()]
    records: list[int] = []
    spots: list[Spot] = []
    for _ in range(draw(st.integers(1, 8))):
        if draw(st.integers(0, 5)) == 0:
            lines.append(draw(st.sampled_from(("C  a remark", "", "P  VER IPC-D-356B", "P  DIM N", "378NET1"))))
        kind = draw(st.sampled_from(("317", "327", "367", "307")))
        net = draw(st.sampled_from(NETS))
        part, pin = draw(st.sampled_from((("VIA", ""), ("R1", "1"), ("U10", "A12"), ("J1", "2"))))
        hole = draw(st.integers(1, 9999)) if kind != "327" else 0
        plated = kind not in ("327", "367")
        for number in range(draw(st.sampled_from((1, 1, 1, 2)))):
            x, y = draw(st.integers(-99999, 999999)), draw(st.integers(-99999, 999999))
            width, height = draw(st.integers(0, 9999)), draw(st.integers(0, 9999))
            code = f"0{kind[1:]}" if number else kind
            said = hole if number == 0 or draw(st.booleans()) else 0
            records.append(len(lines))
            lines.append(_record(draw, code, aliases.get(net, net), part, pin, said, plated, (x, y), (width, height)))
            spots.append(
                Spot(
                    "" if net == "N/C" else net, part, pin, x * step, y * step, hole * step,
                    plated and kind != "327", width * step, height * step,
                )
            )  # fmt: skip
    lines.append("999")
    ending = draw(st.sampled_from(("\n", "\r\n")))
    case = TestnetCase(tuple(lines), tuple(records), tuple(spots), ending)
    return _broken(draw, case) if nearly else case


def _record(
    draw: st.DrawFn, code: str, net: str, part: str, pin: str, hole: int, plated: bool,
    at: tuple[int, int], size: tuple[int, int],
) -> str:  # fmt: skip
    """One record in its columns."""
    drilled = f"D{hole:04d}{'P' if plated else 'U'}" if hole else " " * 6
    access = "A00" if code[1] != "2" else draw(st.sampled_from(("A01", "A02")))
    dash = "-" if pin else " "
    middle = draw(st.sampled_from("M  "))
    place = "".join(f"{axis}{'-' if value < 0 else '+'}{abs(value):06d}" for axis, value in zip("XY", at, strict=True))
    turn = draw(st.sampled_from(("R000", "R090", "    ")))
    mask = draw(st.sampled_from(("S0", "S3", "")))
    pad = f"X{size[0]:04d}Y{size[1]:04d}"
    text = f"{code}{net:<14}   {part:<6}{dash}{pin:<4}{middle}{drilled}{access}{place}{pad}{turn}{mask}"
    return text.rstrip() if draw(st.booleans()) else f"{text:<80}"


def _broken(draw: st.DrawFn, case: TestnetCase) -> TestnetCase:
    lines = list(case.lines)
    broken = draw(st.sampled_from(sorted(BREAKAGES)))
    record = draw(st.sampled_from(case.records))
    unit = next(number for number, line in enumerate(lines) if "UNITS" in line)
    other = "P  UNITS CUST 1" if UNITS[lines[unit][9:]] != 1e-3 else "P  UNITS CUST 0"
    insertions = {
        "after the end": (len(lines), "327GND"), "another unit": (record, other),
        "a word": (record, draw(st.sampled_from(("HELLO", "417GND", "P", "31", "X1Y1", "99", "<a>")))),
        "another alias": (record, "P  NNAME5  something else"),
        "goes on with nothing": (case.records[0], "017" + lines[record][3:]),
    }  # fmt: skip
    if broken in insertions:
        at, text = insertions[broken]
        lines.insert(at, text)
    elif broken == "no end":
        lines.pop()
    elif broken == "no unit":
        del lines[unit]
    elif broken == "no records":
        lines = [line for number, line in enumerate(lines) if number not in case.records]
    elif broken == "no alias":
        lines = [line for line in lines if not line.startswith("P  NNAME")]
        lines[-1:-1] = ["327NNAME5" + " " * 11 + "R1    -1       A01X+000001Y+000001X0001Y0001R000S0"]
    elif broken == "cut short":
        lines[record] = lines[record][: draw(st.integers(4, 57))]
    elif broken == "a letter in a number":
        at = draw(st.sampled_from((43, 46, 48, 51, 55, 59, 64)))
        lines[record] = lines[record][:at] + "Q" + lines[record][at + 1 :]
    elif broken == "too long":
        lines[record] = f"{lines[record]:<80}Q"
    elif broken == "shifted":
        lines[record] = lines[record][:17] + "Q" + lines[record][17:]
    else:
        del lines[draw(st.integers(0, len(lines) - 2))]
    return TestnetCase(tuple(lines), (), (), case.ending, broken)
