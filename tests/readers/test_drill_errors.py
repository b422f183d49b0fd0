"""What a drill file does not say, says twice or says in an unknown way is an error with its place, never a guess."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

from fencepost.errors import InputError
from fencepost.limits import DEFAULT_LIMITS
from fencepost.readers.drill.excellon import read_drill
from fencepost.settings.decode import decode
from fencepost.settings.model import DrillClaim, Settings
from fencepost.source import SourceFile
from fencepost.units import Length

MOST = DEFAULT_LIMITS.hits
HEAD = "M48\nMETRIC\nT1C0.6\n%\nT1\n"  # the body begins on line 6


def failure(text: str, claim: DrillClaim | None = None, name: str = "fab/a.drl") -> InputError:
    """The error that reading this text ends in."""
    with pytest.raises(InputError) as caught:
        read_drill(SourceFile(name, text.encode()), claim)
    return caught.value


# The text, the line and column of the error, and a part of its message.
BAD = {
    "nothing": ("", 1, 1, "ends without M30"),
    "cut short": (HEAD + "X1.0Y1.0\n", 7, 1, "ends without M30"),
    "cut short within a line": (HEAD + "X1.0Y1.", 6, 8, "ends without M30"),
    "more after the end": (HEAD + "M30\nX1.0Y1.0\n", 7, 1, "after the end"),
    "two programs": (HEAD + "M30\nM48\n", 7, 1, "after the end"),
    "an unknown command": (HEAD + "G77X1.0\nM30\n", 6, 1, '"G77X1.0" is not understood'),
    "an unknown word after a hit": (HEAD + "X1.0Y1.0\nX1.0Y2.0Q3\nM30\n", 7, 1, '"X1.0Y2.0Q3" is not understood'),
    "axes in the wrong order": (HEAD + "Y1.0X1.0\nM30\n", 6, 1, "is not understood"),
    "an axis without a number": (HEAD + "XY1.0\nM30\n", 6, 1, "is not understood"),
    "a point without digits": (HEAD + "X.\nM30\n", 6, 1, "is not understood"),
    "two points in a number": (HEAD + "X1.2.3\nM30\n", 6, 1, "is not understood"),
    "small letters": (HEAD + "x1.0\nM30\n", 6, 1, "is not understood"),
    "a block that may be skipped": (HEAD + "/X1.0\nM30\n", 6, 1, '"/X1.0" is not read'),
    "a control character": (HEAD + "X1\x1b[2J\nM30\n", 6, 1, '"X1\\x1b[2J" is not understood'),
    "half a unit statement": ("M48\nMETRIC,QZ\nM30\n", 2, 8, "expected LZ or TZ or digits"),
    "junk in a tool": ("M48\nMETRIC\nT1C0.6Q\nM30\n", 3, 7, "expected a size as in C0.3"),
    "junk after a cut": (HEAD + "G00X1.0\nM15\nG01X2.0 junk\nM30\n", 8, 9, "expected a coordinate or the end"),
    "a coordinate twice": (HEAD + "G00X1.0X2.0\nM30\n", 6, 8, "X cannot stand here twice"),
    "a centre after G01": (HEAD + "G00X1.0\nM15\nG01X2.0I1.0\nM30\n", 8, 8, "I cannot stand here after G01"),
    "patterns": (HEAD + "M25\nX1.0\nM01\nM02X5.0\nM08\nM30\n", 6, 1, "step and repeat"),
    "a repeated pattern": (HEAD + "R3M02X5.0\nM30\n", 6, 3, "expected a coordinate"),
    "cutter compensation": (HEAD + "G41\nM30\n", 6, 1, "cutter compensation"),
    "a canned circle": (HEAD + "G84X1.0\nM30\n", 6, 1, "a circle of hits"),
    "drilled text": (HEAD + "M97,ABC\nM30\n", 6, 1, "drilled text"),
    "a moved origin": (HEAD + "G93X1.0Y0\nM30\n", 6, 1, "moves the origin"),
    "format 1": ("M48\nFMAT,1\nMETRIC\nM30\n", 2, 1, "only FMAT,2"),
    "other axes": ("M48\nVER,3\nMETRIC\nM30\n", 2, 1, "VER,1"),
    "no tool": ("M48\nMETRIC\nT1C0.6\n%\nX1.0\nM30\n", 5, 1, "no tool is taken up"),
    "the tool put down": (HEAD + "X1.0\nT0\nX2.0\nM30\n", 8, 1, "no tool is taken up"),
    "an undefined tool": (HEAD + "T2\nX1.0\nM30\n", 6, 1, "T2 has no diameter"),
    "two undefined tools": (HEAD + "T2\nT3\nM30\n", 6, 1, "T2 has no diameter in this file, and neither do T3"),
    "a tool of no size": ("M48\nMETRIC\nT1C0.0\n%\nT1\nM30\n", 3, 3, "T1 has a diameter of 0 mm"),
    "a tool without a decimal point": ("M48\nMETRIC\nT1C3\n%\nT1\nM30\n", 3, 3, '"3" of T1 has no decimal point'),
    "a tool of two sizes": (HEAD + "T1C0.7\nM30\n", 6, 3, "0.7 mm here, and of 0.6 mm before"),
    "two units": ("M48\nMETRIC\nM72\nM30\n", 3, 1, "unit of the file: inch here, but mm before"),
    "a unit other than the comment's": (
        "M48\n; FORMAT={-:-/ absolute / inch / decimal}\nMETRIC\nM30\n", 3, 1, "mm here, but inch before"
    ),
    "two formats": ("M48\n;FILE_FORMAT=2:4\nMETRIC,000.000\nM30\n", 3, 8, "3:3 here, but 2:4 before"),
    "two kinds of zeros": ("M48\nMETRIC,LZ\nMETRIC,TZ\nM30\n", 3, 8, "trailing here, but leading before"),
    "more digits than the format": ("METRIC,TZ,000.000\nT1C0.6\nX1\nX1234567\nM30\n", 4, 1, "more digits"),
    "more digits than a number can have": (HEAD + "X1.0\nX1.0Y1.2345678901234567\nM30\n", 7, 5, "more than 15 digits"),
    "out of all bounds": (HEAD + "X1.0\nY200000.0\nM30\n", 7, 1, "more than 100000 mm (limit reach)"),
    "a cut with the tool up": (HEAD + "G00X1.0\nG01X2.0\nM30\n", 7, 1, "M15 is missing"),
    "bare coordinates after the tool went up": (HEAD + "G00X1.0\nM15\nX2.0\nM16\nX3.0\nM30\n", 10, 1, "M15 is missing"),
    "down in drill mode": (HEAD + "X1.0\nM15\nM30\n", 7, 1, "G00 is missing"),
    "down twice": (HEAD + "G00X1.0\nM15\nM15\nM30\n", 8, 1, "G00 is missing"),
    "a move while down": (HEAD + "G00X1.0\nM15\nG00X2.0\nM30\n", 8, 1, "M16 is missing"),
    "a tool change while down": (HEAD + "G00X1.0\nM15\nT1\nM30\n", 8, 1, "M16 is missing"),
    "down without a tool": ("METRIC\nG00X1.0\nM15\nM30\n", 3, 1, "no tool is taken up"),
    "a slot outside drill mode": (HEAD + "G00X1.0\nX1.0Y1.0G85X2.0\nM30\n", 7, 1, "G05 is missing"),
    "a slot in steps": (HEAD + "G91\nX1.0Y1.0G85X2.0\nM30\n", 7, 1, "incremental"),
    "nothing to repeat": (HEAD + "R2X1.0\nM30\n", 6, 1, "no hit to repeat"),
    "a repeat after a tool change": (HEAD + "X1.0\nT1\nR2X1.0\nM30\n", 8, 1, "no hit to repeat"),
    "a repeat of a slot": (HEAD + "X1.0Y1.0G85X2.0\nR2X1.0\nM30\n", 7, 1, "no hit to repeat"),
    "too many repeats": (HEAD + f"X1.0\nR{MOST}X0.000001\nM30\n", 7, 1, f"more than {MOST:,} hits (limit hits)"),
    "one hit too many": (HEAD + f"X1.0\nR{MOST - 1}X0\nX2.0\nM30\n", 8, 1, f"more than {MOST:,} hits (limit hits)"),
    "an arc without a centre": (HEAD + "G00X1.0\nM15\nG02X2.0\nM30\n", 8, 1, "needs its radius A"),
    "an arc with both": (HEAD + "G00X1.0\nM15\nG02X2.0A1.0I1.0\nM30\n", 8, 1, "needs its radius A"),
    "an arc off its circle": (HEAD + "G00X1.0Y0\nM15\nG02X5.0Y0I1.0\nM30\n", 8, 1, "1 and 3 mm from its centre"),
    "an arc too wide for its radius": (HEAD + "G00X1.0Y0\nM15\nG02X5.0Y0A1.0\nM30\n", 8, 1, "does not reach"),
    "a circle by its radius": (HEAD + "G00X1.0Y0\nM15\nG02X1.0Y0A1.0\nM30\n", 8, 1, "ends where it starts"),
    "an arc about its own start": (HEAD + "G00X1.0Y0\nM15\nG02X1.0Y0I0J0\nM30\n", 8, 1, "from its centre"),
    "an unknown attribute command": (HEAD + "; #@! TX.Y\nM30\n", 6, 1, "expected an attribute"),
    "a file attribute of two values": (
        "; #@! TF.FileFunction,Plated,1,2,PTH\n; #@! TF.FileFunction,Plated,1,4,PTH\nM30\n", 2, 1, "another value"
    ),
}  # fmt: skip


@pytest.mark.parametrize(("text", "line", "column", "message"), BAD.values(), ids=BAD.keys())
def test_bad_input_is_an_error_at_its_place(text: str, line: int, column: int, message: str) -> None:
    error = failure(text)
    assert (error.file, error.line, error.column) == ("fab/a.drl", line, column)
    assert message in error.message


def test_bytes_that_are_no_text_are_an_error() -> None:
    with pytest.raises(InputError, match="is not understood"):
        read_drill(SourceFile("a", b"\x00\xff\xfe\x80" * 100))


INCH_24 = "T1\nX1000Y5000\nX10000\nM30\n"

# What is missing, the text, and a table that says it: the cure with the right values in place of the offered ones.
INCOMPLETE = {
    "digits": ("M48\nINCH,TZ\nT1C0.02\n%\n" + INCH_24, "how many digits a coordinate has", {}),
    "digits and zeros": (
        "M48\nINCH\nT1C0.02\n%\n" + INCH_24, "how many digits a coordinate has or which zeros are kept", {}
    ),
    "zeros": ("M48\nINCH,00.0000\nT1C0.02\n%\n" + INCH_24, "which zeros are kept", {}),
    "the unit, of points": ("M48\nT1C0.02\n%\nT1\nX0.1Y0.5\nX1.0\nM30\n", "its unit", {'"mm"': '"inch"'}),
    "the unit and all else": (
        "M48\n%\n" + INCH_24, "T1 has no diameter", {'"mm"': '"inch"', "[3, 3]": "[2, 4]", "? mm": "0.508 mm"}
    ),
    "a size": ("M48\nINCH\n%\nT1\nX0.1Y0.5\nX1.0\nM30\n", "T1 has no diameter", {"? mm": "20 mil"}),
    "a size and the digits": (
        "M48\nINCH,TZ\n%\n" + INCH_24, "T1 has no diameter", {"? mm": "0.508 mm"}
    ),
    "the point of a size": ("M48\nINCH\nT1C200\n%\nT1\nX0.1Y0.5\nX1.0\nM30\n", "no decimal point", {"? mm": "20 mil"}),
}  # fmt: skip


@pytest.mark.parametrize(("text", "message", "filled_in"), INCOMPLETE.values(), ids=INCOMPLETE.keys())
def test_the_settings_that_an_error_offers_cure_it(text: str, message: str, filled_in: dict[str, str]) -> None:
    """The lines to paste are valid settings once a person has put in what only a person can know."""
    error = failure(text, name="fab/board 1.drl")
    assert message in error.message
    lines = error.cure
    for offered, right in filled_in.items():
        assert offered in lines
        lines = lines.replace(offered, right)
    claim = decode(tomllib.loads(lines), Settings, "fencepost.toml").drill["board 1.drl"]
    hits = read_drill(SourceFile("fab/board 1.drl", text.encode()), claim)
    np.testing.assert_allclose(hits.start, [(2.54, 12.7), (25.4, 12.7)], atol=1e-9)
    np.testing.assert_allclose(hits.diameter, 0.508, atol=1e-9)


@pytest.mark.parametrize(
    ("function", "plated"), [("Plated,1,4,PTH", True), ("NonPlated,1,4,NPTH", False), ("Plated,1,4,PTH,Drill", True)]
)
def test_a_cure_knows_the_plating_that_the_file_tells(function: str, plated: bool) -> None:
    error = failure(f"; #@! TF.FileFunction,{function}\nMETRIC\nT1\nM30\n")
    assert tomllib.loads(error.cure)["drill"]["a.drl"]["plated"] is plated
    assert "false where" not in error.cure


def test_a_cure_keeps_what_the_settings_say_already() -> None:
    claim = DrillClaim(plated=False, span=(1, 2), unit="inch", tools={"T1": Length(0.5)})
    table = tomllib.loads(failure("T1\nX1000\nT2\nM30\n", claim).cure)["drill"]["a.drl"]
    assert table == {
        "plated": False,
        "span": [1, 2],
        "unit": "inch",
        "digits": [2, 4],
        "zeros": "trailing",
        "tools": {"T1": "0.5 mm", "T2": "? mm"},
    }


def test_a_size_left_open_in_the_cure_is_not_taken_for_one() -> None:
    with pytest.raises(Exception, match="not a length"):
        decode(tomllib.loads(failure(HEAD + "T2\nM30\n").cure), Settings, "fencepost.toml")


MM = "M48\nMETRIC,TZ,000.000\nT1C0.6\n%\nT1\nX1000\nM30\n"

CONTRADICTED = {
    "unit": (DrillClaim(plated=True, unit="inch"), 2, "unit of the file: mm here, but inch in the settings"),
    "digits": (DrillClaim(plated=True, digits=(3, 4)), 2, "3:3 here, but 3:4 in the settings"),
    "zeros": (DrillClaim(plated=True, zeros="leading"), 2, "trailing here, but leading in the settings"),
    "a size": (DrillClaim(plated=True, tools={"T1": Length(0.7)}), 3, "0.6 mm, but 0.7 mm in the settings"),
    "a tool that is not there": (DrillClaim(plated=True, tools={"T9": Length(0.7)}), 1, '"T9", which is no tool'),
    "no name of a tool": (DrillClaim(plated=True, tools={"drill": Length(0.7)}), 1, '"drill", which is no tool'),
    "no unit": (DrillClaim(plated=True, unit="furlong"), 1, 'the unit "furlong"'),
    "no zeros": (DrillClaim(plated=True, zeros="LZ"), 1, 'its "LZ" zeros'),
    "no digits": (DrillClaim(plated=True, digits=(3, 12)), 1, "0 to 9 of each kind"),
}


@pytest.mark.parametrize(("claim", "line", "message"), CONTRADICTED.values(), ids=CONTRADICTED.keys())
def test_settings_may_not_contradict_the_file(claim: DrillClaim, line: int, message: str) -> None:
    error = failure(MM, claim)
    assert error.line == line
    assert message in error.message
