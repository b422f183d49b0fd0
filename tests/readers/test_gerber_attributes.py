"""Attributes of files, apertures, objects and components, and how long they hold.

Sections of The Gerber Layer Format Specification, Ucamco, 2024.05, are from memory: 5.1 to 5.5 attribute commands, 5.6
the standard attributes. The escape of four digits without u is from earlier revisions.
"""

from __future__ import annotations

import pytest

from fencepost.readers.artwork import Artwork
from readers.gerber_image import MM, read

DISC = "%ADD10C,1*%"
FLASH = "X0Y0D03*"


def column(artwork: Artwork, name: str) -> list[tuple[str, ...] | None]:
    """One attribute of every feature, None where there is none."""
    return [artwork.values[index] if index >= 0 else None for index in getattr(artwork, name)]


def test_attributes_of_a_file() -> None:
    """Standard names keep their dot, a user's have none; a value may be missing; unknown names are kept (5.2)."""
    body = "%TF.FileFunction,Copper,L2,Inr*%%TF.MD5,6ab9e892830469cd*%%TFMine,a,,b*%%TFFlag*%%TF.New,1*%"
    assert read(body).attributes == {
        ".FileFunction": ("Copper", "L2", "Inr"),
        ".MD5": ("6ab9e892830469cd",),
        "Mine": ("a", "", "b"),
        "Flag": (),
        ".New": ("1",),
    }


def test_an_attribute_said_twice_alike() -> None:
    """A file attribute may be repeated with the same value."""
    assert read("%TF.Part,Single*%G04 #@! TF.Part,Single*").attributes == {".Part": ("Single",)}


def test_attributes_in_comments() -> None:
    """Structured comments hold the same commands, for readers that do not know them (5.1.1)."""
    plain = f"%TF.FileFunction,Copper,L1,Top*%%TA.AperFunction,ViaPad*%{DISC}%TD*%D10*%TO.N,A*%{FLASH}%TD.N*%{FLASH}"
    inside = plain.replace("%TF", "G04 #@! TF").replace("%TA", "G04 #@! TA").replace("%TO", "G04 #@!TO")
    inside = inside.replace("%TD", "G04   #@! TD").replace("Top*%", "Top*\n").replace("ViaPad*%", "ViaPad*")
    inside = inside.replace("%TD*%", "%TD*").replace("TD*%", "TD*").replace("A*%", "A*").replace(".N*%", ".N*")
    artwork = read(inside)
    assert "%T" not in inside
    assert artwork.attributes == read(plain).attributes == {".FileFunction": ("Copper", "L1", "Top")}
    assert column(artwork, "net") == column(read(plain), "net") == [("A",), None]
    assert column(artwork, "function") == [("ViaPad",)] * 2


@pytest.mark.parametrize(
    "comment",
    ["G04 #@! a remark*", "G04 #@!*", "G04 TO.N,A*", "G04 #@ TO.N,A*", "G04 #@! TX.N,A*", "G04 %TO.N,A%*"],
)
def test_comments_that_are_no_attributes(comment: str) -> None:
    """What does not begin as an attribute command after #@! is a comment."""
    assert column(read(f"{DISC}D10*{comment}{FLASH}"), "net") == [None]


@pytest.mark.parametrize(
    ("written", "fields"),
    [
        (r"\u002C", (",",)),
        (r"A\u002cB", ("A,B",)),
        (r"A\002CB", ("A,B",)),
        (r"\u0025 \u002A", ("% *",)),
        (r"\u005Cu002C", (r"\u002C",)),
        (r"\RESET", (r"\RESET",)),
        (r"R\E\S\E\T", (r"R\E\S\E\T",)),
        ("Net-(R1-Pad1)", ("Net-(R1-Pad1)",)),
        ("/A B/Ω", ("/A B/Ω",)),
        ("A,B", ("A", "B")),
        ("A,", ("A", "")),
        ("", ("",)),
        (" A ", (" A ",)),
        ("LO\r\nNG", ("LONG",)),
    ],
)
def test_fields(written: str, fields: tuple[str, ...]) -> None:
    """Commas part fields; both escapes are replaced, after parting; UTF-8 is read; line ends do not count (3.4)."""
    artwork = read(f"{DISC}D10*%TO.N,{written}*%{FLASH}")
    assert column(artwork, "net") == [fields]


def test_objects_take_what_is_in_force() -> None:
    """TO holds until TD or a new value; net, pin and component have a column each (5.4, 5.5)."""
    body = (
        f"{DISC}D10*{FLASH}%TO.N,GND*%{FLASH}%TO.P,U1,3,PA0*%{FLASH}%TO.C,U1*%{FLASH}%TO.N,N/C*%{FLASH}%TD.P*%{FLASH}"
        f"%TD.Nothing*%{FLASH}%TD*%{FLASH}"
    )
    artwork = read(body)
    nets = [None, ("GND",), ("GND",), ("GND",), ("N/C",), ("N/C",), ("N/C",), None]
    assert column(artwork, "net") == nets
    assert column(artwork, "pin") == [None, None, *[("U1", "3", "PA0")] * 3, None, None, None]
    assert column(artwork, "component") == [None, None, None, *[("U1",)] * 4, None]


