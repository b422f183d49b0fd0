"""Feature elements to what they draw: strokes, areas and spots about the feature's own origin."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field, replace
from functools import cached_property

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from fencepost.errors import InputError
from fencepost.frozen import dataclass
from fencepost.readers.ipc2581.document import Node
from fencepost.readers.ipc2581.notes import Notes
from fencepost.readers.ipc2581.paths import Path, areas_of, drawn_out, polygon_of
from fencepost.readers.ipc2581.placing import xform_of
from fencepost.readers.ipc2581.primitives import DOUBTFUL, PRIMITIVES, primitive
from fencepost.readers.ipc2581.styles import SOLID, THIN, Fill, Line, fill_of, filled, line_of
from fencepost.readers.ipc2581.values import Values

LINE_TAGS = ("LineDesc", "LineDescRef")
_FILL_TAGS = ("FillDesc", "FillDescRef")
NOT_DRAWN = frozenset(
    {
        *("Xform", "Location", "PinRef", "NonstandardAttribute", "SpecRef", "Color", "ColorRef", "ColorTerm"),
        *(*LINE_TAGS, *_FILL_TAGS),
    }
)
"""What may stand beside shapes without being one."""


@dataclass(frozen=True, eq=False)
class Shape:
    """What a spot shows, as `Tool` has it: `width` is the diameter of a solid round disc, else 0."""

    area: BaseGeometry
    width: float = 0.0

    @cached_property
    def key(self) -> float | bytes:
        """The same for shapes that are the same."""
        return self.width or shapely.to_wkb(self.area)


@dataclass(frozen=True, eq=False)
class Stroke:
    """A path drawn with a line."""

    path: Path
    line: Line
    offset: int
    dark: bool = True


@dataclass(frozen=True, eq=False)
class Area:
    """A filled contour: its outer ring and the rings of holes in it."""

    rings: tuple[Path, ...]
    offset: int
    dark: bool = True


@dataclass(frozen=True, eq=False)
class Spot:
    """A shape at the origin."""

    shape: Shape
    offset: int
    dark: bool = True


Piece = Stroke | Area | Spot


@dataclass(eq=False)
class Entry:
    """An entry of a dictionary, and what it stands for once that was asked: most are for layers without copper.

    `scale` is the unit of the dictionary in mm, 0 where it does not say.
    """

    node: Node
    scale: float
    drawn: tuple[Piece, ...] | None = None
    line: Line | None = None
    fill: Fill | None = None


@dataclass(eq=False)
class Dictionaries:
    """What Content defines, by id."""

    lines: dict[str, Entry] = field(default_factory=dict)
    fills: dict[str, Entry] = field(default_factory=dict)
    standard: dict[str, Entry] = field(default_factory=dict)
    user: dict[str, Entry] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Draughtsman:
    """Draws features in one unit. `line` is what a feature without a line description is drawn with.

    `depth` counts entries of dictionaries that refer to others.
    """

    values: Values
    dictionaries: Dictionaries
    notes: Notes
    scale: float
    line: Line = THIN
    depth: int = 0

    def with_line(self, line: Line) -> Draughtsman:
        """The same with another default line."""
        return replace(self, line=line)

    def draw(self, node: Node) -> tuple[Piece, ...]:
        """What one feature element draws, in order.

        Raises InputError for an element that is no known feature, for entries that no dictionary has, and for text,
        whose shape no file gives.
        """
        build = _BUILDERS.get(node.tag)
        if build is None:
            raise self.error(node, f"<{node.tag}> is no feature that is known, so its copper would be lost")
        return build(self, node)

    def drawn_by(self, owner: Node) -> tuple[Piece, ...]:
        """What all feature elements inside an element draw."""
        pieces: tuple[Piece, ...] = ()
        for child in owner.children:
            if child.tag not in NOT_DRAWN:
                pieces += self.draw(child)
        return pieces

    def line_in(self, owner: Node) -> Line:
        """The LineDesc or LineDescRef of an element, or the default."""
        node = owner.child(*LINE_TAGS)
        return self.line if node is None else self.line_from(node)

    def border_in(self, owner: Node, fill: Fill) -> Line:
        """The line around an area: its own, and the default for one that has nothing else."""
        return self.line_in(owner) if fill.kind == "HOLLOW" or owner.child(*LINE_TAGS) else THIN

    def line_from(self, node: Node) -> Line:
        """A LineDesc, or what a LineDescRef refers to."""
        if node.tag == "LineDesc":
            return line_of(node, self.values, self.scale)
        entry = self._entry(node, self.dictionaries.lines, "line")
        if entry.line is None:
            entry.line = self._within(entry).line_in(entry.node)
        return entry.line

    def fill_in(self, owner: Node) -> Fill:
        """The FillDesc or FillDescRef of an element; filled where there is none."""
        node = owner.child(*_FILL_TAGS)
        if node is None:
            return SOLID
        if node.tag == "FillDesc":
            return fill_of(node, self.values, self.scale)
        entry = self.dictionaries.fills.get(self.values.name(node, "id"))
        if entry is None:
            self.notes.add("a FillDescRef names no entry of the dictionary; the shape is taken as filled", node.offset)
            return SOLID
        if entry.fill is None:
            entry.fill = self._within(entry).fill_in(entry.node)
        return entry.fill

    def referred(self, node: Node, entries: dict[str, Entry]) -> tuple[Piece, ...]:
        """What a dictionary's entry draws, as if it stood where it is referred to."""
        entry = self._entry(node, entries, "shape")
        if entry.drawn is None:
            entry.drawn = self._within(entry).drawn_by(entry.node)
            if len(entry.drawn) > self.values.limits.shape_points:
                most = f"{self.values.limits.shape_points:,} parts (limit shape_points)"
                raise self.error(entry.node, f"a shape of more than {most}")
        return tuple(replace(piece, offset=node.offset) for piece in entry.drawn)

    def _entry(self, node: Node, entries: dict[str, Entry], what: str) -> Entry:
        name = self.values.name(node, "id")
        if name not in entries:
            raise self.error(node, f"no dictionary has the {what} {name!r}, so copper would be lost")
        return entries[name]

    def _within(self, entry: Entry) -> Draughtsman:
        """Who draws what an entry holds."""
        if not entry.scale:
            raise self.error(entry.node, "an entry of a dictionary that does not say its units")
        if self.depth >= self.values.limits.nesting:
            most = f"{self.values.limits.nesting} deep (limit nesting), or to itself"
            raise self.error(entry.node, f"a dictionary's entry refers to others more than {most}")
        return replace(self, scale=entry.scale, line=THIN, depth=self.depth + 1)

    def error(self, node: Node, message: str) -> InputError:
        """An error at an element, for the caller to raise."""
        return self.values.source.error(node.offset, message)


