"""Shapes of IPC-2581, their areas and places worked out by hand."""

from __future__ import annotations

import math

import pytest
import shapely

from fencepost.readers.artwork import Kind
from readers.ipc2581_files import board_of, copper, features, file, one_set, polygon, read, top_of, value

ROUND = '<LineDesc lineEnd="ROUND" lineWidth="1"/>'
SQUARE = '<LineDesc lineEnd="SQUARE" lineWidth="1"/>'
FLAT = '<LineDesc lineEnd="NONE" lineWidth="1"/>'


def strip(radius: float, width: float) -> float:
    """Area of the part of a disc's right half within half a width of the x axis: the integral of sqrt(R² - y²)."""
    half = width / 2
    return half * math.sqrt(radius**2 - half**2) + radius**2 * math.asin(half / radius)


@pytest.mark.parametrize(
    ("shape", "area", "bounds"),
    [
        ('<Circle diameter="2"/>', math.pi, (-1, -1, 1, 1)),
        ('<RectCenter width="2" height="1"/>', 2, (-1, -0.5, 1, 0.5)),
        ('<RectCorner lowerLeftX="1" lowerLeftY="2" upperRightX="4" upperRightY="3"/>', 3, (1, 2, 4, 3)),
        ('<RectRound width="2" height="1" radius="0.25"/>', 2 - (4 - math.pi) * 0.25**2, (-1, -0.5, 1, 0.5)),
        (
            '<RectRound width="2" height="1" radius="0.25" upperRight="true" upperLeft="false" lowerLeft="false" '
            'lowerRight="false"/>',
            2 - (1 - math.pi / 4) * 0.25**2,
            (-1, -0.5, 1, 0.5),
        ),
        ('<RectCham width="2" height="1" chamfer="0.25"/>', 2 - 4 * 0.25**2 / 2, (-1, -0.5, 1, 0.5)),
        ('<RectCham width="2" height="1" chamfer="0.25" lowerLeft="true"/>', 2 - 0.25**2 / 2, (-1, -0.5, 1, 0.5)),
        ('<Oval width="2" height="1"/>', 1 + math.pi / 4, (-1, -0.5, 1, 0.5)),
        ('<Oval width="1" height="2"/>', 1 + math.pi / 4, (-0.5, -1, 0.5, 1)),
        ('<Ellipse width="4" height="2"/>', 2 * math.pi, (-2, -1, 2, 1)),
        ('<Diamond width="2" height="1"/>', 1, (-1, -0.5, 1, 0.5)),
        ('<Hexagon length="2"/>', 3 * math.sqrt(3) / 2, (-1, -math.sqrt(3) / 2, 1, math.sqrt(3) / 2)),
        ('<Octagon length="2"/>', 8 * (math.sqrt(2) - 1), (-1, -1, 1, 1)),
        ('<Donut shape="ROUND" outerDiameter="2" innerDiameter="1"/>', math.pi * 0.75, (-1, -1, 1, 1)),
        ('<Donut shape="SQUARE" outerDiameter="2" innerDiameter="1"/>', 3, (-1, -1, 1, 1)),
        ('<Triangle base="2" height="1"/>', 1, (-1, -0.5, 1, 0.5)),
        ('<Butterfly shape="ROUND" diameter="2"/>', math.pi / 2, (-1, -1, 1, 1)),
        ('<Butterfly shape="SQUARE" side="2"/>', 2, (-1, -1, 1, 1)),
        (
            '<Moire diameter="2" ringWidth="0.2" ringGap="0.2" ringNumber="2"/>',
            math.pi * (1 - 0.8**2 + 0.6**2 - 0.4**2),
            (-1, -1, 1, 1),
        ),
        (
            '<Moire diameter="2" ringWidth="0.2" ringGap="1" ringNumber="0" lineWidth="0.1" lineLength="3"/>',
            2 * 3 * 0.1 - 0.1**2,
            (-1.5, -1.5, 1.5, 1.5),
        ),
        (
            '<Thermal shape="ROUND" outerDiameter="2" innerDiameter="1" spokeWidth="0.1" spokeStartAngle="0"/>',
            math.pi * 0.75 - 4 * (strip(1, 0.1) - strip(0.5, 0.1)),
            (-math.cos(math.asin(0.05)),) * 2 + (math.cos(math.asin(0.05)),) * 2,
        ),
        (
            '<Thermal shape="SQUARE" outerDiameter="4" innerDiameter="2" spokeCount="2" gap="0.5"/>',
            16 - 4 - 2 * 0.5,
            (-2, -2, 2, 2),
        ),
    ],
)  # fmt: skip
def test_standard_primitives_have_the_area_and_extent_worked_by_hand(shape, area, bounds):
    """Forms and sizes as the schemas of the IPC name them; what those leave open as `DOUBTFUL` says."""
    drawn = copper(top_of(shape))
    assert drawn.area == pytest.approx(area, rel=2e-3)
    assert drawn.bounds == pytest.approx(bounds, abs=2e-3)


