"""Regions and arcs. Areas and extents worked by hand.

Sections of The Gerber Layer Format Specification, Ucamco, 2024.05, and the examples said to be its own, are from
memory: 4.7 linear and circular interpolation, 4.10 regions, 8.2 the deprecated G74.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from fencepost.readers.artwork import SAGITTA_MM, Kind
from readers.gerber_image import MM, image, near, read

MILLIS = "%FSLAX33Y33*%\n%MOMM*%\n"
"""Coordinates in micrometres."""

ARROW = """G36*
X200000Y300000D02*
G01*
X700000D01*
Y100000D01*
X1100000Y500000D01*
X700000Y900000D01*
Y700000D01*
X200000D01*
Y300000D01*
G37*
"""
"""A minimal contour, an example of 4.10: a bar of 0.5 x 0.4 and a triangle of base 0.8 and height 0.4."""

TWO_CONTOURS = """G01*
G36*
X0Y5000000D02*
Y10000000D01*
X10000000D01*
Y0D01*
X0D01*
Y5000000D01*
X-1000000D02*
X-5000000Y1000000D01*
X-9000000Y5000000D01*
X-5000000Y9000000D01*
X-1000000Y5000000D01*
G37*
"""
"""Two contours that do not overlap, an example of 4.10: a square of 10 and a square on its corner of diagonal 8."""

CUT_INS = """G36*
X1220000Y2570000D02*
G01*
Y2720000D01*
X1310000D01*
Y2570000D01*
X1250000D01*
Y2600000D01*
X1290000D01*
Y2640000D01*
X1250000D01*
Y2670000D01*
X1290000D01*
Y2700000D01*
X1250000D01*
Y2670000D01*
Y2640000D01*
Y2600000D01*
Y2570000D01*
X1220000D01*
G37*
"""
"""A cut-in that serves two holes, an example of 4.10: 0.09 x 0.15 less 0.04 x 0.04 and 0.04 x 0.03."""


@pytest.mark.parametrize(
    ("region", "area", "bounds", "contours"),
    [
        (ARROW, 0.36, (0.2, 0.1, 1.1, 0.9), 1),
        (TWO_CONTOURS, 132, (-9, 0, 10, 10), 2),
        (CUT_INS, 0.0135 - 0.0016 - 0.0012, (1.22, 2.57, 1.31, 2.72), 1),
        # Contours that overlap are joined; one inside another is no hole.
        ("G36*X0Y0D02*X2000000D01*Y2000000D01*X0D01*Y0D01*X1000000Y500000D02*X3000000D01*Y1000000D01*X1000000D01*"
         "Y500000D01*G37*", 4.5, (0, 0, 3, 2), 2),
        ("G36*X0Y0D02*X3000000D01*Y3000000D01*X0D01*Y0D01*X1000000Y1000000D02*X2000000D01*Y2000000D01*X1000000D01*"
         "Y1000000D01*G37*", 9, (0, 0, 3, 3), 2),
        # A D with its back on the left; a whole circle of one arc.
        ("G75*G36*X0Y0D02*G03*Y2000000I0J1000000D01*G01*Y0D01*G37*", math.pi / 2, (0, 0, 1, 2), 1),
        ("G75*G36*X1000000Y0D02*G02*X1000000Y0I-1000000J0D01*G37*", math.pi, (-1, -1, 1, 1), 1),
        # No D02: from the current point, as earlier revisions allow.
        ("X1000000Y0D02*G36*X2000000D01*Y1000000D01*X1000000Y0D01*G37*", 0.5, (1, 0, 2, 1), 1),
    ],
)  # fmt: skip
def test_area_and_extent_of_a_region(
    region: str, area: float, bounds: tuple[float, float, float, float], contours: int
) -> None:
    """Every contour is a fill of its own; they need no aperture (4.10)."""
    artwork = read(region)
    assert artwork.kind.tolist() == [Kind.FILL] * contours
    assert artwork.tool.tolist() == [-1] * contours
    near(image(artwork), area, bounds)


def test_a_ring_keeps_its_points() -> None:
    """A contour with cut-ins has the file's points in order, but for the last, which is the first again."""
    artwork = read(CUT_INS)
    points = artwork.points(0)
    assert len(points) == 17
    assert points[0].tolist() == [1.22, 2.57]
    assert points[-1].tolist() == [1.25, 2.57]
    assert points[14].tolist() == points[8].tolist() == [1.25, 2.64]


