"""The named hostile files, each in a process that has 10 s and 1 GB: one error with its place, nothing harmful printed.

A case names what is refused and what is said. Those that are read in the end show what of them is printed.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from hostile.gate import (
    DISC,
    FILES,
    Files,
    check_files,
    confined,
    gerber,
    with_drill,
    with_layer,
    with_profile,
)
from readers import ipc2581_files as ipc

MANY = 3_600
DIGITS = "1" * 200_000


def macro(body: str) -> Files:
    """A first layer with one flash of a macro, which begins in line 4."""
    return with_layer(f"%AMM*\n{body}%\n%ADD10M*%\nD10*\nX0Y0D03*\n")


def doubled(levels: int) -> str:
    """A block that flashes the one before it twice, and so on."""
    blocks = [f"%ABD{n}*%\nD{n - 1}*\nX0Y0D03*\nX1000Y0D03*\n%AB*%\n" for n in range(11, 11 + levels)]
    return f"{DISC}{''.join(blocks)}D{10 + levels}*\nX0Y0D03*\n"


def tangle(count: int) -> list[tuple[int, int]]:
    """Corners of a contour that crosses itself millions of times."""
    return [((i * 7919) % 10007, (i * 104729) % 10009) for i in range(count)]


def tangled(count: int) -> str:
    """The same as a region."""
    (x, y), *rest = tangle(count)
    sides = "".join(f"X{a}000Y{b}000D01*" for a, b in [*rest, (x, y)])
    return f"G01*\nG36*\nX{x}000Y{y}000D02*\n{sides}\nG37*\n"


def ring(corners: int) -> str:
    """A macro's outline of many corners."""
    angles = [2 * math.pi * (i % corners) / corners for i in range(corners + 1)]
    points = ",".join(f"{math.cos(angle):.6f},{math.sin(angle):.6f}" for angle in angles)
    return f"4,1,{corners},{points},0*\n"


def xml(top: str = "", before: str = "", profile: str = ipc.PROFILE) -> Files:
    """A board as IPC-2581, with something before its root element."""
    data = ipc.file(ipc.board_of([ipc.features(top)] if top else [])).replace(ipc.PROFILE.encode(), profile.encode())
    return {"b.xml": data.replace(b"<IPC-2581", before.encode() + b"<IPC-2581", 1)}


def bomb() -> str:
    """Entities that stand for ten of the one before, nine deep."""
    steps = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, 10))
    return f'<!DOCTYPE x [<!ENTITY e0 "x">{steps}]>\n'


def job(old: bytes, new: bytes) -> Files:
    assert old in FILES["b.gbrjob"]
    return {**FILES, "b.gbrjob": FILES["b.gbrjob"].replace(old, new)}


CROSSED = "".join(f"X0Y{i}0000D02*X20000000D01*X{i}0000Y0D02*Y20000000D01*" for i in range(800))
DRILL_ARCS = "G00X0.0Y0.0\nM15\n" + "G03X0.0Y0.0I9000.0J0.0\n" * 700 + "M16\nG05\n"

