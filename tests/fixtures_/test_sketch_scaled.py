"""The boards for benchmarks have the size and the number of features that were asked for, and are sound boards."""

from __future__ import annotations

import re

import pytest
import shapely
from gerbonara.excellon import ExcellonFile
from gerbonara.utils import MM

import scaled
from fixtures_ import gerbonara_image


def strokes(files: dict[str, bytes]) -> int:
    """Of traces, not of the contours of planes."""
    layers = [re.sub(rb"G36\*.*?G37\*", b"", data, flags=re.DOTALL) for name, data in files.items() if "-L" in name]
    return sum(data.count(b"D01*") for data in layers)


def test_features_grow_with_the_tiles() -> None:
    """Four tiles have four times the holes and strokes of one, and four times its area but for the margin."""
    one, four = (scaled.scaled_package(times, layers=4, holes=64, strokes=320) for times in (1, 4))
    holes = [len(ExcellonFile.from_string(files["scaled-PTH.drl"].decode()).objects) for files in (one, four)]
    assert holes == [64, 256]
    traces = [
        [item for item in gerbonara_image.read(files[f"scaled-L{layer}.gbr"]).objects if hasattr(item, "x1")]
        for files in (one, four)
        for layer in (1, 4)
    ]
    assert [len(found) for found in traces] == [160, 160, 640, 640]
    sides = [gerbonara_image.read(files["scaled-profile.gbr"]).bounding_box(unit=MM)[1][0] for files in (one, four)]
    assert sides[1] - sides[0] == pytest.approx(8 * scaled.CELL_MM)


def test_tiles_are_one_board() -> None:
    """Each plane is one piece across all tiles, around antipads; pads sit where the drill file has its holes."""
    files = scaled.scaled_package(4, layers=4, holes=64, strokes=320)
    plane = gerbonara_image.image(gerbonara_image.read(files["scaled-L2.gbr"]))
    (ground, *pads) = sorted(shapely.get_parts(plane), key=lambda part: -part.area)
    assert len(ground.interiors) == len(pads) == 4 * 48
    flashes = [item for item in gerbonara_image.read(files["scaled-L1.gbr"]).objects if not hasattr(item, "x1")]
    spots = shapely.MultiPoint([(MM(pad.x, pad.unit), MM(pad.y, pad.unit)) for pad in flashes])
    hits = ExcellonFile.from_string(files["scaled-PTH.drl"].decode()).objects
    drilled = shapely.MultiPoint([(MM(hit.x, hit.unit), MM(hit.y, hit.unit)) for hit in hits])
    assert shapely.hausdorff_distance(spots, drilled) < 1e-4


def test_copies_have_nets_of_their_own() -> None:
    """No signal net of one tile is a net of another; ground is one net."""
    text = scaled.scaled_package(4, layers=4, holes=64, strokes=320)["scaled-L1.gbr"].decode()
    nets = {line for line in text.splitlines() if line.startswith("%TO.N,")}
    assert len(nets) == 1 + 4 * 16


@pytest.mark.parametrize("layers", [4, 6, 24])
def test_any_even_number_of_layers(layers: int) -> None:
    """A file for every layer; the strokes asked for are spread over the signal layers to within one in a trace."""
    files = scaled.scaled_package(1, layers=layers, holes=144, strokes=2000)
    assert sum(1 for name in files if "-L" in name) == layers
    assert strokes(files) == pytest.approx(2000, abs=72)


def test_same_call_gives_the_same_bytes() -> None:
    assert scaled.scaled_package(1, holes=64, strokes=320) == scaled.scaled_package(1, holes=64, strokes=320)
