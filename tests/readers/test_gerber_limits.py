"""Limits: what a file may ask for is bounded, before anything is built of it."""

from __future__ import annotations

import msgspec
import pytest

from fencepost.errors import InputError
from fencepost.limits import DEFAULT_LIMITS, Limits
from readers.gerber_image import read

DISC = "%ADD10C,1*%"


def refused(body: str, limits: Limits = DEFAULT_LIMITS) -> InputError:
    """The error that a body ends in."""
    with pytest.raises(InputError) as caught:
        read(body, limits=limits)
    return caught.value


def doubled(levels: int) -> str:
    """A block that flashes the one before it twice, and so on."""
    blocks = [f"%ABD{n}*%\nD{n - 1}*X0Y0D03*X1000Y0D03*\n%AB*%\n" for n in range(11, 11 + levels)]
    return f"{DISC}{''.join(blocks)}D{10 + levels}*X0Y0D03*"


def nested_use(levels: int) -> str:
    """A block that flashes the one before it once, and so on."""
    blocks = [f"%ABD{n}*%D{n - 1}*X0Y0D03*%AB*%" for n in range(11, 11 + levels)]
    return f"{DISC}{''.join(blocks)}D{10 + levels}*X0Y0D03*"


@pytest.mark.parametrize(
    ("body", "line", "limit"),
    [
        # 10^12 copies; 40 doublings.
        (f"{DISC}\nD10*\n%SRX1000000Y1000000I1J1*%\nX0Y0D03*%SR*%", 5, "features"),
        (f"{DISC}\nD10*\n%SRX99999999999999999999Y2I1J1*%\nX0Y0D03*%SR*%", 5, "features"),
        (doubled(40), 72, "features"),
        (nested_use(100), 3, "nesting"),
        (f"{DISC}{'%ABD11*%' * 1}{''.join(f'%ABD{n}*%' for n in range(12, 100))}{'%AB*%' * 89}", 3, "nesting"),
        (f"{DISC}D10*X{'9' * 400}Y0D03*", 3, "coordinate_digits"),
        (f"{DISC}D10*X{'0' * 400}Y0D03*", 3, "coordinate_digits"),
        (f"%ADD10C,{'1' * 5000}*%", 3, "number_characters"),
        (f"%ADD{'1' * 5000}C,1*%", 3, "number_characters"),
        (f"%LR{'1' * 5000}*%", 3, "number_characters"),
        (f"%AMM*1,1,${'1' * 5000},0,0*%%ADD10M*%", 3, "number_characters"),
        (f"%AMM*1,1,{'1' * 5000},0,0*%%ADD10M*%", 3, "number_characters"),
        (f"%AMM*1,1,{'1+(' * 5000}1{')' * 5000},0,0*%%ADD10M*%", 3, "expression_depth"),
        ("%AMM*1,1,99999x99999x99999,0,0*%%ADD10M*%", 3, "reach"),
        ("%ADD10C,1000000*%", 3, ""),
        ("%ADD10C,1000*%%LS10000*%D10*X0Y0D03*", 3, "reach"),
        (f"%ADD10C,1000*%%LS90*%{nested_use(3).removeprefix(DISC)}", 3, "reach"),
        ("%SRX2Y1I999999999J0*%G36*X0Y0D02*X5D01*Y5D01*X0Y0D01*G37*%SR*%", 3, "reach"),
        (
            "%ABD11*%G36*X0Y0D02*X5000D01*Y5000D01*X0Y0D01*G37*%AB*%%ABD12*%%LS90000*%D11*X0Y0D03*%AB*%D12*X0Y0D03*",
            3,
            "reach",
        ),
        ("%AMM*6,0,0,900,0.001,0.001,100,1,1,0*%%ADD10M*%", 3, "shape_points"),
    ],
)
def test_default_limits(body: str, line: int, limit: str) -> None:
    """Files that ask for far too much are refused at the command that does, with the limit's name."""
    error = refused(body)
    assert error.line == line
    assert error.message.endswith(f"(limit {limit})" if limit else "100000 mm for C")