def test_strokes_and_fills_have_attributes() -> None:
    """All kinds of features carry net, pin and component."""
    region = "G36*X0Y0D02*X5D01*Y5D01*X0Y0D01*X9Y9D02*X15D01*Y15D01*X9Y9D01*G37*"
    artwork = read(f"{DISC}D10*%TO.N,GND*%X0Y0D02*X5Y5D01*{region}%TD*%{region}")
    assert column(artwork, "net") == [("GND",)] * 3 + [None] * 2


def test_an_aperture_has_what_was_in_force_when_it_was_defined() -> None:
    """TA attaches at AD, and later changes do not reach the aperture (5.3)."""
    body = (
        f"%TA.AperFunction,ViaPad*%{DISC}%TA.AperFunction,SMDPad,CuDef*%%ADD11C,2*%%TD.AperFunction*%%ADD12C,3*%"
        f"%TA.AperFunction,Other,x*%D10*{FLASH}D11*{FLASH}X1Y1D01*D12*{FLASH}"
    )
    artwork = read(body)
    assert column(artwork, "function") == [("ViaPad",), ("SMDPad", "CuDef"), ("SMDPad", "CuDef"), None]
    assert [artwork.tools[tool].function for tool in artwork.tool] == [
        ("ViaPad",),
        ("SMDPad", "CuDef"),
        ("SMDPad", "CuDef"),
        (),
    ]


def test_a_region_has_what_is_in_force() -> None:
    """A region takes the aperture attributes of the dictionary, and none of the current aperture (5.3)."""
    region = "G36*X0Y0D02*X5D01*Y5D01*X0Y0D01*G37*"
    body = f"%TA.AperFunction,ViaPad*%{DISC}%TD*%D10*{region}%TA.AperFunction,Conductor*%{region}{FLASH}"
    assert column(read(body), "function") == [None, ("Conductor",), ("ViaPad",)]


def test_components() -> None:
    """What a component layer says of each component, whatever the order; none of it reaches the next (5.6.17 on)."""
    body = (
        f"{DISC}D10*%TO.CMnt,SMD*%%TO.C,R6*%%TO.CVal,10k\\u002C 1%%*%%TO.CRot,90*%{FLASH}%TD*%"
        f"%TO.C,C1*%%TO.CVal,100nF*%{FLASH}%TO.CPgN,x*%{FLASH}"
    ).replace("1%%*", "1*")
    artwork = read(body)
    assert artwork.component_attributes == {
        "R6": {".CMnt": ("SMD",), ".CVal": ("10k, 1",), ".CRot": ("90",)},
        "C1": {".CVal": ("100nF",), ".CPgN": ("x",)},
    }
    assert column(artwork, "component") == [("R6",), ("C1",), ("C1",)]


def test_attributes_of_what_a_block_holds() -> None:
    """Objects in a block keep their own; those that they lack come from the flash and from the block's function."""
    block = (
        f"%TA.AperFunction,ViaPad*%{DISC}%TD*%%ADD11C,2*%%TA.AperFunction,ComponentPad*%%ABD20*%D10*%TO.N,OWN*%{FLASH}%TD*%"
        f"D11*{FLASH}%AB*%"
    )
    artwork = read(f"{block}%TO.N,OUTER*%%TO.P,J1,2*%D20*{FLASH}")
    assert column(artwork, "net") == [("OWN",), ("OUTER",)]
    assert column(artwork, "pin") == [("J1", "2")] * 2
    assert column(artwork, "function") == [("ViaPad",), ("ComponentPad",)]


def test_attributes_of_what_is_repeated() -> None:
    """Every copy has them."""
    artwork = read(f"{DISC}D10*%SRX2Y1I1J0*%%TO.N,A*%{FLASH}%SR*%")
    assert column(artwork, "net") == [("A",)] * 2


@pytest.mark.parametrize(
    ("body", "lines", "columns"),
    [
        # Strokes and flashes: their own operation.
        (f"{DISC}\nD10*\nX0Y0D02*X5D01*\n  X7D01*X9D03*", [5, 6, 6], [9, 3, 9]),
        # A fill: the D02 of its contour, or its first operation where there is none.
        ("G36*\nX0Y0D02*X5D01*\nY5D01*X0Y0D01*\nX9Y9D02*\nX15D01*Y15D01*X9Y9D01*G37*", [4, 6], [1, 1]),
        ("X0Y0D02*G36*\nG01*X5D01*Y5D01*X0Y0D01*G37*", [4], [5]),
        # A block: its flash. A repeat: the operation in it.
        (f"{DISC}\n%ABD20*%D10*\n{FLASH}\n%AB*%\nD20*X0Y0D03*\nX5Y5D03*", [7, 8], [5, 1]),
        (f"{DISC}D10*\n%SRX2Y1I1J0*%\n{FLASH}\n%SR*%", [5, 5], [1, 1]),
    ],
)
def test_places_in_the_file(body: str, lines: list[int], columns: list[int]) -> None:
    """Line and column of what made each feature; the header has two lines."""
    artwork = read(body, MM)
    places = [artwork.location(row) for row in range(len(artwork))]
    assert [place.line for place in places] == lines
    assert [place.column for place in places] == columns
