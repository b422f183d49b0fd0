"""Where in a window a via would tie the ground that a need asks for."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import Board
from fencepost.placement.obstacles import CHORDS, polygonal
from fencepost.placement.tiles import tiles_of
from fencepost.placement.window import among, ground_in

Group = dict[int, NDArray[np.int64]]
"""Pieces of one net, of which a via must touch one, by their layer."""


def groups_about(board: Board, net: int, ties: Sequence[Sequence[int]], window: BaseGeometry) -> tuple[Group, ...]:
    """Groups of pieces, those of a net in each: first the one that has the fewest parts about a window.

    Its ground is found the soonest, and mostly leaves the least to look at for the others.
    """
    groups = [_by_layer(board, net, pieces) for pieces in ties]
    if len(groups) > 1:
        about = {layer: _pieces_about(board, layer, window) for group in groups for layer in group}
        groups.sort(key=lambda group: sum(among(board, about[layer], own).sum() for layer, own in group.items()))
    return tuple(groups)


def tied(
    board: Board, radius: float, net: int, groups: Sequence[Group], window: BaseGeometry, chords: int = CHORDS
) -> BaseGeometry:
    """Where in a window a pad of a radius (mm) lies in copper of each group, whatever is in the way there; of none, in
    that of any two layers."""
    if not groups and not window.is_empty:
        return _any_two(board, radius, net, window, chords)
    for group in groups:
        if not window.is_empty:
            areas = [ground_in(board, radius, net, window, layer, own, chords) for layer, own in group.items()]
            window = areas[0] if len(areas) == 1 else polygonal(shapely.union_all(areas))
    return window


def _any_two(board: Board, radius: float, net: int, window: BaseGeometry, chords: int) -> BaseGeometry:
    areas = [ground_in(board, radius, net, window, layer, None, chords) for layer in range(1, board.layers + 1)]
    return polygonal(shapely.union_all([shapely.intersection(one, other) for one, other in combinations(areas, 2)]))


def _by_layer(board: Board, net: int, pieces: Sequence[int]) -> Group:
    own = np.array(pieces, dtype=np.int64)
    own = own[board.pieces.net[own] == net]
    layer = board.pieces.layer[own]
    return {one: own[layer == one] for one in sorted(set(layer.tolist()))}


def _pieces_about(board: Board, layer: int, window: BaseGeometry) -> NDArray[np.int32]:
    """The piece of each part of a layer that may lie in a window."""
    tiles = tiles_of(board, layer)
    return tiles.piece[tiles.near(window)]