REFUSED: dict[str, tuple[Callable[[], Files], str]] = {
    # Gerber
    "10^6 x 10^6 repeats": (
        lambda: with_layer(DISC + "%SRX1000000Y1000000I1J1*%\nX0Y0D03*\n%SR*%\n"),
        "b-L1.gbr:6:2: error: expected at most 10000000 repeats (limit features)",
    ),
    "repeats whose number has 20 digits": (
        lambda: with_layer(DISC + "%SRX99999999999999999999Y2I1J1*%\nX0Y0D03*\n%SR*%\n"),
        "b-L1.gbr:6:2: error: ",
    ),
    "block apertures that double 40 deep": (
        lambda: with_layer(doubled(40)),
        "b-L1.gbr:121:2: error: expected at most 10000000 features",
    ),
    "a hundred open blocks": (
        lambda: with_layer("".join(f"%ABD{n}*%\n" for n in range(10, 110))),
        "b-L1.gbr:68:2: error: expected at most 64 open blocks (limit nesting)",
    ),
    "a division by zero": (lambda: macro("1,1,1/0,0,0*\n"), "b-L1.gbr:5:6: error: expected a divisor other than 0"),
    "a division by zero that is worked out": (
        lambda: macro("$1=2-2*\n1,1,1/$1,0,0*\n"),
        "b-L1.gbr:6:6: error: expected a divisor other than 0",
    ),
    "10,000 parentheses that keep waiting": (
        lambda: macro(f"1,1,{'1+(' * 10_000}1{')' * 10_000},0,0*\n"),
        "(limit expression_depth)",
    ),
    "a number that grows without end": (
        lambda: macro("$1=9999999x9999999*\n" + "$1=$1x$1*\n" * 60 + "1,1,$1,0,0*\n"),
        "expected values within 100000 mm (limit reach)",
    ),
    "coordinates of 400 digits": (
        lambda: with_layer(f"{DISC}X{'9' * 400}Y0D03*\n"),
        "b-L1.gbr:6:1: error: expected at most 18 digits (limit coordinate_digits)",
    ),
    "a size of 5000 digits": (
        lambda: with_layer(f"%ADD10C,{'1' * 5000}*%\n"),
        "b-L1.gbr:4:9: error: expected a number of at most 64 characters",
    ),
    "a size that is not a number": (
        lambda: with_layer("%ADD10C,nan*%\n"),
        "b-L1.gbr:4:9: error: expected a decimal number",
    ),
    "an infinite size": (lambda: with_layer("%ADD10C,inf*%\n"), "b-L1.gbr:4:9: error: expected a decimal number"),
    "a size in powers of ten": (lambda: with_layer("%ADD10C,1e999*%\n"), "b-L1.gbr:4:10: error: "),
    "1200 changes of exposure in a macro": (
        lambda: macro(
            "".join(f"21,{1 - i % 2},.01,.01,{i % 100 * 0.02:.2f},{i // 100 * 0.02:.2f},0*\n" for i in range(1200))
        ),
        "(limit shape_points)",
    ),
    "a large shape that is flashed everywhere": (
        lambda: with_layer(f"%AMM*\n{ring(12_000)}%\n%ADD10M*%\nD10*\n" + "X0Y0D03*\n" * MANY),
        "(limit points)",
    ),
    "an outline that crosses itself everywhere": (
        lambda: macro(f"4,1,2000,{','.join(f'{x},{y}' for x, y in [*tangle(2000), (0, 0)])},0*\n"),
        "(limit crossings)",
    ),
    "a region that crosses itself everywhere": (
        lambda: with_layer(tangled(2000)),
        "b-L1.gbr:6:1: error: more than 500,000 pairs",
    ),
    "circles of many chords": (
        lambda: {
            **FILES,
            "b-L1.gbr": gerber("%ADD10C,0.1*%\nG75*\nD10*\nX0Y0D02*\n" + "G03X0Y0I90000000000J0D01*\n" * MANY).replace(
                b"FSLAX46Y46", b"FSLAX56Y56"
            ),
        },
        "(limit points)",
    ),
    "flashes all in one place": (lambda: with_layer(DISC + "X0Y0D03*" * MANY), "(limit overlaps)"),
    "strokes all in one place": (lambda: with_layer(DISC + "X0Y0D02*X1000000Y0D01*" * MANY), "(limit overlaps)"),
    "dark and clear in turn in one place": (
        lambda: with_layer(DISC + "%LPD*%X0Y0D03*%LPC*%X0Y0D03*" * 2_400),
        "(limit overlaps)",
    ),
    "an attribute of 1 MB of letters": (
        lambda: with_layer(f"{DISC}%TO.N,{'x' * 1_000_000}*%\nX0Y0D03*\n"),
        "b-L1.gbr:6:4: error: a name or an attribute of more than 4,000 characters",
    ),
    "a file function of 1 MB of letters": (
        lambda: {**FILES, "b-L1.gbr": gerber("", "x" * 1_000_000)},
        "(limit name_length)",
    ),
    "an attribute that is not UTF-8": (
        lambda: {**FILES, "b-L1.gbr": gerber(DISC + "%TO.N,?*%\n").replace(b"?", b"\xff")},
        "b-L1.gbr:6:7: error: expected UTF-8",
    ),
    # Profile
    "a profile drawn 700 times": (
        lambda: with_profile("%ADD10C,1*%\nD10*\nG01*\nX0Y0D02*\n" + "X20000000D01*X0D01*" * 700),
        "(limit crossings)",
    ),
    "a profile of 1600 crossed lines": (
        lambda: with_profile("%ADD10C,1*%\nD10*\nG01*\n" + CROSSED),
        "(limit crossings)",
    ),
    # Drill
    "a coordinate of 200,000 digits": (
        lambda: with_drill(f"X{DIGITS}.5Y1.0\n"),
        "b-PTH.drl:25:1: error: the number has more than 15 digits",
    ),
    "200,000 digits and then none": (lambda: with_drill(f"X{DIGITS}?\n"), "b-PTH.drl:25:1: error: "),
    "a tool of a million digits": (lambda: with_drill(f"T{DIGITS}\n"), "b-PTH.drl:25:8: error: "),
    "900,000,000 repeats": (
        lambda: with_drill("X1.0Y1.0\nR900000000X0.001\n"),
        "b-PTH.drl:26:1: error: the file makes more than 4,000,000 hits",
    ),
    "700 circles of 18 m": (lambda: with_drill(DRILL_ARCS), "(limit hits)"),
    # Job file
    "100,000 open lists": (
        lambda: {**FILES, "b.gbrjob": b'{"GeneralSpecs":' + b"[" * 100_000 + b"]" * 100_000 + b"}"},
        "b.gbrjob: error: the job file is not JSON: it is nested too deep",
    ),
    "a thickness of no number": (lambda: job(b'"BoardThickness": 1.6', b'"BoardThickness": NaN'), "b.gbrjob: error: "),
    "an infinite thickness": (lambda: job(b'"BoardThickness": 1.6', b'"BoardThickness": 1e999'), "b.gbrjob: error: "),
    "10^12 layers": (lambda: job(b'"LayerNumber": 4', b'"LayerNumber": 1000000000000'), "(limit layers)"),
    # IPC-2581
    "entities that multiply": (lambda: xml(before=bomb()), "error: a document type declaration"),
    "an entity from a file": (
        lambda: xml(before='<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>\n'),
        "error: a document type declaration",
    ),
    "an entity from the network": (
        lambda: xml(before='<!DOCTYPE x SYSTEM "http://localhost/x.dtd">\n'),
        "error: a document type declaration",
    ),
    "100,000 open elements": (lambda: xml("<a>" * 100_000), "more than 64 elements one inside another (limit nesting)"),
    "a coordinate that is not a number": (
        lambda: xml(ipc.polygon((1, 1), (2, 1), (2, 2)).replace('"2"', '"nan"', 1)),
        "b.xml:6:",
    ),
    "an infinite diameter": (lambda: xml('<Circle diameter="inf"/>'), "b.xml:6:"),
    "a contour that crosses itself everywhere": (
        lambda: xml(ipc.polygon(*((x / 200, y / 200) for x, y in tangle(2000)))),
        "(limit crossings)",
    ),
    "a profile that crosses itself everywhere": (
        lambda: xml(profile=f"<Profile>{ipc.polygon(*((x / 200, y / 200) for x, y in tangle(2000)))}</Profile>"),
        "(limit crossings)",
    ),
    "a name of 1 MB of letters": (
        lambda: {"b.xml": xml()["b.xml"].replace(b'<Step name="board"', b'<Step name="%s"' % (b"x" * 1_000_000))},
        "(limit name_length)",
    ),
}


