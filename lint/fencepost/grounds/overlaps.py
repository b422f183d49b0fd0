"""Ground copper over ground copper: the pairs of pieces between which the ground must be tied."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import grown, spans
from fencepost.board.model import Board
from fencepost.clipping import shortened
from fencepost.frozen import dataclass
from fencepost.grounds.areas import area_of, boxes_of_pieces

Box = tuple[float, float, float, float]
"""x0, y0, x1, y1 in mm."""

NARROW_MM = 0.1
"""Mean width of an overlap that is none: two edges that run one above the other, and not quite in line."""

AROUND_MM = 1.0
"""Beyond a region, so that no edge of what is cut out runs along an edge of it."""

BOTH = 2
"""Steps of an overlap that keep what is common; those after them take away."""


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


def pairs_of(board: Board, pieces: NDArray[np.int32]) -> list[Pair]:
    """All pairs of these pieces that may overlap."""
    boxes, layer = boxes_of_pieces(board)[pieces], board.pieces.layer[pieces]
    shapes = spans(boxes)
    one, other = shapely.STRtree(shapes).query(shapes)
    common = np.concatenate(
        [np.maximum(boxes[one, :2], boxes[other, :2]), np.minimum(boxes[one, 2:], boxes[other, 2:])], axis=1
    )
    wanted = (layer[one] < layer[other]) & (common[:, :2] < common[:, 2:]).all(axis=1)
    rows = np.flatnonzero(wanted)[np.lexsort((other[wanted], one[wanted]))]
    return pairs_in(board, pieces, np.column_stack([pieces[one[rows]], pieces[other[rows]]]), common[rows])


def pairs_in(
    board: Board, pieces: NDArray[np.int32], pair: NDArray[np.int32], boxes: NDArray[np.float64]
) -> list[Pair]:
    """Two of these pieces each (n, 2), the upper one first, in boxes (n, 4), and which others may lie between them."""
    layer = board.pieces.layer
    tree = shapely.STRtree(spans(boxes_of_pieces(board)[pieces]))
    row, other = tree.query(spans(boxes))
    between = (layer[pieces[other]] > layer[pair[row, 0]]) & (layer[pieces[other]] < layer[pair[row, 1]])
    row, other = row[between], other[between]
    order = np.lexsort((other, row))
    split = np.split(pieces[other[order]], np.searchsorted(row[order], np.arange(1, len(pair)))) if len(pair) else []
    return [
        Pair(upper, lower, tuple(others.tolist()), (x0, y0, x1, y1))
        for (upper, lower), others, (x0, y0, x1, y1) in zip(pair.tolist(), split, boxes.tolist(), strict=True)
    ]


def overlaps_within(
    board: Board, pairs: Sequence[Pair], regions: NDArray[np.object_], narrow: NDArray[np.float64]
) -> list[NDArray[np.object_]]:
    """(n): the polygons in which the two pieces of each pair (n) lie over one another within a region (n), no other
    ground between them.

    What is no wider than `narrow` (n), in mm, on the average is left out.
    """
    common = regions.copy()
    # Of the two pieces the one with fewer corners first: what it leaves is less to cut out of the other.
    corners = {piece: int(shapely.get_num_coordinates(area_of(board, piece))) for piece in _named(pairs)}
    turns = [(*sorted((one.upper, one.lower), key=corners.__getitem__), *one.between) for one in pairs]
    for step in range(max((len(turn) for turn in turns), default=0)):
        asked = [i for i in np.flatnonzero(~shapely.is_empty(common)).tolist() if step < len(turns[i])]
        near = _near(board, [turns[i][step] for i in asked], common[asked])
        common[asked] = (shapely.intersection if step < BOTH else shapely.difference)(common[asked], near)
    parts, row = shapely.get_parts(common, return_index=True)
    wide = 2 * shapely.area(parts) > narrow[row] * shapely.length(parts)
    return np.split(parts[wide], np.searchsorted(row[wide], np.arange(1, len(regions)))) if len(regions) else []


def _named(pairs: Sequence[Pair]) -> set[int]:
    return {piece for one in pairs for piece in (one.upper, one.lower)}


def _near(board: Board, pieces: Sequence[int], regions: NDArray[np.object_]) -> NDArray[np.object_]:
    """The copper of each piece in the box around its region: with this cut out first, what follows is much faster."""
    areas = np.array([area_of(board, piece) for piece in pieces], dtype=object)
    boxes = grown(shapely.bounds(regions).reshape(-1, 4), AROUND_MM)
    return shortened(areas, boxes)
