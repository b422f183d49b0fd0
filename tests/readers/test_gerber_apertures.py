"""Standard apertures and their transforms. Areas and extents worked by hand.

Sections of The Gerber Layer Format Specification, Ucamco, 2024.05, from memory: 4.4 standard apertures, 4.9 the
commands that transform apertures, 8.2 deprecated commands.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from fencepost.readers.artwork import Kind
from readers.gerber_image import MM, image, near, read

INCHES = "%FSLAX26Y26*%\n%MOIN*%\n"
SQRT2 = math.sqrt(2)
PENTAGON = 5 / 2 * 0.3**2 * math.sin(math.radians(72))


def flashed(aperture: str, state: str = "", header: str = MM):
    """An aperture flashed at the origin."""
    return read(f"%ADD10{aperture}*%\n{state}D10*\nX0Y0D03*\n", header)


@pytest.mark.parametrize(
    ("aperture", "area", "bounds"),
    [
        ("C,0.5", math.pi * 0.0625, (-0.25, -0.25, 0.25, 0.25)),
        ("C,0.5X0.25", math.pi * (0.0625 - 0.015625), (-0.25, -0.25, 0.25, 0.25)),
        ("R,0.6X0.3", 0.18, (-0.3, -0.15, 0.3, 0.15)),
        ("R,0.6X0.3X0.2", 0.18 - math.pi * 0.01, (-0.3, -0.15, 0.3, 0.15)),
        ("O,0.6X0.3", 0.3 * 0.3 + math.pi * 0.0225, (-0.3, -0.15, 0.3, 0.15)),
        ("O,0.3X0.6", 0.3 * 0.3 + math.pi * 0.0225, (-0.15, -0.3, 0.15, 0.3)),
        ("O,0.6X0.3X0.2", 0.3 * 0.3 + math.pi * (0.0225 - 0.01), (-0.3, -0.15, 0.3, 0.15)),
        ("O,0.4X0.4", math.pi * 0.04, (-0.2, -0.2, 0.2, 0.2)),
        ("P,0.6X4", 0.18, (-0.3, -0.3, 0.3, 0.3)),
        ("P,0.6X4X45", 0.18, (-0.3 / SQRT2, -0.3 / SQRT2, 0.3 / SQRT2, 0.3 / SQRT2)),
        ("P,0.6X5X90X0.3", PENTAGON - math.pi * 0.0225, (-0.2853, -0.2427, 0.2853, 0.3)),
        ("P,2X12", 3.0, (-1.0, -1.0, 1.0, 1.0)),
        # Rectangular holes, deprecated.
        ("C,0.5X0.2X0.1", math.pi * 0.0625 - 0.02, (-0.25, -0.25, 0.25, 0.25)),
        ("R,0.6X0.3X0.2X0.1", 0.16, (-0.3, -0.15, 0.3, 0.15)),
        ("P,0.6X4X0X0.2X0.1", 0.16, (-0.3, -0.3, 0.3, 0.3)),
        # A decimal may leave out the digits before or after the point, and have a sign.
        ("R,+.6X1.", 0.6, (-0.3, -0.5, 0.3, 0.5)),
    ],
)
def test_shape_of_a_standard_aperture(aperture: str, area: float, bounds: tuple[float, float, float, float]) -> None:
    """Area and extent of each template, with and without a hole (4.4)."""
    artwork = flashed(aperture)
    assert artwork.kind.tolist() == [Kind.FLASH]
    near(artwork.tools[0].shape, area, bounds)


@pytest.mark.parametrize(
    ("aperture", "width"),
    [("C,0.5", 0.5), ("O,0.4X0.4", 0.4), ("C,0.5X0.2", 0.0), ("O,0.4X0.4X0.1", 0.0), ("R,1X1", 0.0), ("O,2X1", 0.0)],
)
def test_width_is_that_of_a_solid_disc(aperture: str, width: float) -> None:
    """Only a round disc without a hole has a width."""
    assert flashed(aperture).tools[0].width == width


def test_sizes_in_inches_become_millimetres() -> None:
    """A disc of one tenth of an inch; a polygon's rotation has no unit."""
    assert flashed("C,0.1", header=INCHES).tools[0].width == pytest.approx(2.54)
    near(flashed("P,0.1X4X45", header=INCHES).tools[0].shape, 1.27**2 * 2)


