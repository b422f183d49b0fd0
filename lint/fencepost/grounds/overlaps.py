"""Ground copper over ground copper: the pairs of pieces between which the ground must be tied."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import Board
from fencepost.grounds.areas import area_of, boxes_of_pieces

Box = tuple[float, float, float, float]
"""x0, y0, x1, y1 in mm."""

NARROW_MM = 0.1
"""Mean width of an overlap that is none: two edges that run one above the other, and not quite in line."""

AROUND_MM = 1.0
"""Beyond a region, so that no edge of what is cut out runs along an edge of it."""


@dataclass(frozen=True)
class Pair:
    """Two pieces of ground copper of different layers, `upper` nearer to the top, whose boxes overlap in `box`.

    `between` are the pieces on layers between them that may lie there.
    """

    upper: int
    lower: int
    between: tuple[int, ...]
    box: Box

    @property
    def extent(self) -> float:
        """The diagonal of the box: no two points of the overlap are farther apart."""
        return math.dist(self.box[:2], self.box[2:])


def pairs_of(board: Board, pieces: NDArray[np.int32]) -> Iterator[Pair]:
    """All pairs of these pieces that may overlap."""
    boxes, layer = boxes_of_pieces(board)[pieces], board.pieces.layer[pieces]
    shapes = shapely.box(*boxes.T)
    one, other = shapely.STRtree(shapes).query(shapes)
    common = np.concatenate(
        [np.maximum(boxes[one, :2], boxes[other, :2]), np.minimum(boxes[one, 2:], boxes[other, 2:])], axis=1
    )
    wanted = (layer[one] < layer[other]) & (common[:, :2] < common[:, 2:]).all(axis=1)
    for i in np.flatnonzero(wanted)[np.lexsort((other[wanted], one[wanted]))]:
        x0, y0, x1, y1 = common[i].tolist()
        yield pair_in(board, pieces, int(pieces[one[i]]), int(pieces[other[i]]), (x0, y0, x1, y1))


def pair_in(board: Board, pieces: NDArray[np.int32], upper: int, lower: int, box: Box) -> Pair:
    """Two of these pieces in a box, and which others may lie between them there."""
    boxes, layer = boxes_of_pieces(board)[pieces], board.pieces.layer[pieces]
    x0, y0, x1, y1 = box
    inside = (boxes[:, 0] < x1) & (boxes[:, 1] < y1) & (boxes[:, 2] > x0) & (boxes[:, 3] > y0)
    inside &= (layer > board.pieces.layer[upper]) & (layer < board.pieces.layer[lower])
    return Pair(upper, lower, tuple(pieces[inside].tolist()), box)


def overlap_within(board: Board, pair: Pair, region: BaseGeometry, narrow: float) -> NDArray[np.object_]:
    """The polygons in which the two pieces lie over one another within a region, no other ground between them.

    What is no wider than `narrow` (mm) on the average is left out.
    """
    common = region
    # The one with fewer corners first: what it leaves is less to cut out of the other.
    both = sorted((pair.upper, pair.lower), key=lambda piece: shapely.get_num_coordinates(area_of(board, piece)))
    for piece in both:
        common = shapely.intersection(common, _near(board, piece, common))
    for piece in pair.between:
        common = shapely.difference(common, _near(board, piece, common))
    parts = shapely.get_parts(common)
    wide: NDArray[np.object_] = parts[2 * shapely.area(parts) > narrow * shapely.length(parts)]
    return wide


def _near(board: Board, piece: int, region: BaseGeometry) -> BaseGeometry:
    """The copper of a piece in the box around a region. Cutting it out first makes all that follows much faster."""
    if region.is_empty:
        return region
    area, (x0, y0, x1, y1) = area_of(board, piece), region.bounds
    near = shapely.clip_by_rect(area, x0 - AROUND_MM, y0 - AROUND_MM, x1 + AROUND_MM, y1 + AROUND_MM)
    return near if near.is_valid else area
