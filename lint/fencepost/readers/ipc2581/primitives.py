"""The standard primitives as areas about their origins.

Sizes as the schemas A to C name them. What the names leave open is taken from memory of the standard's figures and said
in a note where copper depends on it (`DOUBTFUL`).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from fencepost.readers.gerber.apertures import disc, rectangle
from fencepost.readers.ipc2581.document import Node
from fencepost.readers.ipc2581.values import Values

DOUBTFUL = {
    "Butterfly": "a Butterfly is taken to fill its upper right and lower left quarter",
    "Hexagon": "the length of a Hexagon is taken from corner to corner, with a corner on the x axis",
    "Octagon": "the length of an Octagon is taken from side to side, with sides parallel to the axes",
    "Triangle": "a Triangle is taken to stand on its base, its origin at half its height",
    "Thermal": "a Thermal is taken as a ring with gaps of the spokes' width, the first one at the start angle",
}
"""What the schemas do not say, and how it is taken."""

_MOST_RINGS = 1000
_CORNERS = ("upperRight", "upperLeft", "lowerLeft", "lowerRight")
_SIGNS = ((1, 1), (-1, 1), (-1, -1), (1, -1))


def primitive(node: Node, values: Values, scale: float) -> BaseGeometry:
    """The area of a standard primitive other than Contour, filled whole; empty where a size is 0.

    Raises InputError for sizes that are missing, negative or out of reach. `scale` is the file's unit in mm.
    """
    return PRIMITIVES[node.tag](_Sizes(node, values, scale))


class _Sizes:
    """The attributes of one primitive."""

    def __init__(self, node: Node, values: Values, scale: float) -> None:
        self.node = node
        self.values = values
        self.scale = scale

    def __call__(self, key: str, default: float | None = None) -> float:
        return self.values.size(self.node, key, self.scale, default)

    def has(self, key: str) -> bool:
        return key in self.node.attributes

    def degrees(self, key: str) -> float:
        return self.values.number(self.node, key, 0.0)

    def count(self, key: str, default: int, most: int) -> int:
        number = self.values.number(self.node, key, float(default))
        if number != int(number) or not 0 <= number <= most:
            said = f"expected a whole number from 0 to {most} for {key} of <{self.node.tag}>"
            raise self.values.source.error(self.node.offset, said)
        return int(number)

    def form(self, *known: str) -> str:
        word = self.values.word(self.node, "shape", known[0])
        if word not in known:
            said = f"expected one of {', '.join(known)} for shape of <{self.node.tag}>, not {word!r}"
            raise self.values.source.error(self.node.offset, said)
        return word

    def corners(self) -> tuple[bool, ...]:
        """Which corners are rounded or cut, counterclockwise from the upper right; all where none is named."""
        if not any(self.has(key) for key in _CORNERS):
            return (True,) * 4
        return tuple(self.values.flag(self.node, key) for key in _CORNERS)


def _butterfly(size: _Sizes) -> BaseGeometry:
    round_ = size.form("ROUND", "SQUARE") == "ROUND"
    length = size("diameter" if round_ or not size.has("side") else "side")
    whole = disc(length) if round_ else rectangle(length, length)
    half = length / 2
    return shapely.intersection(
        whole, shapely.multipolygons([shapely.box(0, 0, half, half), shapely.box(-half, -half, 0, 0)])
    )


def _circle(size: _Sizes) -> BaseGeometry:
    return disc(size("diameter"))


def _diamond(size: _Sizes) -> BaseGeometry:
    x, y = size("width") / 2, size("height") / 2
    return Polygon([(x, 0), (0, y), (-x, 0), (0, -y)]) if x and y else Polygon()


def _donut(size: _Sizes) -> BaseGeometry:
    return _ring(size, size.form("ROUND", "SQUARE", "HEXAGON", "OCTAGON"))


def _ring(size: _Sizes, form: str) -> BaseGeometry:
    outer, inner = size("outerDiameter"), size("innerDiameter")
    if inner > outer:
        raise size.values.source.error(size.node.offset, f"the inner diameter of <{size.node.tag}> exceeds the outer")
    build: dict[str, Callable[[float], BaseGeometry]] = {
        "ROUND": disc,
        "SQUARE": lambda length: rectangle(length, length),
        "HEXAGON": _regular_hexagon,
        "OCTAGON": _regular_octagon,
    }
    return shapely.difference(build[form](outer), build[form](inner))


def _ellipse(size: _Sizes) -> BaseGeometry:
    width, height = size("width"), size("height")
    longer = max(width, height)
    if not min(width, height):
        return Polygon()
    return affinity.scale(disc(longer), width / longer, height / longer, origin=(0, 0))


def _hexagon(size: _Sizes) -> BaseGeometry:
    return _regular_hexagon(size("length"))


def _regular_hexagon(length: float) -> BaseGeometry:
    angle = np.arange(6) * (math.pi / 3)
    return Polygon(length / 2 * np.stack([np.cos(angle), np.sin(angle)], axis=1)) if length else Polygon()


def _moire(size: _Sizes) -> BaseGeometry:
    outer, ring, gap = size("diameter"), size("ringWidth"), size("ringGap")
    rings = []
    for _ in range(size.count("ringNumber", 0, _MOST_RINGS)):
        if outer <= 0:
            break
        rings.append(shapely.difference(disc(outer), disc(outer - 2 * ring)))
        outer -= 2 * (ring + gap)
    bar = rectangle(size("lineLength", 0.0), size("lineWidth", 0.0))
    cross = [affinity.rotate(bar, size.degrees("lineAngle") + turn, origin=(0, 0)) for turn in (0, 90)]
    return shapely.union_all([*rings, *cross])


def _octagon(size: _Sizes) -> BaseGeometry:
    return _regular_octagon(size("length"))


def _regular_octagon(length: float) -> BaseGeometry:
    angle = np.arange(8) * (math.pi / 4) + math.pi / 8
    radius = length / 2 / math.cos(math.pi / 8)
    return Polygon(radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)) if length else Polygon()


def _oval(size: _Sizes) -> BaseGeometry:
    return _rounded(size("width"), size("height"), min(size("width"), size("height")) / 2, (True,) * 4)


def _rect_center(size: _Sizes) -> BaseGeometry:
    return rectangle(size("width"), size("height"))


def _rect_cham(size: _Sizes) -> BaseGeometry:
    width, height = size("width"), size("height")
    cut = min(size("chamfer"), width / 2, height / 2)
    if not width or not height:
        return Polygon()
    corners: list[tuple[float, float]] = []
    for (x, y), is_cut in zip(_SIGNS, size.corners(), strict=True):
        side, end = (x * width / 2, y * (height / 2 - cut)), (x * (width / 2 - cut), y * height / 2)
        if is_cut:
            corners += [side, end] if x == y else [end, side]
        else:
            corners.append((x * width / 2, y * height / 2))
    return Polygon(corners)


def _rect_corner(size: _Sizes) -> BaseGeometry:
    position = size.values.position
    left, bottom = position(size.node, "lowerLeftX", "lowerLeftY", size.scale)
    right, top = position(size.node, "upperRightX", "upperRightY", size.scale)
    return shapely.box(left, bottom, right, top) if right > left and top > bottom else Polygon()


def _rect_round(size: _Sizes) -> BaseGeometry:
    return _rounded(size("width"), size("height"), size("radius"), size.corners())


def _rounded(width: float, height: float, radius: float, corners: tuple[bool, ...]) -> BaseGeometry:
    """A rectangle about the origin: the hull of a disc in each rounded corner and a point in each other one."""
    if not width or not height:
        return Polygon()
    radius = min(radius, width / 2, height / 2)
    parts = [
        affinity.translate(disc(2 * radius), x * (width / 2 - radius), y * (height / 2 - radius))
        if rounded and radius > 0
        else shapely.Point(x * width / 2, y * height / 2)
        for (x, y), rounded in zip(_SIGNS, corners, strict=True)
    ]
    return shapely.convex_hull(shapely.geometrycollections(parts))


def _thermal(size: _Sizes) -> BaseGeometry:
    ring = _ring(size, size.form("ROUND", "SQUARE", "HEXAGON", "OCTAGON"))
    spokes = size.count("spokeCount", 4, 4)
    width = size("spokeWidth" if size.has("spokeWidth") else "gap", 0.0)
    reach = size("outerDiameter")
    gaps = [
        affinity.rotate(
            shapely.box(0, -width / 2, reach, width / 2), size.degrees("spokeStartAngle") + i * 360 / spokes, (0, 0)
        )
        for i in range(spokes)
    ]
    return shapely.difference(ring, shapely.union_all(gaps)) if gaps and width else ring


def _triangle(size: _Sizes) -> BaseGeometry:
    x, y = size("base") / 2, size("height") / 2
    return Polygon([(-x, -y), (x, -y), (0, y)]) if x and y else Polygon()


PRIMITIVES: dict[str, Callable[[_Sizes], BaseGeometry]] = {
    "Butterfly": _butterfly,
    "Circle": _circle,
    "Diamond": _diamond,
    "Donut": _donut,
    "Ellipse": _ellipse,
    "Hexagon": _hexagon,
    "Moire": _moire,
    "Octagon": _octagon,
    "Oval": _oval,
    "RectCenter": _rect_center,
    "RectCham": _rect_cham,
    "RectCorner": _rect_corner,
    "RectRound": _rect_round,
    "Thermal": _thermal,
    "Triangle": _triangle,
}
"""All but Contour, by their tags."""