@pytest.mark.parametrize("aperture", ["C,0", "R,0X1", "O,1X0", "P,0X3"])
def test_an_aperture_of_no_size_draws_nothing(aperture: str) -> None:
    """Its flash stays a feature, with its attributes, but covers nothing (4.4.2: zero-size apertures)."""
    artwork = flashed(aperture)
    assert len(artwork) == 1
    assert artwork.tools[0].shape.is_empty
    assert artwork.tools[0].width == 0


L_SHAPE = "%AMELL*4,1,6,0,0,4,0,4,1,1,1,1,2,0,2,0,0,0*%\n%ADD10ELL*%\n"
"""An L with its corner at the origin: 4 long to the right, 2 high."""


@pytest.mark.parametrize(
    ("state", "bounds", "area"),
    [
        ("", (0, 0, 4, 2), 5),
        ("%LMX*%", (-4, 0, 0, 2), 5),
        ("%LMY*%", (0, -2, 4, 0), 5),
        ("%LMXY*%", (-4, -2, 0, 0), 5),
        ("%LMX*%%LMN*%", (0, 0, 4, 2), 5),
        ("%LR90*%", (-2, 0, 0, 4), 5),
        ("%LR-90.0*%", (0, -4, 2, 0), 5),
        ("%LR45*%", (-SQRT2, 0, 2 * SQRT2, 2.5 * SQRT2), 5),
        ("%LS0.5*%", (0, 0, 2, 1), 1.25),
        # Mirrored before it is rotated, whatever the order of the commands.
        ("%LMX*%%LR90*%", (-2, -4, 0, 0), 5),
        ("%LR90*%%LMX*%", (-2, -4, 0, 0), 5),
        ("%LS2*%%LMY*%%LR90*%", (0, 0, 4, 8), 20),
    ],
)
def test_mirror_rotate_and_scale(state: str, bounds: tuple[float, float, float, float], area: float) -> None:
    """LM, LR and LS act on the aperture, mirroring first (4.9), and hold until they are set again."""
    artwork = read(f"{L_SHAPE}{state}D10*\nX0Y0D03*\n")
    near(image(artwork), area, bounds)


def test_transforms_leave_coordinates_and_regions_alone() -> None:
    """A mirrored, rotated, scaled state does not move where things stand, nor change a region (4.9)."""
    region = "G36*X1000000Y1000000D02*X2000000D01*Y2000000D01*X1000000Y1000000D01*G37*"
    artwork = read(f"%ADD10C,0.2*%%LMX*%%LR90*%%LS2*%D10*X3000000Y1000000D03*{region}")
    assert artwork.points(0).tolist() == [[3, 1]]
    assert artwork.points(1).tolist() == [[1, 1], [2, 1], [2, 2]]
    assert artwork.tools[0].width == pytest.approx(0.4)


def test_each_transform_makes_a_tool_of_its_own() -> None:
    """One aperture used in three ways is three tools; a disc turned is the same disc."""
    flashes = "X0Y0D03*%LR90*%X0Y0D03*%LR450*%X0Y0D03*%LMX*%X0Y0D03*"
    assert read(f"%ADD10R,2X1*%D10*{flashes}").tool.tolist() == [0, 1, 1, 2]
    assert read(f"%ADD10C,2*%D10*{flashes}").tool.tolist() == [0, 0, 0, 0]


def test_a_stroke_keeps_its_tool() -> None:
    """A line drawn with a rectangle stays a stroke of that tool, and sweeps a hexagon (8.2, deprecated)."""
    artwork = read("%ADD10R,2X1*%D10*X0Y0D02*X3000000Y4000000D01*")
    assert artwork.kind.tolist() == [Kind.STROKE]
    assert artwork.tools[0].width == 0
    # Both ends, and what the diagonal of the rectangle across the path sweeps: |2 * 4 + 1 * 3|.
    near(image(artwork), 2 + 11, (-1, -0.5, 4, 4.5))


def test_only_tools_in_use_are_kept() -> None:
    """Apertures that nothing is drawn with leave no tool; indices count those that are."""
    artwork = read("%ADD10C,1*%%ADD11C,2*%%ADD12C,3*%D12*X0Y0D02*D11*X0Y0D03*D12*X1Y0D01*")
    assert [tool.width for tool in artwork.tools] == [2, 3] or [tool.width for tool in artwork.tools] == [3, 2]
    widths = np.array([tool.width for tool in artwork.tools])
    assert widths[artwork.tool].tolist() == [2, 3]
