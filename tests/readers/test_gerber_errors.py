"""What is refused, where in the file, and what is said to have been expected. Nothing is passed over in silence."""

from __future__ import annotations

import pytest

from fencepost.errors import InputError
from fencepost.readers.gerber import read_gerber
from fencepost.source import SourceFile
from readers.gerber_image import MM, read

DISC = "%ADD10C,1*%"
OPEN = f"{DISC}D10*X0Y0D02*"


def refusal(data: bytes) -> InputError:
    """The error that a whole file ends in."""
    with pytest.raises(InputError) as caught:
        read_gerber(SourceFile("bad.gbr", data))
    assert caught.value.file == "bad.gbr"
    assert caught.value.message.startswith("expected ")
    return caught.value


def check(body: str, column: int, message: str, end: str = "M02*") -> None:
    """Assert that a body in line 3 is refused at a column of that line."""
    error = refusal(f"%FSLAX26Y26*%\n%MOMM*%\n{body}{end}".encode())
    assert (error.line, error.column) == (3, column), str(error)
    assert message in error.message


@pytest.mark.parametrize(
    ("data", "place", "message"),
    [
        (b"", (1, 1), "M02 at the end; found the end of the file"),
        (b"%FSLAX26Y26*%\n%MOMM*%\n", (3, 1), "M02 at the end; found the end of the file"),
        (b"%FSLAX26Y26*%\n%MOMM*%\n%ADD10C,1*%\nD10*\nX0Y0D03*\n", (6, 1), "M02 at the end"),
        (b"%FSLAX26Y26*%\n%MOMM*%\n%ADD10C,1*%\nD10*\nX0Y0D0", (5, 5), "D01, D02 or D03, then *"),
        (b"%FSLAX26Y26*%\n%MOMM*%\n%ADD10C,1*", (3, 11), "found the end of the file"),
        (b"%FSLAX26Y26*%\n%MOMM*%\n%ADD10C,1.", (3, 11), "expected * or X; found the end of the file"),
        (b"M02*", (1, 1), "expected FS, the coordinate format, before M02"),
        (b"%FSLAX26Y26*%\nM02*", (2, 1), "expected MO, the unit, before M02"),
        (b"%MOMM*%\n%ADD10C,1*%D10*\nX0Y0D03*\nM02*", (3, 1), "expected FS, the coordinate format, before the first"),
        (b"%FSLAX26Y26*%\nX0Y0D02*\n%MOMM*%M02*", (2, 1), "expected MO, the unit, before the first operation"),
        (b"%FSLAX26Y26*%\n%ADD10C,1*%\n%MOMM*%M02*", (2, 2), "expected MO, the unit, before the first aperture"),
        (b"%FSLAX26Y26*%%MOMM*%M02*\nX0Y0D02*", (2, 1), "expected nothing after M02"),
        (b"%FSLAX26Y26*%%MOMM*%M02*\nM02*", (2, 1), "expected nothing after M02"),
        (b"%FSLAX26Y26*%%MOMM*%M02*\n\x1a", (2, 1), "expected nothing after M02"),
        (b"\x00\x01\x02", (1, 1), "expected a command"),
        (b"PK\x03\x04 not a layer at all", (1, 1), "expected a command"),
        (b"%FSLAX26Y26*%\r%MOMM*%\r%TO.N,A\xff*%M02*", (3, 8), "expected UTF-8 in an attribute"),
        (b"%FSLAX26Y26*%\n%MOMM*%\nG04 \xff is a comment*\n\xff", (4, 1), "expected a command"),
    ],
)
def test_files_that_are_not_whole(data: bytes, place: tuple[int, int], message: str) -> None:
    """Cut short, without set-up, with data after the end, or no Gerber file."""
    error = refusal(data)
    assert (error.line, error.column) == place, str(error)
    assert message in error.message


