"""Apertures: the standard templates C, R, O and P, and the table of tools that drawing with them needs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from fencepost.frozen import dataclass
from fencepost.readers.artwork import SAGITTA_MM, Tool
from fencepost.readers.gerber.transform import Transform

STANDARD = {"C": (1, 3), "R": (2, 4), "O": (2, 4), "P": (2, 5)}
"""Name of each standard template, with the fewest and the most parameters; the last one or two are a hole's."""

_VERTICES = range(3, 13)
_FEWEST_CORNERS_A_QUARTER = 4


@dataclass(frozen=True, eq=False)
class Aperture:
    """What one D code stands for: a shape in mm as `Tool` has it, or a block aperture's number."""

    number: int
    shape: BaseGeometry
    width: float = 0.0
    function: tuple[str, ...] = ()
    block: int | None = None


@dataclass
class ToolTable:
    """Apertures with the transforms that they are used with; an index is what a feature's `tool` holds."""

    reach_mm: float
    entries: list[tuple[Aperture, Transform]] = field(default_factory=list)
    _index: dict[tuple[int, Transform], int] = field(default_factory=dict)

    def index(self, aperture: Aperture, transform: Transform) -> int:
        """The index of an aperture under a transform, which for a round disc is its scale alone.

        Raises ValueError, its text what was expected, where the scale makes it too large.
        """
        if aperture.width and aperture.block is None:
            transform = Transform(scale=transform.scale)
        key = (aperture.number, transform)
        if key not in self._index:
            if transform.scale > self.reach_mm / max(np.abs(np.nan_to_num(aperture.shape.bounds)).max(), 1.0):
                raise ValueError(f"an aperture within {self.reach_mm:g} mm after scaling (limit reach)")
            self._index[key] = len(self.entries)
            self.entries.append((aperture, transform))
        return self._index[key]

    def tools(self, indices: NDArray[np.integer]) -> tuple[Tool, ...]:
        """The tools of some entries, none of them a block."""
        return tuple(_transformed(*self.entries[index]) for index in indices)


def standard_aperture(
    name: str, parameters: Sequence[float], unit_mm: float, reach_mm: float
) -> tuple[BaseGeometry, float]:
    """Shape and width (see `Tool`) of a standard template with parameters in the file's unit.

    Raises ValueError, its text what was expected, for parameters that the template does not allow. Two hole parameters
    are the deprecated rectangular hole.
    """
    fewest, most = STANDARD[name]
    if not fewest <= len(parameters) <= most:
        raise ValueError(f"from {fewest} to {most} parameters for {name}, not {len(parameters)}")
    plain = 3 if name == "P" else fewest
    body = [value * unit_mm for value in parameters[: 1 if name == "P" else plain]]
    hole = [value * unit_mm for value in parameters[plain:]]
    if min(body + hole) < 0 or max(body + hole) > reach_mm:
        raise ValueError(f"sizes from 0 to {reach_mm:g} mm for {name}")
    width = 0.0
    if name == "P":
        shape: BaseGeometry = regular_polygon(body[0], *parameters[1:3])
    elif name == "R":
        shape = rectangle(body[0], body[1])
    elif name == "O" and body[0] != body[1]:
        shape = _obround(body[0], body[1])
    else:
        shape = disc(body[0])
        width = 0.0 if hole else body[0]
    if hole:
        shape = shapely.difference(shape, disc(hole[0]) if len(hole) == 1 else rectangle(hole[0], hole[1]))
    return shape, width


def disc(diameter: float) -> Polygon:
    """A round disc about the origin as a polygon within SAGITTA_MM, its corners on the circle; empty for diameter 0."""
    if diameter <= 0:
        return Polygon()
    quarter = _corners_a_quarter(diameter / 2)
    angle = np.arange(4 * quarter) * (math.pi / 2 / quarter)
    return Polygon(diameter / 2 * np.stack([np.cos(angle), np.sin(angle)], axis=1))


def rectangle(width: float, height: float) -> Polygon:
    """A rectangle about the origin, empty where a side is 0."""
    return Polygon() if width <= 0 or height <= 0 else shapely.box(-width / 2, -height / 2, width / 2, height / 2)


def regular_polygon(diameter: float, vertices: float, degrees: float = 0.0) -> Polygon:
    """A regular polygon in a circle about the origin; one corner at `degrees` counterclockwise from the x axis."""
    if vertices not in _VERTICES:
        raise ValueError(f"from {_VERTICES.start} to {_VERTICES.stop - 1} vertices, not {vertices:g}")
    if diameter <= 0:
        return Polygon()
    angle = np.arange(int(vertices)) * (2 * math.pi / vertices) + math.radians(degrees)
    return Polygon(diameter / 2 * np.stack([np.cos(angle), np.sin(angle)], axis=1))


def _obround(width: float, height: float) -> Polygon:
    """A rectangle whose shorter sides are half circles; empty where a side is 0."""
    if width <= 0 or height <= 0:
        return Polygon()
    radius = min(width, height) / 2
    along = max(width, height) / 2 - radius
    half = 2 * _corners_a_quarter(radius)
    angle = np.arange(half + 1) * (math.pi / half) - math.pi / 2
    cap = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1) + (along, 0)
    ring = np.concatenate([cap, -cap])
    return Polygon(ring if width >= height else ring[:, ::-1] * (-1, 1))


def _corners_a_quarter(radius: float) -> int:
    step = 4 * math.asin(math.sqrt(min(SAGITTA_MM / (2 * radius), 0.5)))
    return max(math.ceil(math.pi / 2 / step), _FEWEST_CORNERS_A_QUARTER)


def _transformed(aperture: Aperture, transform: Transform) -> Tool:
    if transform == Transform():
        return Tool(aperture.width, aperture.shape, aperture.function)
    if aperture.width:
        width = aperture.width * transform.scale
        return Tool(width, disc(width), aperture.function)
    (a, b), (c, d) = transform.matrix.tolist()
    return Tool(0.0, affinity.affine_transform(aperture.shape, (a, b, c, d, 0.0, 0.0)), aperture.function)
