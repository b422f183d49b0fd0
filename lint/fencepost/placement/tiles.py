"""The copper of a layer in small pieces, so that a window of it costs no more than what lies in the window."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import TOUCH_MM, Board, Copper
from fencepost.board.shared import shared
from fencepost.clipping import clipped
from fencepost.frozen import dataclass
from fencepost.readers.artwork import Kind

LARGEST = 96
"""Points of a polygon that is left whole."""

LAP_MM = 0.001
"""By how much the halves of a polygon that is cut overlap: no hairline is left between them."""

LOST_MM2 = 1e-9
"""Rounding of the area of halves."""

DEEPEST = 24
"""Cuts one after another; each halves a box, and 20 of them make a millimetre of a kilometre."""

POUR_MM2 = 2.0
"""A filled area that is smaller is a pad or a piece of trace and no pour."""

NOT_SOLDERED = frozenset({"ViaPad", "Conductor", "NonConductor", "ThermalReliefPad", "AntiPad", "EtchedComponent"})
"""Aperture functions of flashes that take no solder."""


@dataclass(frozen=True, eq=False)
class Tiles:
    """n parts of the copper of one layer, all of them in their order, and after them what large ones were cut into.

    geometry, reach  as in Copper
    part    int64 (n)   index into the layer's copper
    net     int32 (n)   index into Board.nets
    piece   int32 (n)   index into Board.pieces
    solder  bool (n)    a component's pad
    pour    bool (n)    of an area that a layout program fills, and would fill around a new via
    whole, cut   trees over the boxes, reach included: of the parts, and of what the large ones were cut into
    large   bool (parts)   those that were cut, and are not looked at themselves
    """

    geometry: NDArray[np.object_]
    reach: NDArray[np.float64]
    part: NDArray[np.int64]
    net: NDArray[np.int32]
    piece: NDArray[np.int32]
    solder: NDArray[np.bool_]
    pour: NDArray[np.bool_]
    whole: shapely.STRtree
    cut: shapely.STRtree
    large: NDArray[np.bool_]

    def near(self, shape: BaseGeometry) -> NDArray[np.int64]:
        """The rows whose boxes meet the box of a shape, ascending."""
        asked = np.array([shape], dtype=object)  # Quicker than one shape by itself.
        parts, pieces = self.whole.query(asked)[1], self.cut.query(asked)[1]
        rows = np.concatenate([parts[~self.large[parts]], len(self.large) + pieces])
        return np.sort(rows)


@shared
def tiles_of(board: Board, layer: int) -> Tiles:
    """The copper of a layer (1-based)."""
    copper = board.copper[layer - 1]
    large = _large(copper.geometry)
    pieces, owner = _cut(copper.geometry[large])
    geometry = np.concatenate([copper.geometry, pieces])
    part = np.concatenate([np.arange(len(copper)), np.flatnonzero(large)[owner]])
    piece = copper.piece[part]
    solder, pour = _soldered(board, copper)[part], _poured(copper)[part]
    net, tree = board.pieces.net[piece], shapely.STRtree(pieces)
    return Tiles(geometry, copper.reach[part], part, net, piece, solder, pour, copper.tree, tree, large)


def _large(shapes: NDArray[np.object_]) -> NDArray[np.bool_]:
    large: NDArray[np.bool_] = (shapely.get_type_id(shapes) == shapely.GeometryType.POLYGON) & (
        shapely.get_num_coordinates(shapes) > LARGEST
    )
    return large


def _cut(shapes: NDArray[np.object_]) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """Large polygons cut up, and the row of `shapes` that each piece comes from."""
    done, owners = [], []
    open_, owner = shapes, np.arange(len(shapes))
    for _ in range(DEEPEST):
        large = _large(open_)
        done.append(open_[~large])
        owners.append(owner[~large])
        open_, owner = _halves(shapes, open_[large], owner[large])
        if not len(open_):
            break
    pieces, owner = np.concatenate([*done, open_]), np.concatenate([*owners, owner])
    # The fast way may leave a ring that touches itself; what else of the shape lies in its box may come with it.
    wrong = ~shapely.is_valid(pieces)
    pieces[wrong] = shapely.intersection(shapes[owner[wrong]], shapely.box(*shapely.bounds(pieces[wrong]).T))
    return _areas(pieces, owner)


def _halves(
    wholes: NDArray[np.object_], shapes: NDArray[np.object_], owner: NDArray[np.int64]
) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """Each polygon, a piece of one of the `wholes`, cut across the longer side of its box."""
    if not len(shapes):
        return shapes, owner
    x0, y0, x1, y1 = shapely.bounds(shapes).T
    wide = x1 - x0 >= y1 - y0
    across, along = np.where(wide, (x0 + x1) / 2, x1), np.where(wide, y1, (y0 + y1) / 2)
    first = np.stack([x0, y0, across + wide * LAP_MM / 2, along + ~wide * LAP_MM / 2], axis=1)
    second = np.stack([np.where(wide, across - LAP_MM / 2, x0), np.where(wide, y0, along - LAP_MM / 2), x1, y1], axis=1)
    halves = clipped(shapes, first), clipped(shapes, second)
    # The fast way may lose some; that both halves lose the lap is no matter.
    lost = shapely.area(halves).sum(axis=0) < shapely.area(shapes) - LOST_MM2
    for half, boxes in zip(halves, (first, second), strict=True):
        half[lost] = shapely.intersection(wholes[owner[lost]], shapely.box(*boxes[lost].T))
    return _areas(np.concatenate(halves), np.concatenate([owner, owner]))


def _areas(shapes: NDArray[np.object_], owner: NDArray[np.int64]) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """The polygons that shapes consist of, each with the owner of its shape."""
    parts, row = shapely.get_parts(shapes, return_index=True)
    areas = shapely.area(parts) > 0
    return parts[areas], owner[row[areas]]


def _soldered(board: Board, copper: Copper) -> NDArray[np.bool_]:
    """Which parts are pads of components, on the outer layers.

    They have a pin or the function of such a pad. Where a file has no functions of pads at all, every flash that is
    not about a hole is taken for one.
    """
    artwork = copper.artwork
    flash = artwork.kind[copper.feature] == Kind.FLASH
    if copper.layer not in (1, board.layers):
        return np.zeros(len(copper), dtype=np.bool_)
    words = [value[0] if value else "" for value in artwork.values]
    pad = np.array([*(word.endswith("Pad") and word not in NOT_SOLDERED for word in words), False])
    named = pad | np.array([*(word == "ViaPad" for word in words), False])
    function = artwork.function[copper.feature]
    pins = artwork.pin[copper.feature] >= 0
    if pins.any() or named[function].any():
        return np.asarray(pins | flash & pad[function], dtype=np.bool_)
    return np.asarray(flash & ~_about_vias(board, copper), dtype=np.bool_)


def _about_vias(board: Board, copper: Copper) -> NDArray[np.bool_]:
    holes = np.flatnonzero(board.holes.plated)
    about = np.zeros(len(copper), dtype=bool)
    if len(holes):
        tree = shapely.STRtree(board.holes.geometry[holes])
        about[tree.query(copper.geometry, predicate="intersects")[0]] = True
    return about


def _poured(copper: Copper) -> NDArray[np.bool_]:
    """Which parts are large filled areas, or strokes along the edge of one."""
    kind = copper.artwork.kind[copper.feature]
    polygons = shapely.get_type_id(copper.geometry) == shapely.GeometryType.POLYGON
    lines = shapely.get_type_id(copper.geometry) == shapely.GeometryType.LINESTRING
    pour: NDArray[np.bool_] = (kind == Kind.FILL) & polygons & (shapely.area(copper.geometry) >= POUR_MM2)
    fills = np.flatnonzero(pour)
    strokes = np.flatnonzero((kind == Kind.STROKE) & lines & np.isin(copper.piece, copper.piece[fills]))
    if len(fills) and len(strokes):
        middle = shapely.line_interpolate_point(copper.geometry[strokes], 0.5, normalized=True)
        fill, stroke = shapely.STRtree(middle).query(copper.geometry[fills], predicate="dwithin", distance=TOUCH_MM)
        same = copper.piece[strokes[stroke]] == copper.piece[fills[fill]]
        pour[strokes[stroke[same]]] = True
    return pour