@pytest.mark.parametrize(
    "region",
    [
        "G36*G37*",
        "G36*X0Y0D02*G37*",
        "G36*X0Y0D02*X0Y0D01*G37*",
        "G36*X0Y0D02*X1000000D01*X0D01*G37*",
        "G36*X0Y0D02*X5Y5D02*G37*",
    ],
)
def test_a_contour_without_area_makes_nothing(region: str) -> None:
    """A contour of fewer than three corners covers nothing, and what comes after it stands where it should."""
    artwork = read(region + ARROW)
    assert len(artwork) == 1
    near(image(artwork), 0.36)


def test_comments_modes_and_apertures_inside_a_region() -> None:
    """They do not end the contour that they stand in."""
    plain = "G36*X0Y0D02*X1000000D01*Y1000000D01*X0Y0D01*G37*"
    littered = "%ADD10C,1*%G36*X0Y0D02*G04 a*X1000000D01*G75*G01*D10*Y1000000D01*G54D10*X0Y0D01*G04*G37*"
    assert read(plain).xy.tolist() == read(littered).xy.tolist()


def test_two_regions_are_two_contours() -> None:
    """The last operation of one and the first of the next are not one contour."""
    triangle = "G36*X1000000D01*Y1000000D01*X0Y0D01*G37*"
    assert len(read("X0Y0D02*" + triangle + triangle)) == 2


# Arcs


def stroke(operations: str, quadrant: str, header: str = MILLIS):
    """The points of one arc drawn with a disc of 0.1 mm."""
    artwork = read(f"%ADD10C,0.1*%D10*{quadrant}*{operations}", header)
    assert artwork.kind.tolist() == [Kind.STROKE]
    return artwork.points(0)


def check_arc(points: np.ndarray, centre: tuple[float, float], radius: float, degrees: float) -> None:
    """Assert that points are on a circle, go round by so many degrees, and are close enough for the sagitta."""
    from_centre = points - centre
    np.testing.assert_allclose(np.hypot(*from_centre.T), radius, atol=1e-9)
    steps = np.diff(np.unwrap(np.arctan2(from_centre[:, 1], from_centre[:, 0])))
    assert math.degrees(steps.sum()) == pytest.approx(degrees)
    assert (radius * (1 - np.cos(steps / 2)) <= SAGITTA_MM * (1 + 1e-6)).all()


