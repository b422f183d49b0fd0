"""The ground copper of a board as polygons, piece by piece."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import TOUCH_MM, Board, NetKind
from fencepost.board.shared import shared
from fencepost.grounds.outlined import covered_by, outlined
from fencepost.parallel import side_by_side

CHORD_MM = 0.005
"""Largest distance between a round edge and its chords (design: 5 µm)."""

LARGE = 64
"""Corners of a polygon from which on others are looked for within it."""


@shared
def ground_pieces(board: Board) -> NDArray[np.int32]:
    """All pieces of ground copper, ascending."""
    return np.flatnonzero(np.isin(board.pieces.net, board.nets_of(NetKind.GROUND))).astype(np.int32)


@shared
def boxes_of_pieces(board: Board) -> NDArray[np.float64]:
    """(p, 4): the box around each piece of the board, in mm."""
    boxes = np.empty((len(board.pieces), 4))
    for copper in board.copper:
        order, pieces = copper.of_piece
        if len(order):
            found, first = np.unique(pieces, return_index=True)
            bounds = copper.bounds[order]
            boxes[found, :2] = np.minimum.reduceat(bounds[:, :2], first)
            boxes[found, 2:] = np.maximum.reduceat(bounds[:, 2:], first)
    return boxes


def extents_of(board: Board, pieces: NDArray[np.int32]) -> NDArray[np.float64]:
    """(n): the diagonal of the box around each of these pieces, in mm: no two of its points are farther apart."""
    boxes = boxes_of_pieces(board)[pieces]
    return np.hypot(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1])


@shared
def area_of(board: Board, piece: int) -> BaseGeometry:
    """The copper of a piece as a Polygon, or a MultiPolygon where its parts only just touch; valid and prepared.

    Round edges become chords within them, no farther than CHORD_MM away.
    """
    copper = board.copper[int(board.pieces.layer[piece]) - 1]
    parts = copper.parts_of(piece)
    geometry, reach = copper.geometry[parts], copper.reach[parts]
    line = shapely.get_type_id(geometry) == shapely.GeometryType.LINESTRING
    solid = geometry[reach == 0]
    if len(solid):
        grown, told = outlined(solid, geometry[line], reach[line])
        whole = np.flatnonzero(line)[told]
        geometry, reach = np.delete(geometry, whole), np.delete(reach, whole)
        solid = _outlines(solid, grown)
    area = _united(np.concatenate([solid, _outlines(geometry[reach > 0], reach[reach > 0])]))
    if area.geom_type != "Polygon":
        area = _bridged(area)
    shapely.prepare(area)
    return area


def _united(shapes: NDArray[np.object_]) -> BaseGeometry:
    """Polygons as one. What lies in large ones stays out of the union, and one that has more corners than all the rest
    comes last: for a pour with its pads and vias that is several times faster."""
    corners = shapely.get_num_coordinates(shapes)
    large = corners >= LARGE
    covered = np.flatnonzero(~large)[covered_by(shapes[~large], shapes[large])[0]]
    kept = np.delete(np.arange(len(shapes)), covered)
    last = kept[2 * corners[kept] > corners[kept].sum()]
    return shapely.union_all([shapely.union_all(shapes[np.setdiff1d(kept, last)]), *shapes[last]])


def unite(board: Board, pieces: Iterable[int]) -> None:
    """Work out the areas of several pieces, to be asked for later: on all processors, as GEOS holds no lock."""
    side_by_side(lambda piece: area_of(board, piece), pieces)


def _outlines(shapes: NDArray[np.object_], reach: NDArray[np.float64]) -> NDArray[np.object_]:
    """Shapes drawn out to their reach, each with as many chords as CHORD_MM asks for; with a reach of 0 as they are."""
    quarter = np.ceil(np.pi / 4 / np.arccos(np.maximum(1 - CHORD_MM / np.maximum(reach, CHORD_MM), 0.0)))
    outlines: NDArray[np.object_] = shapes.copy()
    for count in np.unique(quarter[reach > 0]):
        alike = (quarter == count) & (reach > 0)
        outlines[alike] = shapely.buffer(shapes[alike], reach[alike], quad_segs=max(2, int(count)))
    return outlines


def _bridged(area: BaseGeometry) -> BaseGeometry:
    """Parts of one piece that come apart only because round edges became chords, joined again."""
    by = CHORD_MM + TOUCH_MM
    return shapely.union(area, shapely.buffer(shapely.buffer(area, by, join_style="mitre"), -by, join_style="mitre"))
