"""Aperture macros: variables, expressions and primitives, to a shape in mm."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import shapely
from lark import Token, Tree
from shapely import affinity
from shapely.geometry import GeometryCollection, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from fencepost.frozen import dataclass
from fencepost.limits import DEFAULT_LIMITS, Deadline, Limits
from fencepost.meeting import TooManyMeet, check_crossings, sides
from fencepost.readers.gerber.apertures import disc, rectangle, regular_polygon
from fencepost.readers.gerber.syntax import Statement, number_in, offset_of, whole_number_in
from fencepost.source import SourceFile

_MOST_RINGS = 100
_SAME_POINT = 1e-6


Macro = tuple[Statement, ...]
"""The body of an AM command: definitions of variables and primitives, in order."""


@dataclass(frozen=True, eq=False)
class _Primitive:
    """A primitive's shape in mm, before its rotation about the macro's origin; `exposed` False takes copper away.

    The parts of a shape may overlap: they are joined once their points have been counted.
    """

    exposed: bool
    shape: BaseGeometry
    degrees: float


def macro_aperture(
    source: SourceFile, macro: Macro, parameters: Sequence[float], unit_mm: float, limits: Limits
) -> tuple[BaseGeometry, float]:
    """Shape and width (see `Tool`) of a macro called with parameters in the file's unit.

    Raises InputError, at the place in the macro, for a variable without a value, a division by zero and parameters
    that a primitive does not allow.
    """
    variables = dict(enumerate(parameters, 1))
    drawing = _Drawing()
    deadline = Deadline(limits)
    primitives = 0
    width = 0.0
    points = 0
    for statement in macro:
        assert isinstance(statement, Tree)
        head, *expressions = statement.children
        assert isinstance(head, Token)
        values = [_value(source, expression, variables, limits) for expression in expressions]
        if statement.data == "definition":
            variables[whole_number_in(source, head, limits)] = values[0]
            continue
        if not all(math.isfinite(value) and abs(value) * unit_mm <= limits.reach for value in values):
            raise source.error(offset_of(head), f"expected values within {limits.reach:g} mm (limit reach)")
        _check_points(source, head, points + len(values) // 2, limits)
        try:
            primitive = _BUILDERS[head.type](values, unit_mm)
        except ValueError as error:
            raise source.error(offset_of(head), f"expected {error}") from None
        points += int(shapely.get_num_coordinates(primitive.shape))
        _check_points(source, head, points, limits)
        if late := deadline.passed():
            raise source.error(offset_of(head), f"reading {late}")
        points += drawing.add(primitive)
        primitives += 1
        width = values[1] * unit_mm if _is_centred_disc(head, values) and primitives == 1 else 0.0
    return _areas(drawing.shape()), width


def _check_points(source: SourceFile, head: Token, points: int, limits: Limits) -> None:
    if points > limits.shape_points:
        raise source.error(offset_of(head), f"expected at most {limits.shape_points} points (limit shape_points)")


class _Drawing:
    """Primitives on one another. Those of one exposure in a row are joined at once: one by one it would take long."""

    def __init__(self) -> None:
        self._done: BaseGeometry = Polygon()
        self._exposed = True
        self._waiting: list[BaseGeometry] = []

    def add(self, primitive: _Primitive) -> int:
        """The next primitive, over those before. How many points had to be worked on anew for it."""
        points = 0
        if primitive.exposed != self._exposed:
            self._done, self._exposed = self.shape(), primitive.exposed
            self._waiting.clear()
            points = int(shapely.get_num_coordinates(self._done))
        self._waiting.append(affinity.rotate(shapely.union_all(primitive.shape), primitive.degrees, origin=(0, 0)))
        return points

    def shape(self) -> BaseGeometry:
        """All of them so far."""
        own = shapely.union_all(self._waiting)
        return shapely.union(self._done, own) if self._exposed else shapely.difference(self._done, own)


def _is_centred_disc(head: Token, values: Sequence[float]) -> bool:
    return head.type == "CIRCLE" and values[0] == 1 and values[2] == 0 and values[3] == 0


def _areas(shape: BaseGeometry) -> BaseGeometry:
    """The areas of a shape, without lines and points that may be left of them."""
    if shape.geom_type in ("Polygon", "MultiPolygon"):
        return shape
    return MultiPolygon([part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"])


# Expressions


def _value(source: SourceFile, expression: Statement, variables: dict[int, float], limits: Limits) -> float:
    """An expression's value. It is walked with a stack, as its depth is the file's to choose."""
    waiting: list[tuple[Statement, bool]] = [(expression, False)]
    values: list[float] = []
    while waiting:
        node, operands_done = waiting.pop()
        if isinstance(node, Token):
            values.append(_operand(source, node, variables, limits))
        elif operands_done:
            values.append(_applied(source, node, values))
        else:
            waiting.append((node, True))
            waiting.extend((child, False) for child in reversed(node.children) if not _is_slash(child))
        if len(values) > limits.expression_depth:
            message = f"expected at most {limits.expression_depth} nested operands (limit expression_depth)"
            raise source.error(offset_of(expression), message)
    return values[0]


def _operand(source: SourceFile, token: Token, variables: dict[int, float], limits: Limits) -> float:
    if token.type == "NUMBER":
        return number_in(source, token, limits)
    try:
        return variables[whole_number_in(source, token, limits)]
    except KeyError:
        raise source.error(offset_of(token), f"expected a value for {token}; the aperture gives none") from None


def _applied(source: SourceFile, node: Tree[Token], values: list[float]) -> float:
    """The result of an operator on the operands at the end of `values`, which it removes."""
    right = values.pop()
    if node.data == "negate":
        return -right
    left = values.pop()
    if node.data == "add":
        return left + right
    if node.data == "subtract":
        return left - right
    if node.data == "multiply":
        return left * right
    if right == 0:
        slash = next(child for child in node.children if _is_slash(child))
        raise source.error(offset_of(slash), "expected a divisor other than 0")
    return left / right


def _is_slash(node: Statement) -> bool:
    return isinstance(node, Token) and node.type == "SLASH"


# Primitives: values as the specification lists them, lengths in the file's unit


def _circle(values: Sequence[float], mm: float) -> _Primitive:
    exposure, diameter, x, y, *degrees = values
    return _Primitive(_exposed(exposure), _at(disc(_size(diameter) * mm), x * mm, y * mm), *(degrees or [0.0]))


def _vector_line(values: Sequence[float], mm: float) -> _Primitive:
    exposure, width, x0, y0, x1, y1, degrees = values
    line = rectangle(math.hypot(x1 - x0, y1 - y0) * mm, _size(width) * mm)
    along = affinity.rotate(line, math.atan2(y1 - y0, x1 - x0), origin=(0, 0), use_radians=True)
    return _Primitive(_exposed(exposure), _at(along, (x0 + x1) / 2 * mm, (y0 + y1) / 2 * mm), degrees)


def _centre_line(values: Sequence[float], mm: float) -> _Primitive:
    exposure, width, height, x, y, degrees = values
    shape = rectangle(_size(width) * mm, _size(height) * mm)
    return _Primitive(_exposed(exposure), _at(shape, x * mm, y * mm), degrees)


def _corner_line(values: Sequence[float], mm: float) -> _Primitive:
    exposure, width, height, x, y, degrees = values
    return _centre_line((exposure, width, height, x + width / 2, y + height / 2, degrees), mm)


def _outline(values: Sequence[float], mm: float) -> _Primitive:
    if len(values) < 3:
        raise ValueError("exposure, number of vertices, points and rotation for an outline")
    exposure, vertices, *points, degrees = values
    if vertices < 3 or vertices != int(vertices):
        raise ValueError(f"a whole number of 3 or more vertices, not {vertices:g}")
    if len(points) != 2 * (vertices + 1):
        raise ValueError(f"{int(vertices) + 1} points for {int(vertices)} vertices, not {len(points) / 2:g}")
    ring = np.array(points).reshape(-1, 2)
    if np.abs(ring[0] - ring[-1]).max() > _SAME_POINT:
        raise ValueError("an outline that ends where it began")
    polygon: BaseGeometry = Polygon(ring * mm)
    if not polygon.is_valid:
        try:
            check_crossings(sides(ring), DEFAULT_LIMITS.crossings)
        except TooManyMeet as error:
            raise ValueError(f"an outline that does not cross itself; it has {error}") from None
        polygon = shapely.make_valid(polygon)
    return _Primitive(_exposed(exposure), polygon, degrees)


def _polygon(values: Sequence[float], mm: float) -> _Primitive:
    exposure, vertices, x, y, diameter, degrees = values
    return _Primitive(_exposed(exposure), _at(regular_polygon(_size(diameter) * mm, vertices), x * mm, y * mm), degrees)


def _moire(values: Sequence[float], mm: float) -> _Primitive:
    x, y, outer, thickness, gap, rings, cross_thickness, cross_length, degrees = values
    pitch = 2 * (_size(thickness) + _size(gap))
    if rings < 0 or rings != int(rings) or rings > _MOST_RINGS:
        raise ValueError(f"a whole number of rings from 0 to {_MOST_RINGS}, not {rings:g}")
    shapes = [
        rectangle(_size(cross_length) * mm, _size(cross_thickness) * mm),
        rectangle(cross_thickness * mm, cross_length * mm),
    ]
    for ring in range(int(rings)):
        diameter = outer - ring * pitch
        if diameter <= 0:
            break
        shapes.append(shapely.difference(disc(diameter * mm), disc((diameter - 2 * thickness) * mm)))
    return _Primitive(True, _at(GeometryCollection(shapes), x * mm, y * mm), degrees)


def _thermal(values: Sequence[float], mm: float) -> _Primitive:
    x, y, outer, inner, gap, degrees = values
    if not outer > _size(inner):
        raise ValueError("an outer diameter above the inner one")
    gaps = [rectangle(2 * outer * mm, _size(gap) * mm), rectangle(gap * mm, 2 * outer * mm)]
    shape = shapely.difference(disc(outer * mm), shapely.union_all([disc(inner * mm), *gaps]))
    return _Primitive(True, _at(shape, x * mm, y * mm), degrees)


_BUILDERS: dict[str, Callable[[Sequence[float], float], _Primitive]] = {
    "CIRCLE": _circle,
    "VECTOR_LINE": _vector_line,
    "CENTRE_LINE": _centre_line,
    "CORNER_LINE": _corner_line,
    "OUTLINE": _outline,
    "POLYGON": _polygon,
    "MOIRE": _moire,
    "THERMAL": _thermal,
}


def _exposed(exposure: float) -> bool:
    if exposure not in (0, 1):
        raise ValueError(f"an exposure of 0 or 1, not {exposure:g}")
    return exposure == 1


def _size(value: float) -> float:
    if value < 0:
        raise ValueError(f"a size of 0 or more, not {value:g}")
    return value


def _at(shape: BaseGeometry, x: float, y: float) -> BaseGeometry:
    return affinity.translate(shape, x, y)
