"""What touches what: parts of a layer join into pieces, pieces and plated holes into islands."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from fencepost.board.model import TOUCH_MM, Holes
from fencepost.board.parts import Parts
from fencepost.limits import DEFAULT_LIMITS
from fencepost.meeting import meeting

LARGE = 200
"""Points of a shape from which on its pairs are tested last, when most of them are already known to be joined."""


def pieces_of(parts: Parts, most: int = DEFAULT_LIMITS.overlaps) -> NDArray[np.int32]:
    """The connected piece of every part of one layer, int32 (n), numbered from 0 by first part.

    Two parts are connected where they come within TOUCH_MM of one another. Pairs that earlier pairs have already
    joined are not measured. Raises TooManyMeet, with the part, for more pairs than `most` whose boxes meet.
    """
    count = len(parts)
    left, right = _boxes_that_meet(parts, most)
    size = shapely.get_num_coordinates(parts.geometry)
    swap = size[left] < size[right]
    left, right = np.where(swap, right, left), np.where(swap, left, right)
    shapely.prepare(parts.geometry[size >= LARGE])
    piece = np.arange(count, dtype=np.int32)
    for batch in (size[left] < LARGE, size[left] >= LARGE):
        a, b = left[batch], right[batch]
        apart = piece[a] != piece[b]
        a, b = a[apart], b[apart]
        limit = parts.reach[a] + parts.reach[b] + TOUCH_MM
        touching = shapely.dwithin(parts.geometry[a], parts.geometry[b], limit)
        joins = np.stack([piece[a[touching]], piece[b[touching]]])
        piece = components(count, joins)[piece]
    return numbered(piece)


def _boxes_that_meet(parts: Parts, most: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    grow = (parts.reach[:, None] + TOUCH_MM) * [-1.0, -1.0, 1.0, 1.0]
    boxes: NDArray[np.object_] = shapely.box(*(shapely.bounds(parts.geometry) + grow).T)
    return meeting(boxes, boxes, most)


def components(count: int, joins: NDArray[np.integer]) -> NDArray[np.int32]:
    """Connected components of `count` things; `joins` is (2, k). The component of each, int32 (count)."""
    links = coo_array((np.ones(joins.shape[1], dtype=np.int8), (joins[0], joins[1])), shape=(count, count))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int32)


def numbered(groups: NDArray[np.int32]) -> NDArray[np.int32]:
    """The same groups, numbered from 0 in order of their first member."""
    _, first, inverse = np.unique(groups, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.int32)
    rank[np.argsort(first)] = np.arange(len(first), dtype=np.int32)
    return rank[inverse]


def barrels_on(
    parts: Parts, piece: NDArray[np.int32], holes: Holes, layer: int, most: int = DEFAULT_LIMITS.overlaps
) -> NDArray[np.int32]:
    """(k, 2) pairs of hole and piece: plated holes of this layer whose drilled outline the copper meets.

    Raises TooManyMeet, with the hole, for more pairs than `most` whose boxes meet.
    """
    here = np.flatnonzero(holes.plated & (holes.first <= layer) & (holes.last >= layer))
    geometry, radius = holes.geometry[here], holes.diameter[here] / 2
    grow = (radius[:, None] + TOUCH_MM) * [-1.0, -1.0, 1.0, 1.0]
    boxes: NDArray[np.object_] = shapely.box(*(shapely.bounds(geometry) + grow).T)
    edges = shapely.box(*(shapely.bounds(parts.geometry) + parts.reach[:, None] * [-1.0, -1.0, 1.0, 1.0]).T)
    hole, part = meeting(boxes, edges, most)
    near = shapely.dwithin(parts.geometry[part], geometry[hole], parts.reach[part] + radius[hole] + TOUCH_MM)
    pairs = np.stack([here[hole[near]], piece[part[near]]], axis=1).astype(np.int32)
    return np.unique(pairs, axis=0) if len(pairs) else pairs.reshape(0, 2)