@pytest.mark.parametrize(
    ("tag", "shape"),
    [
        ("Butterfly", '<Butterfly shape="ROUND" diameter="2"/>'),
        ("Hexagon", '<Hexagon length="2"/>'),
        ("Octagon", '<Octagon length="2"/>'),
        ("Triangle", '<Triangle base="2" height="1"/>'),
        ("Thermal", '<Thermal shape="ROUND" outerDiameter="2" innerDiameter="1" spokeStartAngle="0"/>'),
    ],
)
def test_what_the_schemas_leave_open_is_said(tag, shape):
    """Copper that rests on a reading of the standard from memory carries a note with the place."""
    notes = read(file(board_of([features(shape)]))).notes
    assert any(tag in note and note.startswith("board.xml:6:") for note in notes)


def test_a_contour_keeps_its_cutouts_and_what_lies_in_them():
    """A cut-out is a hole in its own contour; copper drawn before it, in the hole, stays."""
    island = features(f"<Contour>{polygon((4, 4), (6, 4), (6, 6), (4, 6))}</Contour>")
    pour = features(
        f"<Contour>{polygon((0, 0), (10, 0), (10, 10), (0, 10))}"
        f"{polygon((3, 3), (7, 3), (7, 7), (3, 7), tag='Cutout')}</Contour>"
    )
    artwork = read(file(board_of([island, pour]))).copper[0]
    assert artwork.kind.tolist() == [Kind.FILL, Kind.FILL]
    assert len(artwork.rings) == 1
    assert copper(artwork).area == pytest.approx(100 - 16 + 4)


CIRCLE_2 = '<Circle diameter="2">{}</Circle>'
BOX_10 = f"<Contour>{polygon((0, 0), (10, 0), (10, 10), (0, 10), more='{}')}</Contour>"
LINE_02 = '<LineDesc lineEnd="ROUND" lineWidth="0.2"/>'


@pytest.mark.parametrize(
    ("shape", "style", "area"),
    [
        (CIRCLE_2, "", math.pi),
        (CIRCLE_2, '<FillDesc fillProperty="FILL"/>', math.pi),
        (CIRCLE_2, LINE_02, math.pi * 1.1**2),
        (CIRCLE_2, f'{LINE_02}<FillDesc fillProperty="HOLLOW"/>', math.pi * (1.1**2 - 0.9**2)),
        (CIRCLE_2, '<FillDesc fillProperty="HOLLOW"/>', 0),
        (CIRCLE_2, '<FillDesc fillProperty="VOID"/>', 0),
        (BOX_10, LINE_02, 100 + 40 * 0.1 + math.pi * 0.1**2),
        (BOX_10, f'{LINE_02}<FillDesc fillProperty="HOLLOW"/>', 40 * 0.2 - 4 * 0.1**2 + math.pi * 0.1**2),
        # Bands 0.2 wide around y = 0, 1, ... 10, the outer two cut in half by the edge.
        (BOX_10, '<FillDesc fillProperty="HATCH" lineWidth="0.2" pitch1="1" angle1="0"/>', 10 * 0.2 * 10),
        (
            BOX_10,
            '<FillDesc fillProperty="MESH" lineWidth="0.2" pitch1="1" pitch2="1" angle1="0" angle2="90"/>',
            100 * (1 - 0.8**2),
        ),
    ],
)
def test_fills_and_borders(shape, style, area):
    """A line draws the border half outside; HOLLOW leaves the border alone."""
    assert copper(top_of(shape.format(style))).area == pytest.approx(area, rel=2e-3, abs=1e-9)


