"""Aperture macros: primitives, variables, expressions. Areas and extents worked by hand.

Sections of The Gerber Layer Format Specification, Ucamco, 2024.05, and the macros said to be its examples, are from
memory: 4.5 aperture macros, 8.2 the deprecated primitives 2, 6 and 22.
"""

from __future__ import annotations

import math

import pytest
from shapely import Point

from fencepost.readers.artwork import Tool
from readers.gerber_image import MM, image, near, read

COS30, SIN30 = math.cos(math.radians(30)), 0.5
EDGE = math.sqrt(0.5**2 - 0.1**2)
"""How far a disc of diameter 1 reaches beside a bar of 0.2 along the axis."""


def tool(macro: str, call: str = "", header: str = MM) -> Tool:
    """The tool that a macro named M makes when called."""
    return read(f"%AMM*\n{macro}%\n%ADD10M{call}*%\nD10*\nX0Y0D03*\n", header).tools[0]


def thermal_area(outer: float, inner: float, gap: float) -> float:
    """A ring less a cross of two bars: each of four gaps is a strip of the ring between its circles."""

    def disc_less_cross(radius: float) -> float:
        """The part of a disc that the cross leaves, four corners of it."""
        half = gap / 2
        if radius <= half * math.sqrt(2):
            return 0.0
        angle = math.acos(half / radius) - math.asin(half / radius)
        edge = math.sqrt(radius**2 - half**2)
        return 4 * (radius**2 * angle / 2 - half * (edge - half))

    return disc_less_cross(outer / 2) - disc_less_cross(inner / 2)


def bar_in_disc(thickness: float, radius: float) -> float:
    """What a long bar through the centre of a disc has in common with it."""
    half = thickness / 2
    return 2 * (half * math.sqrt(radius**2 - half**2) + radius**2 * math.asin(half / radius))


MOIRE_AREA = (
    math.pi / 4 * (25 - 16 + 9 - 4)
    + (2 * 0.6 - 0.01)
    - 2 * sum(sign * bar_in_disc(0.1, radius) for sign, radius in ((1, 2.5), (-1, 2.0), (1, 1.5), (-1, 1.0)))
)


@pytest.mark.parametrize(
    ("macro", "area", "bounds"),
    [
        ("1,1,1.5,0,0,0*", math.pi * 0.5625, (-0.75, -0.75, 0.75, 0.75)),
        ("1,1,1.5,2,0*", math.pi * 0.5625, (1.25, -0.75, 2.75, 0.75)),
        ("1,1,1,2,0,90*", math.pi * 0.25, (-0.5, 1.5, 0.5, 2.5)),
        ("20,1,0.9,0,0.45,12,0.45,0*", 10.8, (0, 0, 12, 0.9)),
        ("20,1,0.9,0,0,12,0,90*", 10.8, (-0.45, 0, 0.45, 12)),
        ("2,1,1,0,0,3,4,0*", 5, (-0.4, -0.3, 3.4, 4.3)),
        ("20,1,1,2,2,2,2,0*1,1,1,0,0*", math.pi * 0.25, (-0.5, -0.5, 0.5, 0.5)),
        ("21,1,6.8,1.2,3.4,0.6,0*", 8.16, (0, 0, 6.8, 1.2)),
        ("21,1,6.8,1.2,3.4,0.6,30*", 8.16, (-1.2 * SIN30, 0, 6.8 * COS30, 6.8 * SIN30 + 1.2 * COS30)),
        ("22,1,3,1,0.5,-0.5,0*", 3, (0.5, -0.5, 3.5, 0.5)),
        ("22,1,3,1,0.5,-0.5,180*", 3, (-3.5, -0.5, -0.5, 0.5)),
        # TRIANGLE_30 of the specification: corners at (1,-1) (1,1) (2,1), turned by 30 degrees.
        (
            "4,1,3,\n1,-1,\n1,1,\n2,1,\n1,-1,\n30*\n",
            1.0,
            (COS30 - SIN30, SIN30 - COS30, COS30 + SIN30, 2 * SIN30 + COS30),
        ),
        ("4,1,4,0,0,2,0,2,1,0,1,0,0,0*", 2, (0, 0, 2, 1)),
        ("5,1,8,0,0,8,0*", 8 / 2 * 16 * math.sin(math.pi / 4), (-4, -4, 4, 4)),
        ("5,1,4,3,0,2,90*", 2, (-1, 2, 1, 4)),
        ("7,0,0,0.95,0.75,0.175,0*", thermal_area(0.95, 0.75, 0.175), None),
        ("7,0,0,0.8,0.55,0.125,45*", thermal_area(0.8, 0.55, 0.125), None),
        ("7,5,0,1,0,0.2,90*", thermal_area(1, 0, 0.2), (-EDGE, 5 - EDGE, EDGE, 5 + EDGE)),
        # Two rings, 5 to 4 and 3 to 2 in diameter, and a cross of 6 by 0.1.
        ("6,0,0,5,0.5,0.5,2,0.1,6,0*", MOIRE_AREA, (-3, -3, 3, 3)),
        # A ring whose inside has vanished is a disc: 1 in diameter, thickness 2.
        ("6,0,0,1,2,1,4,0,0,0*", math.pi * 0.25, (-0.5, -0.5, 0.5, 0.5)),
    ],
)
def test_area_and_extent_of_a_primitive(
    macro: str, area: float, bounds: tuple[float, float, float, float] | None
) -> None:
    """Each primitive, about the macro's origin, where it also turns (4.5.1)."""
    near(tool(macro).shape, area, bounds)


