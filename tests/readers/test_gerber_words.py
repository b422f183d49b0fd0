"""What most of a file is made of is taken for one word: written otherwise, to the same end, it is the same image."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from lark import Token

from fencepost.errors import InputError
from fencepost.limits import DEFAULT_LIMITS
from fencepost.readers.gerber.syntax import parse
from fencepost.source import SourceFile
from readers.gerber_image import read

HEAD = "%FSLAX36Y36*%\n%MOMM*%\n%LPD*%\n"

FILE = """%TF.Part,Single*%
%AMTHREE*21,1,$1,$2,0,0,0*%
%TA.AperFunction,ViaPad*%
%ADD10C,0.5*%
%TD*%
%TA.AperFunction,SMDPad,CuDef*%
%ADD11R,1.5X0.75X0.2*%
%ADD0012O,+.8X1.*%
%ADD13THREE,1.2X0.6*%
%TD*%
D10*
%TO.N,GND*%
X1000000Y-2000000D03*
D13*
X-4000000Y2000000D03*
%TO.N,A\\002CB*%
%TO.P,U1,3*%
G36*
X0Y0D02*
G01*
X3000000Y0D01*
X3000000Y2000000D01*
X0Y2000000D01*
X0Y0D01*
G37*
%TD.N*%
D11*
X5000000Y5000000D02*
X7000000Y5000000D03*
D12*
X8000000Y5000000D03*
D10*
X8000000Y1000000D02*
X9000000Y1500000D01*
X9000000Y3500000D01*
%TD*%
"""

END = "M02*\n"


def apart(text: str) -> str:
    """Space behind the percent sign."""
    return text.replace("\n%", "\n% ")


def with_comments(text: str) -> str:
    return text.replace("G01*\n", "G01*\nG04 in a contour*\n").replace("%TD", "G04 more*\n%TD")


def with_spaces(text: str) -> str:
    return text.replace("G36*", "G36 *").replace("G37*", "G37\n*").replace("D10*", "D10 *").replace("D01*", " D01 *")


def with_signs(text: str) -> str:
    return text.replace("X1", "X+1").replace("Y5", "Y+5").replace("D01", "D1").replace("G01", "G1")


def by_commands(text: str) -> str:
    """Several extended commands between one pair of percent signs."""
    return text.replace("*%\n%TA", "*\nTA").replace("*%\n%ADD", "*\nADD")


@pytest.mark.parametrize("written", [apart, with_comments, with_spaces, with_signs, by_commands])
def test_files_written_in_other_ways_are_the_same_image(written: Callable[[str], str]) -> None:
    usual, other = read(FILE, HEAD), read(written(FILE), HEAD)
    for column in ("kind", "dark", "xy", "net", "pin", "function", "tool"):
        assert np.array_equal(getattr(usual, column), getattr(other, column)), column
    assert usual.values == other.values
    assert [tool.shape.wkt for tool in usual.tools] == [tool.shape.wkt for tool in other.tools]
    assert [tool.function for tool in usual.tools] == [tool.function for tool in other.tools]
    assert len(usual.kind) == 7


def test_every_statement_stands_where_its_text_does() -> None:
    text = HEAD + FILE + END
    statements = parse(SourceFile("words.gbr", text.encode()), DEFAULT_LIMITS)
    words = [statement for statement in statements if isinstance(statement, Token)]
    assert all(text[word.start_pos : word.end_pos] == word for word in words)
    kinds = [word.type for word in words]
    assert {"APERTURE", "G36", "G37", "OPERATIONS", "SELECT", "SET_ATTRIBUTE", "DELETE_ATTRIBUTE"} <= {*kinds}
    assert kinds.count("APERTURE") == 4


@pytest.mark.parametrize(
    ("aperture", "at", "said"),
    [
        ("%ADD10C,0.5X1X2X3*%", "ADD10", "expected"),
        ("%ADD10SQUARE,1*%", "SQUARE", "SQUARE is not"),
        ("%ADD10C,1*%\n%ADD10R,1X1*%", "D10R", "D10 is defined already"),
        ("%ADD10C,1X*%", "*%\n", "expected a decimal number"),
        ("%ADD10C,1Y2*%", "Y2", "expected"),
        (f"%ADD10C,{'1' * 400}*%", "111", "number_characters"),
    ],
)
def test_an_aperture_that_is_wrong_is_told_where_it_is(aperture: str, at: str, said: str) -> None:
    with pytest.raises(InputError, match=said) as raised:
        read(f"{aperture}\n", HEAD)
    text = f"{HEAD}{aperture}\n{END}"
    offset = text.index(at, len(HEAD))
    line = text.count("\n", 0, offset) + 1
    column = offset - text.rfind("\n", 0, offset)
    assert (raised.value.line, raised.value.column) == (line, column)