def test_void_takes_away_what_was_drawn_before():
    """A VOID cuts a hole of its size, and only in what stands before it."""
    box = features('<RectCenter width="4" height="4"/>')
    void = features('<Circle diameter="2"><FillDesc fillProperty="VOID"/></Circle>')
    assert copper(read(file(board_of([box, void]))).copper[0]).area == pytest.approx(16 - math.pi, rel=1e-3)
    assert copper(read(file(board_of([void, box]))).copper[0]).area == pytest.approx(16)


def test_a_set_of_negative_polarity_takes_away():
    """The Set's polarity turns dark into clear."""
    box = features('<RectCenter width="4" height="4"/>')
    hole = one_set('<Features><Circle diameter="2"/></Features>', polarity="NEGATIVE")
    assert copper(read(file(board_of([box, hole]))).copper[0]).area == pytest.approx(16 - math.pi, rel=1e-3)


def line(length_x: float, length_y: float, style: str) -> str:
    return f'<Line startX="0" startY="0" endX="{length_x}" endY="{length_y}">{style}</Line>'


@pytest.mark.parametrize(
    ("shape", "area"),
    [
        (line(10, 0, ROUND), 10 + math.pi / 4),
        (line(10, 0, SQUARE), 11),
        (line(10, 0, FLAT), 10),
        (line(6, 8, ROUND), 10 + math.pi / 4),
        (line(6, 8, SQUARE), 11),
        (line(6, 8, FLAT), 10),
        (line(0.5, 0, FLAT), 0.5),
        (line(0, 0, ROUND), math.pi / 4),
        (line(0, 0, SQUARE), 1),
        (line(0, 0, FLAT), 0),
    ],
)
def test_ends_of_lines(shape, area):
    """Round ends add half a disc each, square ones half a width, flat ones nothing."""
    assert copper(top_of(shape)).area == pytest.approx(area, rel=2e-3)


@pytest.mark.parametrize("style", [ROUND, SQUARE, FLAT])
def test_a_line_stays_a_trace_whatever_its_ends(style):
    """There is a stroke with the line's width along its middle, and its copper is one connected area."""
    artwork = top_of(line(10, 0, style))
    strokes = [i for i in range(len(artwork)) if artwork.kind[i] == Kind.STROKE]
    assert len(strokes) == 1
    assert artwork.tools[artwork.tool[strokes[0]]].width == 1
    assert copper(artwork).geom_type == "Polygon"


def test_a_line_of_square_ends_reaches_half_a_width_further_and_no_more():
    """The corners of the ends are where they are by hand, at 45 degrees."""
    drawn = copper(top_of(line(10, 10, SQUARE)))
    far = 10 + 0.5 * math.sqrt(2)
    assert drawn.bounds == pytest.approx((10 - far, 10 - far, far, far))


@pytest.mark.parametrize(
    ("clockwise", "length"), [("true", 3 / 4 * 2 * math.pi * 5), ("false", 1 / 4 * 2 * math.pi * 5)]
)
def test_arcs_go_the_way_they_say(clockwise, length):
    """From the right to the top: a quarter counterclockwise, three quarters clockwise."""
    arc = f'<Arc startX="5" startY="0" endX="0" endY="5" centerX="0" centerY="0" clockwise="{clockwise}">{ROUND}</Arc>'
    drawn = copper(top_of(arc))
    assert drawn.area == pytest.approx(length + math.pi / 4, rel=1e-3)
    assert drawn.intersects(shapely.Point(-5, 0)) == (clockwise == "true")