def test_moire_is_rings_and_a_cross() -> None:
    """Along the x axis the cross runs through; on the diagonal a point is copper in a ring only (8.2)."""
    shape = tool("6,0,0,5,0.5,0.5,2,0.1,6,0*").shape
    diagonal = {0.5: False, 1.25: True, 1.75: False, 2.25: True, 2.75: False}
    for radius, copper in diagonal.items():
        assert shape.contains(Point(radius * math.sqrt(0.5), radius * math.sqrt(0.5))) is copper
        assert shape.contains(Point(radius, 0.0))


@pytest.mark.parametrize(
    ("macro", "call", "area"),
    [
        # DONUTFIX, DONUTVAR and DONUTCAL of the specification (4.5.4): a ring with outer and inner diameter.
        ("1,1,0.100,0,0*1,0,0.080,0,0*", "", math.pi * (0.05**2 - 0.04**2)),
        ("1,1,$1,$2,$3*1,0,$4,$2,$3*", ",0.100X0X0X0.080", math.pi * (0.05**2 - 0.04**2)),
        ("1,1,$1,$2,$3*$4=$1x0.75*1,0,$4,$2,$3*", ",0.100X0X0", math.pi * (0.05**2 - 0.0375**2)),
        ("$4=$1x0.75*$5=($2+100)x1.75*1,1,$1,0,0*1,0,$4,0,0*1,1,1,$5,0*", ",2X3", math.pi * (1 - 0.75**2 + 0.25)),
        # Exposure off takes from what is there, and not from what comes after.
        ("1,0,2,0,0*1,1,1,0,0*", "", math.pi * 0.25),
        ("21,1,4,4,0,0,0*21,0,2,2,0,0,0*21,1,1,1,0,0,0*", "", 16 - 4 + 1),
        ("21,$1,1,1,0,0,0*21,1,1,1,5,0,0*", ",0", 1),
        # A comment, and line ends wherever.
        ("0 $1 is a size, 1,1,9,9,9*\n21,1,\n$1,2\n,0,0,0*\n", ",3", 6),
        ("G04 in a macro*21,1,1,2,0,0,0*", "", 2),
        # A later definition holds from there on.
        ("$1=2*21,1,$1,1,0,0,0*$1=1*21,1,$1,1,9,0,0*", "", 3),
    ],
)
def test_exposure_and_variables(macro: str, call: str, area: float) -> None:
    """Primitives act in order (4.5.1.2); variables come from the aperture's call and from definitions (4.5.4)."""
    near(tool(macro, call).shape, area)


@pytest.mark.parametrize(
    ("expression", "value"),
    [
        ("1+2x3", 7),
        ("(1+2)x3", 9),
        ("1+2X3", 7),
        ("12/4/3", 1),
        ("12/(4/2)", 6),
        ("10-2-3", 5),
        ("10-(2-3)", 11),
        ("-1+4", 3),
        ("+4", 4),
        ("-(1-4)", 3),
        ("2x-3+8", 2),
        ("--3", 3),
        ("- 1 + \n 4", 3),
        (".5+1.", 1.5),
        ("$1x$2", 6),
        ("-$1+$2x4", 10),
        ("((((7))))", 7),
        ("$2/$1x4", 6),
    ],
)
def test_value_of_an_expression(expression: str, value: float) -> None:
    """From left to right, x and / before + and -, signs before either (4.5.4.2); seen as a rectangle's length."""
    near(tool(f"21,1,{expression},1,0,0,0*", ",2X3").shape, value)


def test_macro_in_inches() -> None:
    """Lengths are in the file's unit, rotations are degrees."""
    near(tool("21,1,1,0.1,0,0,90*", header="%FSLAX26Y26*%%MOIN*%").shape, 25.4 * 2.54, (-1.27, -12.7, 1.27, 12.7))


def test_a_macro_that_is_one_disc_has_a_width() -> None:
    """A single circle at the origin is a round disc as C makes it; two, or one elsewhere, are not."""
    assert tool("1,1,$1,0,0*", ",0.6").width == 0.6
    assert tool("1,1,0.6,0,0*1,1,0.6,0,0*").width == 0
    assert tool("1,1,0.6,0.1,0*").width == 0
    assert tool("1,0,0.6,0,0*").width == 0
    assert tool("1,1,0.6,0,0*21,0,0.1,0.1,0,0,0*").width == 0


def test_an_outline_that_touches_itself() -> None:
    """A cut-in makes a hole: 3 x 3 less 1 x 1."""
    ring = "0,0,3,0,3,3,0,3,0,1,1,1,1,2,2,2,2,1,0,1,0,0"
    near(tool(f"4,1,10,{ring},0*").shape, 8, (0, 0, 3, 3))


def test_one_macro_for_several_apertures() -> None:
    """Each call has variables of its own; a macro's name may look like a template's."""
    artwork = read("%AMC1*$2=$1x2*21,1,$1,$2,0,0,0*%%ADD10C1,1*%%ADD11C1,2*%D10*X0Y0D03*D11*X9000000Y0D03*")
    assert sorted(round(tool.shape.area, 9) for tool in artwork.tools) == [2, 8]
    near(image(artwork), 10)