@pytest.mark.parametrize(
    ("quadrant", "operations", "centre", "radius", "degrees"),
    [
        # The multi quadrant example of 4.7: from (0.3, -0.2) to (-0.3, -0.2) about (0, 0.2).
        ("G75", "X300Y-200D02*G03X-300Y-200I-300J400D01*", (0, 0.2), 0.5, 360 - 2 * math.degrees(math.atan2(0.3, 0.4))),
        ("G75", "X300Y-200D02*G02X-300Y-200I-300J400D01*", (0, 0.2), 0.5, -2 * math.degrees(math.atan2(0.3, 0.4))),
        # Start and end in one point: a turn in G75 (4.7).
        ("G75", "X1000Y0D02*G03X1000Y0I-1000J0D01*", (0, 0), 1, 360),
        ("G75", "X1000Y0D02*G02I-1000D01*", (0, 0), 1, -360),
        # I or J left out is 0; the deprecated form in which the code stands alone.
        ("G75", "X1000Y0D02*G03*X0Y1000I-1000D01*", (0, 0), 1, 90),
        ("G75", "X0Y1000D02*G02*X1000Y0J-1000D01*", (0, 0), 1, -90),
        # The single quadrant example of 8.2: from (1.1, 0.6) to (0.7, 1.0) about (0.7, 0.6).
        ("G74", "X1100Y600D02*G03X700Y1000I400J0D01*", (0.7, 0.6), 0.4, 90),
        # In every quadrant, both ways: the centre is on the side that makes at most 90 degrees.
        ("G74", "X1000Y0D02*G03X0Y1000I1000J0D01*", (0, 0), 1, 90),
        ("G74", "X0Y1000D02*G03X-1000Y0I0J1000D01*", (0, 0), 1, 90),
        ("G74", "X-1000Y0D02*G03X0Y-1000I1000J0D01*", (0, 0), 1, 90),
        ("G74", "X0Y-1000D02*G03X1000Y0I0J1000D01*", (0, 0), 1, 90),
        ("G74", "X1000Y0D02*G02X0Y-1000I1000J0D01*", (0, 0), 1, -90),
        ("G74", "X800Y600D02*G03X600Y800I800J600D01*", (0, 0), 1, math.degrees(math.atan2(4, 3) - math.atan2(3, 4))),
        ("G74", "X600Y800D02*G02X800Y600I600J800D01*", (0, 0), 1, -math.degrees(math.atan2(4, 3) - math.atan2(3, 4))),
        ("G74", "X-800Y600D02*G02X-600Y800I800J600D01*", (0, 0), 1, -math.degrees(math.atan2(4, 3) - math.atan2(3, 4))),
    ],
)  # fmt: skip
def test_centre_and_sweep_of_an_arc(
    quadrant: str, operations: str, centre: tuple[float, float], radius: float, degrees: float
) -> None:
    """Both quadrant modes, both directions; the sign of a sweep is positive counterclockwise."""
    check_arc(stroke(operations, quadrant), centre, radius, degrees)


def test_start_and_end_in_one_point_is_no_arc_in_single_quadrant_mode() -> None:
    """0 degrees in G74: a stroke of no length, which is kept (8.2)."""
    assert stroke("X1000Y0D02*G03X1000Y0I1000J0D01*", "G74").tolist() == [[1, 0], [1, 0]]


def test_an_arc_of_no_radius_is_a_point() -> None:
    """Start, end and centre in one point."""
    assert stroke("X1000Y0D02*G03X1000Y0I0J0D01*", "G75").tolist() == [[1, 0], [1, 0]]


def test_an_arc_ends_where_the_file_says() -> None:
    """Where rounding makes the radii differ, both ends are exact and the points go from one radius to the other."""
    points = stroke("X1000Y0D02*G03X1Y1001I-1000J0D01*", "G75")
    assert points[0].tolist() == [1, 0]
    assert points[-1].tolist() == [0.001, 1.001]
    radius = np.hypot(*points.T)
    assert (np.diff(radius) >= -1e-12).all()


@pytest.mark.parametrize("radius", [1, 20, 500, 12_345, 999_000])
def test_chords_of_small_and_large_arcs(radius: int) -> None:
    """A turn of any size is within the sagitta, and is no polygon of a few corners."""
    points = stroke(f"X{radius}Y0D02*G03I-{radius}D01*", "G75")
    check_arc(points, (0, 0), radius / 1000, 360)
    assert len(points) > 16


def test_area_of_an_arc_stroke() -> None:
    """Half a ring with round ends."""
    artwork = read("%ADD10C,0.2*%D10*G75*X1000000Y0D02*G03X-1000000I-1000000J0D01*", MM)
    near(image(artwork), math.pi * (1.1**2 - 0.9**2) / 2 + math.pi * 0.01, (-1.1, -0.1, 1.1, 1.1))