@pytest.mark.parametrize(("clockwise", "area"), [("false", 10 + math.pi / 2), ("true", 10 - math.pi / 2)])
def test_curves_of_a_polygon_bulge_to_the_side_that_they_say(clockwise, area):
    """A box 5 by 2 whose right side is a half circle, outward when it goes on counterclockwise."""
    shape = (
        '<Contour><Polygon><PolyBegin x="0" y="-1"/><PolyStepSegment x="5" y="-1"/>'
        f'<PolyStepCurve x="5" y="1" centerX="5" centerY="0" clockwise="{clockwise}"/>'
        '<PolyStepSegment x="0" y="1"/><PolyStepSegment x="0" y="-1"/></Polygon></Contour>'
    )
    assert copper(top_of(shape)).area == pytest.approx(area, rel=1e-3)


def test_a_polyline_of_several_segments_is_one_stroke_at_its_own_line():
    """Its points are those of the file, and so is its place."""
    shape = (
        f'\n<Polyline><PolyBegin x="0" y="0"/><PolyStepSegment x="3" y="0"/><PolyStepSegment x="3" y="4"/>{ROUND}'
        "</Polyline>"
    )
    artwork = top_of(shape)
    assert artwork.points(0).tolist() == [[0, 0], [3, 0], [3, 4]]
    assert str(artwork.location(0)) == "board.xml:7:1"


def test_an_outline_is_drawn_along_its_edge():
    """Line only: a square ring 0.2 wide with rounded outer corners."""
    shape = f"<Outline>{polygon((0, 0), (10, 0), (10, 10), (0, 10))}{LINE_02}</Outline>"
    assert copper(top_of(shape)).area == pytest.approx(40 * 0.2 - 4 * 0.1**2 + math.pi * 0.1**2, rel=1e-3)


def test_a_user_special_draws_all_of_its_features_in_their_order():
    """A disc, a void in it, and a line through both."""
    shape = (
        '<UserSpecial><Circle diameter="4"/><Circle diameter="2"><FillDesc fillProperty="VOID"/></Circle>'
        '<Line startX="-1" startY="0" endX="1" endY="0"><LineDesc lineEnd="ROUND" lineWidth="0.1"/></Line>'
        "</UserSpecial>"
    )
    artwork = top_of(shape)
    assert artwork.kind.tolist() == [Kind.FLASH, Kind.FLASH, Kind.STROKE]
    assert artwork.dark.tolist() == [True, False, True]


CORNER = '<RectCorner lowerLeftX="0" lowerLeftY="0" upperRightX="2" upperRightY="1"/>'


@pytest.mark.parametrize(
    ("xform", "bounds"),
    [
        ("", (0, 0, 2, 1)),
        ('rotation="90"', (-1, 0, 0, 2)),
        ('mirror="true"', (-2, 0, 0, 1)),
        # Rotation puts it to (-1, 0) ... (0, 2), mirroring then to (0, 0) ... (1, 2). A file of the IPC-2581 consortium
        # shows this order: pads and package pins of its parts at odd angles on the bottom fit in no other.
        ('rotation="90" mirror="true"', (0, 0, 1, 2)),
        ('scale="2"', (0, 0, 4, 2)),
        ('xOffset="1" yOffset="-1"', (1, -1, 3, 0)),
        ('xOffset="1" rotation="90"', (-1, 1, 0, 3)),
    ],
)
@pytest.mark.parametrize("form", ["feature", "pad", "line", "area"])
def test_transforms(xform, bounds, form):
    """Every kind of feature goes where its Xform and its Location (10, 20) put it."""
    inner = {
        "feature": CORNER,
        "pad": CORNER,
        "area": f"<Contour>{polygon((0, 0), (2, 0), (2, 1), (0, 1))}</Contour>",
        "line": '<Line startX="0" startY="0.5" endX="2" endY="0.5"><LineDesc lineEnd="NONE" lineWidth="1"/></Line>',
    }[form]
    tag = "Pad" if form == "pad" else "Features"
    placed = f'<{tag}>{f"<Xform {xform}/>" if xform else ""}<Location x="10" y="20"/>{inner}</{tag}>'
    artwork = read(file(board_of([one_set(placed)]))).copper[0]
    expected = (bounds[0] + 10, bounds[1] + 20, bounds[2] + 10, bounds[3] + 20)
    assert copper(artwork).bounds == pytest.approx(expected)