def _standard(own: Draughtsman, node: Node) -> tuple[Piece, ...]:
    if node.tag in DOUBTFUL:
        own.notes.add(DOUBTFUL[node.tag], node.offset)
    area = primitive(node, own.values, own.scale)
    fill = own.fill_in(node)
    line = own.border_in(node, fill)
    round_ = node.tag == "Circle" and fill.kind in ("FILL", "VOID") and not line.width
    placed = xform_of(node, own.values, own.scale, own.notes)
    if round_ and placed.is_identity:
        width = own.values.size(node, "diameter", own.scale)
    else:
        area, width = placed.area(_filled(own, node, area, line, fill)), 0.0
    return (Spot(Shape(area, width), node.offset, fill.kind != "VOID"),)


def _filled(own: Draughtsman, node: Node, area: BaseGeometry, line: Line, fill: Fill) -> BaseGeometry:
    if fill.hatches:
        own.notes.add("a hatched fill is taken to have a line through the origin of its coordinates", node.offset)
    try:
        return filled(area, line, fill)
    except ValueError as error:
        raise own.error(node, f"expected {error}") from None


def _contour(own: Draughtsman, node: Node) -> tuple[Piece, ...]:
    outer = node.child("Polygon")
    if outer is None:
        raise own.error(node, f"<{node.tag}> has no Polygon")
    return _polygon(own, outer, node.all("Cutout"))


def _polygon(own: Draughtsman, outer: Node, cutouts: list[Node] | None = None) -> tuple[Piece, ...]:
    fill = own.fill_in(outer)
    line = own.border_in(outer, fill)
    rings = tuple(_placed_path(own, ring) for ring in (outer, *(cutouts or ())))
    dark = fill.kind != "VOID"
    if fill.kind in ("FILL", "VOID") and not line.width:
        return (Area(rings, outer.offset, dark),)
    try:
        area = polygon_of(rings[0], list(rings[1:]))
    except ValueError as error:
        raise own.error(outer, f"expected {error}") from None
    return areas(_filled(own, outer, area, line, fill), outer.offset, dark)


def _placed_path(own: Draughtsman, node: Node) -> Path:
    path = Path.of(node, own.scale)
    placed = xform_of(node, own.values, own.scale, own.notes)
    return path if placed.is_identity else path.moved(placed.transform.matrix, placed.shift)


def areas(shape: BaseGeometry, offset: int, dark: bool = True) -> tuple[Piece, ...]:
    """A Polygon or MultiPolygon as filled contours."""
    return tuple(
        Area(tuple(Path.straight(shapely.get_coordinates(ring)[:-1]) for ring in (part.exterior, *part.interiors)),
             offset, dark)
        for part in shapely.get_parts(shape)
        if not part.is_empty
    )  # fmt: skip


def _polyline(own: Draughtsman, node: Node) -> tuple[Piece, ...]:
    return _stroke(own, node, Path.of(node, own.scale), own.line_in(node))


def _line(own: Draughtsman, node: Node) -> tuple[Piece, ...]:
    path = Path.straight(np.array(_ends(own, node)))
    return _stroke(own, node, path, own.line_in(node))


def _ends(own: Draughtsman, node: Node) -> list[tuple[float, float]]:
    position = own.values.position
    return [position(node, "startX", "startY", own.scale), position(node, "endX", "endY", own.scale)]