@pytest.mark.parametrize(
    ("body", "column", "message"),
    [
        ("%KOC*%", 2, "expected a command of the kind that stands between % and %; found 'KOC*'"),
        ("%AD10C,1*%", 4, "expected an aperture number from D10 up"),
        ("%ADD9C,1*%", 4, "expected an aperture number from D10 up"),
        ("%ADD10*%", 7, "expected a name"),
        ("%ADD10C;1*%", 8, "expected"),
        ("%ADD10C,1e3*%", 10, "expected * or X"),
        ("%ADD10C,1X*%", 11, "expected a decimal number"),
        ("%ADD10C,one*%", 9, "expected a decimal number"),
        ("%ADD10C,1%", 10, "expected * or X"),
        ("%MOIM*%", 4, "expected MM or IN"),
        ("%FSLAX26*%", 9, "expected"),
        ("%FSLAX8Y8*%", 7, "expected two digits from 0 to 7"),
        ("%LPX*%", 4, "expected D or C"),
        ("%LMZ*%", 4, "expected N, X, Y or XY"),
        ("%LRx*%", 4, "expected a decimal number"),
        ("%SRX0Y1I1J1*%", 4, "found 'X0Y1I1J1*'"),
        ("%SRX2.5Y1I1J1*%", 6, "found '.5Y1I1J1*'"),
        ("%AB10*%", 4, "expected"),
        ("%TO*%", 4, "expected the name of an attribute and its fields"),
        ("%TO9,a*%", 4, "expected the name of an attribute and its fields"),
        ("%TO.N;a*%", 4, "expected the name of an attribute and its fields"),
        ("%TO.N,a%", 4, "expected the name of an attribute and its fields"),
        ("%TD.N,a*%", 6, "expected *"),
        ("%TX.N,a*%", 2, "expected a command of the kind that stands between"),
        ("G04 #@! TO;*", 11, "expected the name of an attribute and its fields"),
        ("%%", 2, "expected a command of the kind that stands between"),
        # A comment runs to the next *, here that of M02.
        ("G04 without an end ", 24, "M02 at the end; found the end of the file"),
        ("G05*", 1, "expected a command, or M02 at the end; found 'G05*'"),
        ("G12*", 1, "expected a command, or M02 at the end; found 'G12*'"),
        ("G101X0Y0D02*", 1, "expected a command, or M02 at the end; found 'G101X0Y0D02*'"),
        ("X0Y0D04*", 5, "expected the rest of an operation, as X, Y, I, J, D01, D02 or D03, then *; found 'D04*'"),
        ("X0Y0D02", 8, "expected the rest of an operation"),
        ("X0.5Y0D02*", 3, "expected the rest of an operation"),
        ("XY0D02*", 1, "expected"),
        ("Y0X0D02*", 3, "expected the rest of an operation"),
        ("X0Y0D02X0*", 8, "expected the rest of an operation"),
        ("D9*", 1, "expected"),
        ("M03*", 1, "expected a command, or M02 at the end"),
        ("hello", 1, "expected a command, or M02 at the end; found 'helloM02*'"),
        ("\x1b[31mred", 1, r"found '\x1b[31mredM02*'"),
        ("%IPPOZ*%", 4, "expected POS or NEG"),
        ("%IR*%", 4, "expected a whole number"),
    ],
)
def test_what_is_no_command(body: str, column: int, message: str) -> None:
    """Words that the grammar does not have, at the place where it was left."""
    check(body, column, message)


@pytest.mark.parametrize(
    ("body", "column", "message"),
    [
        ("D11*", 1, "expected an aperture that is defined; D11 is not"),
        ("%ADD10NOPE*%", 7, "expected C, R, O, P or a macro that is defined; NOPE is not"),
        (f"{DISC}{DISC}", 15, "expected a new number; D10 is defined already"),
        (f"%ABD10*%{DISC}", 12, "expected a new number; D10 is defined already"),
        ("%ABD10*%D10*", 9, "expected an aperture that is defined; D10 is not"),
        ("%AMX*1,1,1,0,0*%%AMX*1,1,1,0,0*%", 20, "expected a new name; X is defined already"),
        ("%AMC*1,1,1,0,0*%", 4, "expected a new name; C is defined already"),
        ("%ADD10C*%", 2, "expected from 1 to 3 parameters for C, not 0"),
        ("%ADD10R,1*%", 2, "expected from 2 to 4 parameters for R, not 1"),
        ("%ADD10O,1X1X1X1X1*%", 2, "expected from 2 to 4 parameters for O, not 5"),
        ("%ADD10P,1*%", 2, "expected from 2 to 5 parameters for P, not 1"),
        ("%ADD10P,1X2*%", 2, "expected from 3 to 12 vertices, not 2"),
        ("%ADD10P,1X13*%", 2, "expected from 3 to 12 vertices, not 13"),
        ("%ADD10P,1X4.5*%", 2, "expected from 3 to 12 vertices, not 4.5"),
        ("%ADD10C,-1*%", 2, "expected sizes from 0 to"),
        ("%ADD10R,1X1X-1*%", 2, "expected sizes from 0 to"),
        ("%LS0*%", 2, "expected a scale factor above 0"),
        ("%LS-1*%", 2, "expected a scale factor above 0"),
    ],
)
def test_apertures(body: str, column: int, message: str) -> None:
    """Apertures that are not there, twice there, or not as their template asks."""
    check(body, column, message)