def test_a_feature_may_have_several_locations():
    """It is drawn at each of them."""
    places = '<Location x="1" y="1"/><Location x="5" y="1"/><Location x="9" y="1"/>'
    artwork = read(file(board_of([features('<Circle diameter="2"/>', places)]))).copper[0]
    assert copper(artwork).area == pytest.approx(3 * math.pi, rel=1e-3)
    assert artwork.xy.tolist() == [[1, 1], [5, 1], [9, 1]]


CONTENT = (
    '<DictionaryLineDesc units="MICRON"><EntryLineDesc id="wide"><LineDesc lineEnd="ROUND" lineWidth="1000"/>'
    '</EntryLineDesc></DictionaryLineDesc><DictionaryFillDesc units="INCH"><EntryFillDesc id="empty">'
    '<FillDesc fillProperty="HOLLOW"/></EntryFillDesc></DictionaryFillDesc>'
    '<DictionaryStandard units="INCH"><EntryStandard id="disc"><Circle diameter="1"/></EntryStandard>'
    "</DictionaryStandard>"
    '<DictionaryUser units="MILLIMETER"><EntryUser id="pair"><UserSpecial><StandardPrimitiveRef id="disc"/>'
    '<Line startX="0" startY="0" endX="30" endY="0"><LineDescRef id="wide"/></Line></UserSpecial></EntryUser>'
    "</DictionaryUser>"
)


@pytest.mark.parametrize(
    ("shape", "area"),
    [
        ('<StandardPrimitiveRef id="disc"/>', math.pi * 12.7**2),
        ('<UserPrimitiveRef id="pair"/>', math.pi * 12.7**2 + (30 - 12.7) + math.pi / 8),
        ('<Line startX="0" startY="0" endX="10" endY="0"><LineDescRef id="wide"/></Line>', 10 + math.pi / 4),
        ('<Circle diameter="9"><LineDescRef id="wide"/><FillDescRef id="empty"/></Circle>', math.pi * (25 - 16)),
    ],
)
def test_dictionaries_have_units_of_their_own(shape, area):
    """An inch disc, a line in micrometres, and a shape in millimetres that uses both."""
    assert copper(top_of(shape, CONTENT)).area == pytest.approx(area, rel=2e-3)


def test_a_set_lends_its_line_to_features_without_one():
    """The Set's own LineDesc holds until another one comes."""
    plain = '<Features><Line startX="{0}" startY="0" endX="{0}" endY="10"/></Features>'
    contents = f"{ROUND}{plain.format(0)}{LINE_02}{plain.format(5)}"
    artwork = read(file(board_of([one_set(contents)]))).copper[0]
    assert [artwork.tools[tool].width for tool in artwork.tool] == [1.0, 0.2]


def test_copper_that_is_no_conductor_says_so():
    """Text, graphics and thieving are labelled for those who look for traces."""
    stroke = f"<Features>{line(10, 0, ROUND)}</Features>"
    sets = [one_set(stroke, geometryUsage="TEXT"), one_set(stroke, geometryUsage="THIEVING"), one_set(stroke, net="A")]
    artwork = read(file(board_of(sets))).copper[0]
    words = [value(artwork, artwork.function, row) for row in range(3)]
    assert words == [("NonConductor",), ("NonConductor",), ("Conductor",)]