def _arc(own: Draughtsman, node: Node) -> tuple[Piece, ...]:
    centre = own.values.position(node, "centerX", "centerY", own.scale)
    if "clockwise" not in node.attributes:
        raise own.error(node, "expected true or false for clockwise of <Arc>")
    clockwise = own.values.flag(node, "clockwise")
    path = Path(np.array(_ends(own, node)), np.array([1]), np.array([centre]), np.array([clockwise]))
    return _stroke(own, node, path, own.line_in(node))


def _outline(own: Draughtsman, node: Node) -> tuple[Piece, ...]:
    """The line around a polygon, and what is in it where the polygon itself says that it is filled."""
    polygon = node.child("Polygon")
    if polygon is None:
        raise own.error(node, "<Outline> has no Polygon")
    path = _placed_path(own, polygon)
    if (path.xy[0] != path.xy[-1]).any():
        path = replace(path, xy=np.concatenate([path.xy, path.xy[:1]]))
    inside = _polygon(own, polygon) if polygon.child(*_FILL_TAGS) and own.fill_in(polygon).kind != "HOLLOW" else ()
    return (*inside, *_stroke(own, node, path, own.line_in(node)))


def _stroke(own: Draughtsman, node: Node, path: Path, line: Line) -> tuple[Piece, ...]:
    if not len(path.xy):
        raise own.error(node, f"<{node.tag}> has no points")
    if not line.width:
        own.notes.add("a line of width 0 draws no copper", node.offset)
        return ()
    if len(path.xy) == 1:
        path = Path.straight(np.repeat(path.xy, 2, axis=0))
    stroke = Stroke(path, line, node.offset, not line.erases)
    try:
        return (stroke,) if line.end == "ROUND" else _with_ends(stroke)
    except ValueError as error:
        raise own.error(node, f"expected {error}") from None


def _with_ends(stroke: Stroke) -> tuple[Piece, ...]:
    """A stroke of square or flat ends as one of round ends and what makes up the difference, so that a trace stays one.

    A square end reaches half a width further than the path, a flat one ends with it.
    """
    points = stroke.path.chords()
    points = points[np.concatenate([[True], (points[1:] != points[:-1]).any(axis=1)])]
    line = replace(stroke.line, end="ROUND")
    half = line.width / 2
    if len(points) == 1:
        dot = affinity.translate(shapely.box(-half, -half, half, half), *points[0])
        return areas(dot, stroke.offset, stroke.dark) if stroke.line.end == "SQUARE" else ()
    if (points[0] == points[-1]).all():
        return (replace(stroke, line=line),)
    steps = np.diff(points, axis=0)[[0, -1]] * ((-1,), (1,))
    length = np.hypot(*steps.T)
    outward = steps / length[:, None] * half
    across = outward[:, ::-1] * (-1, 1)
    ends = points[[0, -1]]
    flat = stroke.line.end == "NONE"
    if flat and length.min() < half * (2 if len(points) == 2 else 1):
        body = shapely.buffer(shapely.LineString(points), half, cap_style="flat", quad_segs=16)
        return areas(body, stroke.offset, stroke.dark)
    if flat:
        points[[0, -1]] = ends - outward
    inner, outer = (ends - outward, ends) if flat else (ends, ends + outward)
    caps = [
        Area((Path.straight(np.array([a - n, b - n, b + n, a + n])),), stroke.offset, stroke.dark)
        for a, b, n in zip(inner, outer, across, strict=True)
    ]
    return (Stroke(Path.straight(points), line, stroke.offset, stroke.dark), *caps)


def _text(own: Draughtsman, node: Node) -> tuple[Piece, ...]:
    said = "a text without its shape, so its copper would be lost; export text as lines or areas"
    raise own.error(node, said)


_BUILDERS: dict[str, Callable[[Draughtsman, Node], tuple[Piece, ...]]] = {
    **dict.fromkeys(PRIMITIVES, _standard),
    "Contour": _contour,
    "Polygon": _polygon,
    "Line": _line,
    "Arc": _arc,
    "Polyline": _polyline,
    "Outline": _outline,
    "Text": _text,
    "UserSpecial": Draughtsman.drawn_by,
    "StandardPrimitiveRef": lambda own, node: own.referred(node, own.dictionaries.standard),
    "UserPrimitiveRef": lambda own, node: own.referred(node, own.dictionaries.user),
}


def shape_of(pieces: tuple[Piece, ...]) -> Shape:
    """All that a feature draws as one shape. Raises ValueError for curves that cannot be."""
    if len(pieces) == 1 and isinstance(pieces[0], Spot) and pieces[0].dark:
        return pieces[0].shape
    area: BaseGeometry = Polygon()
    for piece in pieces:
        own = _area_of(piece)
        area = shapely.union(area, own) if piece.dark else shapely.difference(area, own)
    return Shape(areas_of(area))


def _area_of(piece: Piece) -> BaseGeometry:
    if isinstance(piece, Spot):
        return piece.shape.area
    if isinstance(piece, Area):
        return polygon_of(piece.rings[0], list(piece.rings[1:]))
    return drawn_out(shapely.LineString(piece.path.chords()), piece.line.width)