@pytest.mark.parametrize(
    ("macro", "column", "message"),
    [
        ("1,1,1/0,0,0*", 12, "expected a divisor other than 0"),
        ("1,1,1/($1-2),0,0*", 12, "expected a divisor other than 0"),
        ("1,1,$2,0,0*", 11, "expected a value for $2; the aperture gives none"),
        ("$5=$6*1,1,$5,0,0*", 10, "expected a value for $6"),
        ("1,2,1,0,0*", 7, "expected an exposure of 0 or 1, not 2"),
        ("1,1,-1,0,0*", 7, "expected a size of 0 or more, not -1"),
        ("20,1,-1,0,0,1,1,0*", 7, "expected a size of 0 or more"),
        ("4,1,3,0,0,1,0,1,1,0,0*", 7, "expected 4 points for 3 vertices, not 3.5"),
        ("4,1,3,0,0,1,0,1,1,0,1,0*", 7, "expected an outline that ends where it began"),
        ("4,1,2,0,0,1,0,0,0,0*", 7, "expected a whole number of 3 or more vertices, not 2"),
        ("4,1,3.5,0,0,1,0,0,0,0*", 7, "expected a whole number of 3 or more vertices, not 3.5"),
        ("4,1*", 7, "expected exposure, number of vertices, points and rotation for an outline"),
        ("5,1,2,0,0,1,0*", 7, "expected from 3 to 12 vertices, not 2"),
        ("6,0,0,5,0.5,0.5,1.5,0.1,6,0*", 7, "expected a whole number of rings"),
        ("6,0,0,5,0.5,0.5,101,0.1,6,0*", 7, "expected a whole number of rings from 0 to 100"),
        ("7,0,0,1,2,0.1,0*", 7, "expected an outer diameter above the inner one"),
        ("1,1,1000000x1000000,0,0*", 7, "expected values within 100000 mm (limit reach)"),
        # Grammar
        ("1,1,1,0*", 14, "found '*'"),
        ("1,1,1,0,0,0,0*", 18, "expected"),
        ("21,1,1,1,0,0*", 19, "found '*'"),
        ("3,1*", 7, "expected"),
        ("1,1,1+,0,0*", 13, "found ',0,0*'"),
        ("1,1,(1,0,0*", 13, "found ',0,0*'"),
        ("1,1,1),0,0*", 12, "found '),0,0*'"),
        ("1,1,1**,0,0*", 12, "expected ,; found '*'"),
        ("1,1,$,0,0*", 11, "found '$,0,0*'"),
        ("1,1,$0,0,0*", 11, "found '$0,0,0*'"),
        ("$1*", 9, "expected =; found '*'"),
        ("1 1 1 0 0*", 9, "expected ,; found '1 1 0 0*'"),
    ],
)
def test_macros(macro: str, column: int, message: str) -> None:
    """Values that a macro cannot have, at the place in the macro; column 7 is its first primitive."""
    check(f"%AMM* {macro}%%ADD10M,2*%", column, message)


@pytest.mark.parametrize(
    ("body", "column", "message"),
    [
        ("X0Y0D03*", 1, "expected an aperture to be selected before"),
        ("X0Y0D02*X5D01*", 9, "expected an aperture to be selected before"),
        (f"{DISC}D10*X0Y0D02*X5Y5*", 24, "expected D01, D02 or D03 after the coordinates"),
        (f"{DISC}D10*X0Y0D03*X5Y5*", 24, "expected D01, D02 or D03 after the coordinates"),
        (f"{DISC}D10*X0Y0*", 16, "expected D01, D02 or D03 after the coordinates"),
        ("X100000000Y0D02*", 1, "expected a coordinate of at most 8 digits, as FS says"),
        ("X0Y-100000000D02*", 3, "expected a coordinate of at most 8 digits"),
        (f"{OPEN}X5I5D01*", 24, "expected I and J in an arc only"),
        ("X5Y5J5D02*", 1, "expected I and J in an arc only"),
        (f"{OPEN}G02X5I5D01*", 24, "expected G75 or G74 before the first arc"),
        (f"{OPEN}G75*G02X1000000Y0I300000J0D01*", 28, "expected an arc whose ends are equally far from its centre"),
        (f"{OPEN}G75*G02X1000000D01*", 28, "expected an arc whose ends are equally far from its centre"),
        (f"{OPEN}G74*G03X-2000000I1000000J0D01*", 28, "expected an arc whose ends are equally far from its centre"),
        (f"{OPEN}G74*G02X1000000Y0I300000J0D01*", 28, "expected an arc whose ends are equally far from its centre"),
    ],
)
def test_operations(body: str, column: int, message: str) -> None:
    """Operations that their state does not allow."""
    check(body, column, message)


