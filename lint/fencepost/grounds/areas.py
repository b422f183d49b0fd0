"""The ground copper of a board as polygons, piece by piece."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import Board, NetKind
from fencepost.board.shared import shared
from fencepost.grounds.uniting import united


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


def areas_of(board: Board, pieces: NDArray[np.int32]) -> NDArray[np.object_]:
    """(n): the copper of pieces, each of them once, as a Polygon, or a MultiPolygon where its parts only just touch;
    valid and prepared.

    Round edges become chords within them, no farther than CHORD_MM away. Many at once cost far less than one by one.
    """
    known = _known_areas(board)
    missing = np.array([piece for piece in pieces.tolist() if piece not in known], dtype=np.int32)
    for layer in np.unique(board.pieces.layer[missing]).tolist():
        copper, asked = board.copper[layer - 1], missing[board.pieces.layer[missing] == layer]
        parts = np.concatenate([copper.parts_of(piece) for piece in asked.tolist()])
        order = np.argsort(asked)
        owner = order[np.searchsorted(asked[order], copper.piece[parts])]
        areas = united(copper.geometry[parts], copper.reach[parts], owner, len(asked))
        shapely.prepare(areas)
        known.update(zip(asked.tolist(), areas.tolist(), strict=True))
    return np.array([known[piece] for piece in pieces.tolist()], dtype=object)


def area_of(board: Board, piece: int) -> BaseGeometry:
    """The copper of one piece, as in `areas_of`."""
    known = _known_areas(board)
    if piece not in known:
        areas_of(board, np.array([piece], dtype=np.int32))
    return known[piece]


@shared
def _known_areas(board: Board) -> dict[int, BaseGeometry]:
    """By piece; filled by `areas_of`."""
    return {}
