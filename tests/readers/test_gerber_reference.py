"""Whole files against gerbonara as an independent reader: copper area, extent and numbers of objects."""

from __future__ import annotations

import importlib.resources
from pathlib import Path

import gerber_writer
import numpy as np
import pytest
import shapely
from gerbonara.utils import MM

from fencepost.readers.artwork import Artwork, Kind
from fencepost.readers.gerber import read_gerber
from fencepost.source import SourceFile
from readers.gerber_image import image
from readers.gerber_reference import read_reference, reference_counts, reference_image

EXAMPLES = sorted(Path(str(importlib.resources.files("pygerber"))).glob("examples/*.g*b*"))
BOARD = sorted(Path(__file__).parents[3].glob("shared/boards/six-layer-computer/*.gbr"))
MISREAD = (
    # gerbonara 1.5 takes the degrees of a polygon's rotation for radians.
    (b"%ADD18P,0.6X5X90X0.3*%", b"%ADD18P,0.6X5X0X0.3*%"),
    # It knows no comment inside a macro and cannot draw the thermal primitive, which the tests of macros work by hand.
    (b"%ADD19THERMAL80*%", b"%ADD19C,0.8*%"),
    (b"G04 Define the aperture macro 'THERMAL80'                                *", b""),
    (b"G04 Use thermal primitive in the macro                                   *", b""),
)
"""What is changed in an example, for both readers, where the reference library is wrong."""


def counts(artwork: Artwork) -> tuple[int, ...]:
    """Strokes, flashes and fills."""
    return tuple(np.bincount(artwork.kind, minlength=len(Kind)).tolist())


def extent(artwork: Artwork) -> tuple[np.ndarray, np.ndarray]:
    """The least and greatest x and y of what the features cover, polarity left out."""
    sizes = np.nan_to_num([*(tool.shape.bounds for tool in artwork.tools), (0, 0, 0, 0)])
    around = np.repeat(sizes[artwork.tool], np.diff(artwork.first), axis=0)
    return (artwork.xy + around[:, :2]).min(axis=0), (artwork.xy + around[:, 2:]).max(axis=0)


def test_there_are_example_files() -> None:
    """The examples inside the PyPI package pygerber are where they are looked for."""
    assert len(EXAMPLES) >= 6


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_example_files(path: Path) -> None:
    """Every example file of pygerber: the same copper everywhere, the same extent, as many objects."""
    data = path.read_bytes()
    read_gerber(SourceFile(path.name, data))
    for misread, instead in MISREAD:
        data = data.replace(misread, instead)
    artwork, reference = read_gerber(SourceFile(path.name, data)), read_reference(data)
    ours, theirs = image(artwork), reference_image(reference)
    assert counts(artwork) == reference_counts(reference)
    assert shapely.symmetric_difference(ours, theirs).area <= 1e-3 * theirs.area
    np.testing.assert_allclose(ours.bounds, theirs.bounds, atol=0.002)


def written_pads() -> gerber_writer.DataLayer:
    """Pads of every master, turned; without the thermals and turned polygons that gerbonara misreads."""
    layer = gerber_writer.DataLayer("Copper,L1,Top")
    masters = [
        gerber_writer.Circle(1.2, "ViaPad"),
        gerber_writer.Rectangle(1.0, 0.4, "SMDPad,CuDef"),
        gerber_writer.RoundedRectangle(1.4, 0.9, 0.2, "SMDPad,CuDef"),
        gerber_writer.ChamferedRectangle(1.2, 0.8, 0.15, "SMDPad,CuDef"),
        gerber_writer.UserPolygon(((0, 0), (1, 0), (1, 0.5), (0, 1), (0, 0)), "ComponentPad"),
    ]
    for row, master in enumerate(masters):
        for column, angle in enumerate((0, 30, 90, 217)):
            layer.add_pad(master, (2.5 * column, 2.5 * row), angle)
    layer.add_pad(gerber_writer.RegularPolygon(1.5, 6, "ComponentPad"), (20, 20))
    return layer


def written_traces() -> gerber_writer.DataLayer:
    """Lines and arcs, and a region with an arc, part of it cleared again."""
    layer = gerber_writer.DataLayer("Copper,L2,Inr")
    layer.add_trace_line((0, 0), (5, 2), 0.25, "Conductor")
    layer.add_trace_arc((5, 2), (7, 4), (5, 4), "+", 0.25, "Conductor")
    layer.add_trace_arc((12, 0), (10, 2), (10, 0), "+", 0.2, "Conductor")
    shape = gerber_writer.Path()
    shape.moveto((0, 5))
    shape.lineto((6, 5))
    shape.arcto((6, 9), (6, 7), "+")
    shape.lineto((0, 9))
    shape.lineto((0, 5))
    layer.add_region(shape, "Conductor")
    layer.add_trace_line((1, 7), (4, 7), 0.8, "Conductor", negative=True)
    layer.add_pad(gerber_writer.Circle(0.5, "ViaPad"), (2, 7))
    return layer


@pytest.mark.parametrize("layer", [written_pads(), written_traces()], ids=["pads", "traces"])
def test_files_of_gerber_writer(layer: gerber_writer.DataLayer) -> None:
    """Files written by gerber-writer: the same copper as gerbonara finds in them."""
    data = layer.dumps_gerber().encode()
    artwork, reference = read_gerber(SourceFile("written.gbr", data)), read_reference(data)
    ours, theirs = image(artwork), reference_image(reference)
    assert counts(artwork) == reference_counts(reference)
    assert shapely.symmetric_difference(ours, theirs).area <= 1e-3 * theirs.area
    np.testing.assert_allclose(ours.bounds, theirs.bounds, atol=0.002)


@pytest.mark.skipif(not BOARD, reason="the board's files are not here")
@pytest.mark.parametrize("path", BOARD, ids=lambda path: path.name.rpartition("-")[2])
def test_objects_of_a_real_board(path: Path) -> None:
    """The six-layer computer's layers and profile: as many strokes, flashes and regions, and the extent to 2 µm."""
    data = path.read_bytes()
    artwork, reference = read_gerber(SourceFile(path.name, data)), read_reference(data)
    assert counts(artwork) == reference_counts(reference)
    low, high = extent(artwork)
    np.testing.assert_allclose([low, high], reference.bounding_box(unit=MM), atol=0.002)


@pytest.mark.skipif(not BOARD, reason="the board's files are not here")
def test_copper_of_a_real_board() -> None:
    """The six-layer computer's top layer: copper area to 0.1 %, extent to 2 µm."""
    data = next(path for path in BOARD if path.name.endswith("F_Cu.gbr")).read_bytes()
    ours = image(read_gerber(SourceFile("top.gbr", data)))
    theirs = reference_image(read_reference(data))
    assert ours.area == pytest.approx(theirs.area, rel=1e-3)
    np.testing.assert_allclose(ours.bounds, theirs.bounds, atol=0.002)
