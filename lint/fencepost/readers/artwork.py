"""What a reader makes of one file: columns of features, in drawing order.

A feature is one stroke, one flash or one filled contour. Nothing here knows of layers or nets of a board; a
feature carries the attributes that its file gave it, as indices into tables.
"""

from __future__ import annotations

from dataclasses import field
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.frozen import dataclass
from fencepost.source import Location, SourceFile

SAGITTA_MM = 0.001
"""Largest distance between an arc and the chords that stand for it. The design asks for 5 µm or better."""

Attributes = dict[str, tuple[str, ...]]
"""Attribute name with its leading dot, as in ".FileFunction", to its fields."""


class Kind(IntEnum):
    """STROKE: a path drawn with a tool. FLASH: a tool at one point. FILL: a filled closed contour."""

    STROKE = 0
    FLASH = 1
    FILL = 2


@dataclass(frozen=True)
class Tool:
    """What draws: an aperture after mirroring, rotation and scaling.

    `width` is the diameter where the tool is a solid round disc (so that a stroke is a line with round ends), else 0.
    `shape` is its outline about the origin: a Polygon or MultiPolygon, empty for a tool of no size. `function` is the
    aperture function with its fields, as in ("ViaPad",), empty where there is none.
    """

    width: float
    shape: BaseGeometry
    function: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Artwork:
    """The image of one file. n features, m points, k entries in `values`. Lengths in mm.

    kind      uint8 (n)      a `Kind`
    dark      bool (n)       False: the feature clears what was drawn before it
    first     int64 (n + 1)  feature i has the points xy[first[i]:first[i + 1]]
    xy        float64 (m, 2) flash: 1 point; stroke: 2 or more (an arc is its chords); fill: a ring, its first point not
                             repeated at the end, and then the rings of holes in it (see `rings`)
    tool      int32 (n)      index into `tools`, -1 for fills
    net       int32 (n)      index into `values`, -1 for none: the net name (several fields: several names)
    pin       int32 (n)      likewise: (component, pin) or (component, pin, function)
    component int32 (n)      likewise: (component,)
    function  int32 (n)      likewise: the aperture function with its fields, as ("Conductor",); fills have it too
    offset    int64 (n)      byte offset in the file of the operation that made the feature
    """

    source: SourceFile
    attributes: Attributes
    kind: NDArray[np.uint8]
    dark: NDArray[np.bool_]
    first: NDArray[np.int64]
    xy: NDArray[np.float64]
    tool: NDArray[np.int32]
    net: NDArray[np.int32]
    pin: NDArray[np.int32]
    component: NDArray[np.int32]
    function: NDArray[np.int32]
    offset: NDArray[np.int64]
    tools: tuple[Tool, ...]
    values: tuple[tuple[str, ...], ...]
    component_attributes: dict[str, Attributes] = field(default_factory=dict)
    """Component name to what X3 says of it: ".CFtp", ".CVal", ".CMnt", ".CRot" and so on."""
    rings: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    """Rows of `xy` at which a further ring of a fill begins, a hole in it; ascending. Gerber has none: it cuts in."""

    def __len__(self) -> int:
        return len(self.kind)

    def points(self, feature: int) -> NDArray[np.float64]:
        """The points of one feature, (k, 2)."""
        return self.xy[self.first[feature] : self.first[feature + 1]]

    def location(self, feature: int) -> Location:
        """Line and column of the operation that made a feature."""
        return self.source.locate(int(self.offset[feature]))


@dataclass(frozen=True, eq=False)
class DrillHits:
    """The holes of one drill file, in mm. n hits; a round hole starts and ends at one point, a slot does not.

    start, end  float64 (n, 2)
    diameter    float64 (n)    as the file gives it: the finished diameter
    function    int32 (n)      index into `values`: the tool's aperture function, as ("ViaDrill",); -1 for none
    net         int32 (n)      index into `values`, -1 for none
    pin         int32 (n)      likewise
    offset      int64 (n)      byte offset of the hit
    """

    source: SourceFile
    attributes: Attributes
    start: NDArray[np.float64]
    end: NDArray[np.float64]
    diameter: NDArray[np.float64]
    function: NDArray[np.int32]
    net: NDArray[np.int32]
    pin: NDArray[np.int32]
    offset: NDArray[np.int64]
    values: tuple[tuple[str, ...], ...]

    def __len__(self) -> int:
        return len(self.diameter)

    def location(self, hit: int) -> Location:
        """Line and column of a hit."""
        return self.source.locate(int(self.offset[hit]))