@pytest.mark.parametrize(
    ("body", "column", "message"),
    [
        ("G36*X0Y0D02*X5D01*Y5D01*", 25, "expected G37"),
        ("G36*X0Y0D02*X5D01*Y5D01*G37*", 19, "expected the contour to end where it began, at (0, 0) mm"),
        ("G36*X0Y0D02*X5D01*Y5D01*X9Y9D02*G37*", 19, "expected the contour to end where it began"),
        ("G36*X0Y0D02*X5D01*Y5D01*X0Y0D01*X9Y9D03*G37*", 33, "expected D01 or D02 in a region, not D03"),
        ("G36*G36*", 5, "expected G37"),
        ("G37*", 1, "expected a command, or M02 at the end; found 'G37*'"),
        ("G36*%LPC*%G37*", 5, "expected G37"),
        ("G36*%TO.N,A*%G37*", 5, "expected G37"),
        ("G36*%SRX2Y2I1J1*%G37*", 5, "expected G37"),
    ],
)
def test_regions(body: str, column: int, message: str) -> None:
    """Regions and contours that are left open, and what may not stand in them."""
    check(body, column, message)


@pytest.mark.parametrize(
    ("body", "column", "message"),
    [
        ("%ABD20*%", 9, "expected AB before M02, as the AB of line 3 is still open"),
        ("%SRX2Y2I1J1*%", 14, "expected SR before M02, as the SR of line 3 is still open"),
        ("%AB*%", 2, "expected AB with a number, as none is open that this could close"),
        ("%SRX2Y2I1J1*%%AB*%", 15, "expected AB with a number"),
        ("%ABD20*%%SR*%", 10, "expected AB to close D20 first"),
        ("%ABD20*%%AB*%D20*X0Y0D02*X5D01*", 26, "expected D03 with a block aperture, not D01"),
        (f"{OPEN}%SRX2Y1I1J0*%X5D01*%SR*%", 37, "expected D02 or D03 with X and Y at the edge of a block"),
        (f"{OPEN}%SRX2Y1I1J0*%X5D03*%SR*%", 37, "expected D02 or D03 with X and Y at the edge of a block"),
        (f"{OPEN}%ABD20*%%AB*%X5Y5D01*", 37, "expected D02 or D03 with X and Y at the edge of a block"),
        (f"{OPEN}%ABD20*%%AB*%G01*G04*Y5D02*", 45, "expected D02 or D03 with X and Y at the edge of a block"),
    ],
)
def test_blocks_and_repeats(body: str, column: int, message: str) -> None:
    """Blocks left open, closed without being open, or drawn across."""
    check(body, column, message)


@pytest.mark.parametrize(
    ("body", "column", "message"),
    [
        ("%MOIN*%", 2, "expected no other unit than MM, which was set before"),
        ("G70*", 1, "expected no other unit than MM, which was set before"),
        ("%FSLAX25Y25*%", 2, "expected no second FS with another format"),
        ("G91*", 1, "expected the notation that FS says, not G91"),
        ("%IPNEG*%", 2, "expected IP to change nothing; with NEG it is deprecated and not supported"),
        ("%ASAYBX*%", 2, "expected AS to change nothing; with AYBX"),
        ("%IR90*%", 2, "expected IR to change nothing; with 90"),
        ("%MIA1B0*%", 2, "expected MI to change nothing; with A1"),
        ("%MIA0B1*%", 2, "expected MI to change nothing; with B1"),
        ("%OFA1.5B0*%", 2, "expected OF to change nothing; with A1.5"),
        ("%SFA1B2*%", 2, "expected SF to change nothing; with B2"),
        ("%SFA0*%", 2, "expected SF to change nothing; with A0"),
    ],
)
def test_commands_on_the_whole_image(body: str, column: int, message: str) -> None:
    """Set-up that contradicts itself, and deprecated commands that would change all of the image."""
    check(body, column, message)


@pytest.mark.parametrize(
    ("body", "column", "message"),
    [
        ("%TF.Part,Single*%%TF.Part,Array*%", 19, "expected .Part to keep its value, as file attributes do"),
        ("%TF.Part,Single*%%TD.Part*%", 19, "expected an aperture or object attribute; .Part is the file's"),
        ("%TO.N*%", 2, "expected 1 or more fields for .N"),
        ("%TO.P,U1*%", 2, "expected 2 or more fields for .P"),
        ("%TO.C*%", 2, "expected 1 or more fields for .C"),
        ("%TA.AperFunction*%", 2, "expected 1 or more fields for .AperFunction"),
    ],
)
def test_attributes(body: str, column: int, message: str) -> None:
    """Attributes that do not say what they must."""
    check(body, column, message)


def test_the_first_error_of_operations_is_found_in_a_long_run() -> None:
    """The place is that of the operation, however many are decoded with it."""
    lines = [f"X{n}Y{n}D02*" for n in range(1000)]
    lines[700] = "X5Y5I3D02*"
    with pytest.raises(InputError) as caught:
        read("\n".join(lines), MM)
    assert (caught.value.line, caught.value.column) == (703, 1)
