"""Small IPC-2581 files written by hand, and the copper that is read from them."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fencepost.board.from_ipc2581 import sources_from_ipc2581
from fencepost.board.parts import parts_of
from fencepost.board.sources import Sources
from fencepost.limits import DEFAULT_LIMITS, Limits
from fencepost.readers.artwork import Artwork
from fencepost.settings.model import Settings
from fencepost.source import SourceFile

TWO_LAYERS = (
    '<Layer name="TOP" layerFunction="CONDUCTOR" side="TOP" polarity="POSITIVE"/>'
    '<Layer name="BOTTOM" layerFunction="CONDUCTOR" side="BOTTOM" polarity="POSITIVE"/>'
)
DRILL = (
    '<Layer name="drill" layerFunction="DRILL" side="ALL" polarity="POSITIVE">'
    '<Span fromLayer="TOP" toLayer="BOTTOM"/></Layer>'
)
HOLE = '<Hole name="H1" diameter="0.3" platingStatus="VIA" plusTol="0" minusTol="0" x="50" y="50"/>'
PROFILE = (
    '<Profile><Polygon><PolyBegin x="0" y="0"/><PolyStepSegment x="60" y="0"/><PolyStepSegment x="60" y="60"/>'
    '<PolyStepSegment x="0" y="60"/><PolyStepSegment x="0" y="0"/></Polygon></Profile>'
)
DATUM = '<Datum x="0" y="0"/>'


def layer_feature(layer: str, *sets: str) -> str:
    """A LayerFeature of Sets."""
    return f'<LayerFeature layerRef="{layer}">{"".join(sets)}</LayerFeature>'


def one_set(contents: str, **attributes: str) -> str:
    """A Set."""
    said = "".join(f' {key}="{value}"' for key, value in attributes.items())
    return f"<Set{said}>{contents}</Set>"


def features(shape: str, location: str = '<Location x="0" y="0"/>') -> str:
    """A Set without a net that draws a shape."""
    return one_set(f"<Features>{location}{shape}</Features>")


def polygon(*corners: tuple[float, float], tag: str = "Polygon", more: str = "") -> str:
    """A closed path of straight sides."""
    (x, y), *rest = corners
    steps = "".join(f'<PolyStepSegment x="{x}" y="{y}"/>' for x, y in (*rest, corners[0]))
    return f'<{tag}><PolyBegin x="{x}" y="{y}"/>{steps}{more}</{tag}>'


def file(
    step: str,
    *,
    content: str = "",
    layers: str = TWO_LAYERS + DRILL,
    header: str = '<CadHeader units="MILLIMETER"/>',
    revision: str = "C",
    step_start: str = '<Step name="board">',
    more: str = "",
) -> bytes:
    """A file whose one step holds `step`; `more` follows it in CadData."""
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<IPC-2581 revision="{revision}" xmlns="http://webstds.ipc.org/2581">\n'
        f'<Content roleRef="o"><FunctionMode mode="FABRICATION"/>{content}</Content>\n'
        f'<Ecad name="e">{header}<CadData>\n{layers}\n{step_start}{step}</Step>{more}\n</CadData></Ecad></IPC-2581>\n'
    ).encode()


def board_of(top: Iterable[str], bottom: Iterable[str] = (), drill: Iterable[str] = (HOLE,), first: str = "") -> str:
    """What a step of two layers and a drill layer holds; `first` stands before its features."""
    return (
        f"{DATUM}{PROFILE}{first}{layer_feature('TOP', *top)}{layer_feature('BOTTOM', *bottom)}"
        f"{layer_feature('drill', *(one_set(hole) for hole in drill))}"
    )


def read(data: bytes, settings: Settings | None = None, limits: Limits = DEFAULT_LIMITS) -> Sources:
    """What a board would be made of."""
    return sources_from_ipc2581("board.xml", SourceFile("board.xml", data), settings or Settings(), limits)


def top_of(shape: str, content: str = "") -> Artwork:
    """The top layer of a file that draws one shape on it."""
    return read(file(board_of([features(shape)]), content=content)).copper[0]


def copper(artwork: Artwork) -> BaseGeometry:
    """All copper of a layer as one area."""
    return shapely.union_all(parts_of(artwork).outlines)


def value(artwork: Artwork, column: np.ndarray, row: int = 0) -> tuple[str, ...]:
    """The label of a feature."""
    return artwork.values[column[row]] if column[row] >= 0 else ()
