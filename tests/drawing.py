"""Artworks drawn by hand, for tests of what comes after the readers."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np
import shapely

from fencepost.readers.artwork import Artwork, DrillHits, Kind, Tool
from fencepost.source import SourceFile


def round_tool(width: float, function: str = "") -> Tool:
    """A solid disc."""
    return Tool(width, shapely.Point(0, 0).buffer(width / 2), (function,) if function else ())


def box_tool(width: float, height: float, function: str = "") -> Tool:
    """A rectangle about the origin."""
    shape = shapely.box(-width / 2, -height / 2, width / 2, height / 2)
    return Tool(0.0, shape, (function,) if function else ())


@dataclass
class Drawing:
    """One layer's features, in the order in which they are drawn. Line n of its file holds feature n."""

    name: str = "drawn.gbr"
    rows: list[tuple[Kind, bool, list[tuple[float, float]], Tool | None, str, tuple[str, ...]]] = field(
        default_factory=list
    )

    def stroke(self, points, width=0.2, net="", dark=True, tool=None):
        """A path of one tool, one feature for each pair of points."""
        tool = tool or round_tool(width, "Conductor")
        for pair in itertools.pairwise(points):
            self.rows.append((Kind.STROKE, dark, list(pair), tool, net, ()))
        return self

    def flash(self, x, y, tool, net="", dark=True, pin=()):
        """One flash."""
        self.rows.append((Kind.FLASH, dark, [(x, y)], tool, net, pin))
        return self

    def fill(self, points, net="", dark=True):
        """One filled contour."""
        self.rows.append((Kind.FILL, dark, list(points), None, net, ()))
        return self

    def artwork(self) -> Artwork:
        """The columns that a reader would make of this."""
        tools = list({id(row[3]): row[3] for row in self.rows if row[3] is not None}.values())
        values = [("",)]

        def index(value: tuple[str, ...]) -> int:
            if not value or not value[0]:
                return -1
            if value not in values:
                values.append(value)
            return values.index(value)

        counts = [len(row[2]) for row in self.rows]
        identity = [id(tool) for tool in tools]

        def column(numbers: list[int]) -> np.ndarray:
            return np.array(numbers, dtype=np.int32)

        return Artwork(
            SourceFile(self.name, b"\n" * len(self.rows)),
            {},
            np.array([row[0] for row in self.rows], dtype=np.uint8),
            np.array([row[1] for row in self.rows], dtype=bool),
            np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
            np.array([point for row in self.rows for point in row[2]], dtype=float).reshape(-1, 2),
            column([identity.index(id(row[3])) if row[3] else -1 for row in self.rows]),
            column([index((row[4],)) for row in self.rows]),
            column([index(row[5]) for row in self.rows]),
            column([index(row[5][:1]) for row in self.rows]),
            column([index(row[3].function) if row[3] else -1 for row in self.rows]),
            np.arange(len(self.rows)),
            tuple(tools),
            tuple(values),
        )


def hits(places, diameter=0.3, name="drawn.drl", function="", ends=None) -> DrillHits:
    """Holes of one diameter; line n of the file holds hit n."""
    start = np.array(places, dtype=float).reshape(-1, 2)
    count = len(start)
    none = np.full(count, -1, dtype=np.int32)
    return DrillHits(
        SourceFile(name, b"\n" * count),
        {},
        start,
        start if ends is None else np.array(ends, dtype=float).reshape(-1, 2),
        np.full(count, diameter),
        np.zeros(count, dtype=np.int32) if function else none,
        none,
        none,
        np.arange(count),
        ((function,),) if function else (),
    )
