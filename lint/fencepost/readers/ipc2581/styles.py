"""LineDesc and FillDesc: how lines end, how areas are filled, inline or from a dictionary."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from fencepost.frozen import dataclass
from fencepost.readers.ipc2581.document import Node
from fencepost.readers.ipc2581.paths import areas_of, drawn_out
from fencepost.readers.ipc2581.values import Values

ENDS = ("ROUND", "SQUARE", "NONE")
FILLS = ("FILL", "HOLLOW", "VOID", "HATCH", "MESH")
_MOST_HATCHES = 100_000


@dataclass(frozen=True)
class Line:
    """`width` in mm; `end` is one of ENDS. `erases`: takes copper away."""

    width: float
    end: str = "ROUND"
    erases: bool = False


@dataclass(frozen=True)
class Fill:
    """`kind` is one of FILLS; the rest is for hatched ones: width and pitch of the lines in mm, angles in degrees."""

    kind: str = "FILL"
    width: float = 0.0
    hatches: tuple[tuple[float, float], ...] = ()
    """(pitch, angle) of each family of parallel lines."""


SOLID = Fill()
THIN = Line(0.0)


def line_of(node: Node, values: Values, scale: float) -> Line:
    """A LineDesc. Raises InputError where its width is missing or its end is unknown."""
    end = values.word(node, "lineEnd", "ROUND")
    if end not in ENDS:
        raise values.source.error(node.offset, f"expected one of {', '.join(ENDS)} for lineEnd, not {end!r}")
    return Line(values.size(node, "lineWidth", scale), end, values.word(node, "lineProperty") == "ERASE")


def fill_of(node: Node, values: Values, scale: float) -> Fill:
    """A FillDesc. Raises InputError for an unknown fill, or a hatching without width or pitch."""
    kind = values.word(node, "fillProperty", "FILL")
    if kind not in FILLS:
        raise values.source.error(node.offset, f"expected one of {', '.join(FILLS)} for fillProperty, not {kind!r}")
    if kind not in ("HATCH", "MESH"):
        return Fill(kind)
    families = ("1",) if kind == "HATCH" else ("1", "2")
    hatches = tuple(
        (
            values.size(node, f"pitch{i}", scale, values.size(node, "pitch1", scale)),
            values.number(node, f"angle{i}", 90.0 * (i == "2")),
        )
        for i in families
    )
    width = values.size(node, "lineWidth", scale)
    if not width or not all(pitch for pitch, _ in hatches):
        raise values.source.error(node.offset, "a hatched fill needs a lineWidth and a pitch above 0")
    return Fill(kind, width, hatches)


def filled(area: BaseGeometry, line: Line, fill: Fill) -> BaseGeometry:
    """What is drawn of an area: its border with the line, and within it what the fill says. VOID counts as filled.

    Raises ValueError for a hatching of too many lines.
    """
    border = drawn_out(shapely.boundary(area), line.width) if line.width else None
    if fill.kind == "HOLLOW":
        inside: BaseGeometry = shapely.Polygon()
    elif fill.hatches:
        inside = areas_of(shapely.intersection(area, _hatching(area, fill)))
    else:
        inside = area
    return inside if border is None else shapely.union(inside, border)


def _hatching(area: BaseGeometry, fill: Fill) -> BaseGeometry:
    """Bands over the whole of an area, one family of them through the origin of coordinates."""
    bands = []
    for pitch, degrees in fill.hatches:
        turned = affinity.rotate(area, -degrees, origin=(0, 0))
        left, bottom, right, top = turned.bounds
        steps = np.arange(np.floor(bottom / pitch), np.ceil(top / pitch) + 1)
        if len(steps) > _MOST_HATCHES:
            raise ValueError(f"a hatching of at most {_MOST_HATCHES} lines")
        half = fill.width / 2
        straight = shapely.union_all(shapely.box(left, steps * pitch - half, right, steps * pitch + half))
        bands.append(affinity.rotate(straight, degrees, origin=(0, 0)))
    return shapely.union_all(bands)