@pytest.mark.parametrize(
    ("limits", "fits", "passes"),
    [
        ({"features": 4}, "D10*X0Y0D03*X0Y0D03*X0Y0D03*X0Y0D03*", "D10*X0Y0D03*X0Y0D03*X0Y0D03*X0Y0D03*X0Y0D03*"),
        ({"features": 4}, "D10*%SRX1Y3I1J1*%X0Y0D03*%SR*%", "D10*%SRX1Y4I1J1*%X0Y0D03*%SR*%"),
        ({"points": 4}, "D10*X0Y0D02*X5D01*X9D01*", "D10*X0Y0D02*X5D01*X9D01*D03*"),
        ({"points": 4}, "D10*%SRX1Y2I1J1*%X0Y0D02*X5D01*%SR*%", "D10*%SRX1Y3I1J1*%X0Y0D02*X5D01*%SR*%"),
        ({"shape_points": 5}, "%ADD11M1*%", "%ADD11M2*%"),
        ({"nesting": 2}, "%ABD11*%%SRX2Y1I1J1*%%SR*%%AB*%", "%ABD11*%%SRX2Y1I1J1*%%ABD12*%%AB*%%SR*%%AB*%"),
        ({"expression_depth": 3}, "%ADD11M3*%", "%ADD11M4*%"),
        ({"coordinate_digits": 3}, "X-123Y0D02*", "X1234Y0D02*"),
        ({"number_characters": 4}, "%ADD11C,.125*%", "%ADD11C,0.125*%"),
        ({"reach": 2.0}, "X2000000Y0D02*", "X2000001Y0D02*"),
        ({"reach": 2.0}, "%ADD11C,2*%", "%ADD11C,2.1*%"),
    ],
)
def test_each_limit_where_it_begins(limits: dict[str, float], fits: str, passes: str) -> None:
    """What is at a limit is read, and what is just beyond it is refused."""
    macros = (
        "%AMM1*21,1,1,1,0,0,0*%%AMM2*21,1,1,1,0,0,0*21,1,1,1,0,0,0*%%AMM3*1,1,1+(1+1),0,0*%%AMM4*1,1,1+(1+(1+1)),0,0*%"
    )
    low = msgspec.structs.replace(DEFAULT_LIMITS, **limits)
    read(f"{macros}{DISC}{fits}", limits=low)
    error = refused(f"{macros}{DISC}{passes}", low)
    named = {"reach": "", "features": "features", "points": "points"}.get(next(iter(limits)), next(iter(limits)))
    assert named in error.message


@pytest.mark.parametrize(
    "expression",
    ["(" * 20_000 + "1" + ")" * 20_000, "-" * 20_000 + "1", "-(" * 20_000 + "1" + ")" * 20_000, "1" + "+0" * 20_000],
)
def test_deep_expressions_do_not_crash(expression: str) -> None:
    """Parentheses, signs and long sums that keep nothing waiting are only long."""
    assert read(f"%AMM*1,1,{expression},0,0*%%ADD10M*%D10*X0Y0D03*").tools[0].width == 1


def test_many_copies_within_the_limits() -> None:
    """A panel of 300 x 300 and 16 doublings are read."""
    assert len(read(f"{DISC}D10*%SRX300Y300I1J1*%X0Y0D03*%SR*%")) == 90_000
    assert len(read(doubled(16))) == 2**16


def test_statements_that_are_read_in_one_go_are_counted_one_by_one() -> None:
    """Numbers of apertures and attributes that go on without end are refused at the first that is too many."""
    lines = ["D10*", "%TO.N,A*%", "X0Y0D03*", "%TD*%"] * 500
    error = refused(f"{DISC}\n" + "\n".join(lines), msgspec.structs.replace(DEFAULT_LIMITS, words=1_000))
    assert error.message.endswith("more than 1,000 words (limit words)")
    assert 900 < error.line < 1_010
    assert error.column == 1
    read(f"{DISC}\n" + "\n".join(lines), limits=msgspec.structs.replace(DEFAULT_LIMITS, words=2_200))
