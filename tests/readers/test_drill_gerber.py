"""Gerber drill files: round flashes are holes, strokes are slots, and nothing else is drilled.

Source: Ucamco, The Gerber Layer Format Specification, on drill and rout files.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fencepost.errors import InputError
from fencepost.readers.artwork import Artwork, Kind, Tool
from fencepost.readers.drill.gerber import hits_from_artwork
from fencepost.source import SourceFile

ROUND = Tool(0.3, shapely.Point(0, 0).buffer(0.15))
WIDE = Tool(1.0, shapely.Point(0, 0).buffer(0.5))
SQUARE = Tool(0.0, shapely.box(-1, -1, 1, 1))


def artwork(*features: tuple[Kind, list[tuple[float, float]], int], dark: bool = True) -> Artwork:
    """Features of a kind, with points and a tool, on lines of their own."""
    count = len(features)
    numbers = np.arange(count, dtype=np.int32)
    none = np.full(count, -1, dtype=np.int32)
    return Artwork(
        source=SourceFile("fab/a-drl.gbr", b"line\n" * count),
        attributes={".FileFunction": ("Plated", "1", "4", "PTH")},
        kind=np.array([kind for kind, _, _ in features], dtype=np.uint8),
        dark=np.full(count, dark),
        first=np.cumsum([0] + [len(points) for _, points, _ in features]).astype(np.int64),
        xy=np.array([point for _, points, _ in features for point in points], dtype=float).reshape(-1, 2),
        tool=np.array([tool for _, _, tool in features], dtype=np.int32),
        net=numbers,
        pin=none,
        component=none,
        function=np.minimum(numbers, 1).astype(np.int32),
        offset=(5 * np.arange(count)).astype(np.int64),
        tools=(ROUND, WIDE, SQUARE),
        values=(("ViaDrill",), ("ComponentDrill",), ("GND",)),
    )


def test_flashes_are_holes_and_every_segment_of_a_stroke_is_a_slot() -> None:
    hits = hits_from_artwork(
        artwork(
            (Kind.FLASH, [(1, 2)], 0),
            (Kind.STROKE, [(0, 0), (3, 0)], 1),
            (Kind.STROKE, [(5, 5), (6, 5), (6, 7), (5, 7)], 0),
            (Kind.FLASH, [(9, 9)], 1),
        )
    )
    assert hits.start.tolist() == [[1, 2], [0, 0], [5, 5], [6, 5], [6, 7], [9, 9]]
    assert hits.end.tolist() == [[1, 2], [3, 0], [6, 5], [6, 7], [5, 7], [9, 9]]
    assert hits.diameter.tolist() == [0.3, 1.0, 0.3, 0.3, 0.3, 1.0]
    assert hits.function.tolist() == [0, 1, 1, 1, 1, 1]
    assert hits.net.tolist() == [0, 1, 2, 2, 2, 3]
    assert [hits.location(i).line for i in range(len(hits))] == [1, 2, 3, 3, 3, 4]
    assert hits.attributes == {".FileFunction": ("Plated", "1", "4", "PTH")}


def test_a_file_without_features_has_no_holes() -> None:
    assert len(hits_from_artwork(artwork())) == 0


@pytest.mark.parametrize(
    ("feature", "message"),
    [
        ((Kind.FILL, [(0, 0), (1, 0), (1, 1)], -1), "a filled contour is no drilled hole"),
        ((Kind.FLASH, [(0, 0)], 2), "not a solid round disc"),
        ((Kind.STROKE, [(0, 0), (1, 0)], 2), "not a solid round disc"),
    ],
)
def test_what_no_drill_makes_is_an_error(feature: tuple[Kind, list[tuple[float, float]], int], message: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        hits_from_artwork(artwork((Kind.FLASH, [(1, 2)], 0), feature))
    assert (caught.value.file, caught.value.line, caught.value.column) == ("fab/a-drl.gbr", 2, 1)


def test_a_cleared_feature_is_an_error() -> None:
    with pytest.raises(InputError, match="cleared"):
        hits_from_artwork(artwork((Kind.FLASH, [(1, 2)], 0), dark=False))