@pytest.mark.parametrize(("files", "said"), REFUSED.values(), ids=REFUSED)
def test_a_hostile_file_is_refused(files: Callable[[], Files], said: str) -> None:
    made = files()
    outcome = confined(lambda: check_files(made, "", "--fail-on", "never"))
    outcome.assert_refused(said)
    assert len(outcome.err) < 3_000


READ: dict[str, Callable[[], Files]] = {
    "10,000 parentheses around a number": lambda: macro(f"1,1,{'(' * 10_000}1{')' * 10_000},0,0*\n"),
    "1200 primitives of a macro": lambda: macro(
        "".join(f"21,1,.01,.01,{i % 100 * 0.02:.2f},{i // 100 * 0.02:.2f},0*\n" for i in range(1200))
    ),
    "a comment of 200,000 digits": lambda: with_drill(f";T1 {DIGITS}\n"),
    "a comment of 200,000 blanks": lambda: with_drill(f";T1 {' ' * 200_000}x\n"),
    "a note that begins with 64 KB of blanks": lambda: {**FILES, "notes.txt": b" " * 65_000 + b"x"},
    "a coordinate of many zeros": lambda: with_drill(f"X{'0' * 12}1.0Y1.0\n"),
}


@pytest.mark.parametrize("files", READ.values(), ids=READ)
def test_what_is_only_long_is_read(files: Callable[[], Files]) -> None:
    made = files()
    outcome = confined(lambda: check_files(made, "", "--fail-on", "never", "--rules", "hole-size"))
    outcome.assert_harmless()
    assert (outcome.code, outcome.errors) == (0, [])


NAMES = {
    "controls": "a\\u001b[31m\\u0007\\u0000b",
    "line ends": "a\\u000aERROR: b\\u2028c",
    "right to left": "a\\u202eb\\u2066c\\u200fd",
    "half of a pair": "a\\ud800b",
    "orders to a build's log": "##[error]a",
    "letters of all kinds": "a\\u0130\\u00df\\u4e2d\\u0301",
}


@pytest.mark.parametrize("form", ["text", "json", "sarif", "junit", "github", "gitlab", "html"])
def test_names_are_printed_without_harm(form: str) -> None:
    """The reports are UTF-8 with no character that a terminal obeys; the page's and XML's own line ends aside."""
    body = DISC + "".join(
        f"%TO.N,{name}*%\nX{i + 3}000000Y0D03*\nX{i + 3}000000Y9000000D03*\n" for i, name in enumerate(NAMES.values())
    )
    outcome = confined(lambda: check_files(with_layer(body), "", "--rules", "net-agreement", "--format", form))
    assert outcome.code == 1, outcome.err
    outcome.assert_harmless()
    outcome.out.encode()
