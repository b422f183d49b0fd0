"""What touches what: parts of a layer join into pieces, pieces and plated holes into islands."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import grown
from fencepost.board.model import TOUCH_MM, Holes
from fencepost.board.parts import Parts
from fencepost.board.prepared import LARGE
from fencepost.distinct import distinct_pairs, point_keys
from fencepost.limits import DEFAULT_LIMITS

PORTION = 100_000
"""Pairs that are measured at a time: their lines are copied for it, and what one portion joins the next ones leave out.
"""


def pieces_of(parts: Parts, most: int = DEFAULT_LIMITS.overlaps) -> NDArray[np.int32]:
    """The connected piece of every part of one layer, int32 (n), numbered from 0 by first part.

    Two parts are connected where they come within TOUCH_MM of one another. Pairs that earlier pairs have already
    joined are not measured. Raises TooManyMeet, with the part, for more pairs than `most` whose boxes meet.
    """
    count = len(parts)
    left, right = parts.boxes.meeting_one_another(TOUCH_MM, most)
    meet = _meet_aslant(parts, left, right)
    left, right = left[meet], right[meet]
    size = shapely.get_num_coordinates(parts.geometry)
    swap = size[left] < size[right]
    left, right = np.where(swap, right, left), np.where(swap, left, right)
    piece = components(count, _at_one_point(parts))
    # Pairs of large shapes take longest: they come last, when most of them are known to be joined.
    few, many = np.flatnonzero(size[left] < LARGE), np.flatnonzero(size[left] >= LARGE)
    for batch in (*_portions(few), *_portions(many)):
        a, b = left[batch], right[batch]
        apart = piece[a] != piece[b]
        a, b, shapes = _lines_together(parts, piece, a[apart], b[apart])
        limit = parts.reach[a] + parts.reach[b] + TOUCH_MM
        touching = shapely.dwithin(parts.geometry[a], shapes, limit)
        joins = np.stack([piece[a[touching]], piece[b[touching]]])
        piece = components(count, joins)[piece]
    return piece


def _portions(rows: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    return [rows[begin : begin + PORTION] for begin in range(0, len(rows), PORTION)]


def _lines_together(
    parts: Parts, piece: NDArray[np.int32], left: NDArray[np.int64], right: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.object_]]:
    """Pairs (k) of parts with all lines of one piece and one reach, about which a left part is asked, as one shape.

    Left and right parts, the first of its lines for a right one, and the shapes (k) that stand for the right ones: a
    large shape answers once much sooner than for each line.
    """
    is_line = shapely.get_type_id(parts.geometry[right]) == shapely.GeometryType.LINESTRING
    line, other = np.flatnonzero(is_line), np.flatnonzero(~is_line)
    alike = parts.reach[right[line]], piece[right[line]], left[line]
    order = np.lexsort(alike)
    begins = np.any([np.diff(key[order], prepend=-1) != 0 for key in alike], axis=0)
    line = line[order]
    lines = shapely.multilinestrings(parts.geometry[right[line]], indices=np.cumsum(begins) - 1)
    asked = np.concatenate([line[begins], other])
    return left[asked], right[asked], np.concatenate([lines, parts.geometry[right[other]]])


def _meet_aslant(parts: Parts, left: NDArray[np.int64], right: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether the boxes of two parts that stand on a corner meet, bool (k).

    Those of diagonal traces side by side do not, while of the upright ones each meets many.
    """
    size = shapely.get_num_coordinates(parts.geometry)
    filled = np.flatnonzero(size)
    begins = (np.cumsum(size) - size)[filled]
    x, y = shapely.get_coordinates(parts.geometry).T
    reach = (parts.reach + TOUCH_MM) * math.sqrt(2)
    meet = np.ones(len(left), dtype=np.bool_)
    for along in (x + y, x - y):
        low, high = np.full(len(parts), np.inf), np.full(len(parts), -np.inf)
        low[filled] = np.minimum.reduceat(along, begins)
        high[filled] = np.maximum.reduceat(along, begins)
        low, high = low - reach, high + reach
        meet &= (low[left] <= high[right]) & (high[left] >= low[right])
    return meet


def _at_one_point(parts: Parts) -> NDArray[np.int64]:
    """(2, k): strokes and round flashes that begin, end or stand at the same point; enough pairs to join them all."""
    drawn = np.flatnonzero(parts.reach > 0)
    past = np.cumsum(shapely.get_num_coordinates(parts.geometry[drawn]))
    ends = np.concatenate([np.append(0, past)[:-1], past - 1])
    points, part = shapely.get_coordinates(parts.geometry[drawn])[ends], np.concatenate([drawn, drawn])
    order = np.argsort(point_keys(points))
    same = (points[order[1:]] == points[order[:-1]]).all(axis=1)
    return np.stack([part[order[:-1]][same], part[order[1:]][same]])


def components(count: int, joins: NDArray[np.integer]) -> NDArray[np.int32]:
    """Connected components of `count` things; `joins` is (2, k).

    The component of each, int32 (count), numbered from 0 in order of their first member.
    """
    parent = np.arange(count, dtype=np.int32)
    left, right = joins
    while len(left):
        # Each root hangs on the lowest one that it is joined to, so that no more than half of them are left.
        left, right = parent[left], parent[right]
        apart = left != right
        left, right = left[apart], right[apart]
        np.minimum.at(parent, np.maximum(left, right), np.minimum(left, right))
        while (parent != (above := parent[parent])).any():
            parent = above
    rank = np.cumsum(parent == np.arange(count), dtype=np.int32) - 1
    return np.asarray(rank[parent], dtype=np.int32)


def barrels_on(
    parts: Parts, piece: NDArray[np.int32], holes: Holes, layer: int, most: int = DEFAULT_LIMITS.overlaps
) -> NDArray[np.int32]:
    """(k, 2) pairs of hole and piece: plated holes of this layer whose drilled outline the copper meets.

    Raises TooManyMeet, with the hole, for more pairs than `most` whose boxes meet.
    """
    here = np.flatnonzero(holes.plated & (holes.first <= layer) & (holes.last >= layer))
    geometry, radius = holes.geometry[here], holes.diameter[here] / 2
    hole, part = parts.boxes.meeting(grown(shapely.bounds(geometry), radius + TOUCH_MM), most)
    inside = _in_round_pads(parts, part, geometry[hole], radius[hole])
    open_ = np.ones(len(here), dtype=bool)
    open_[hole[inside]] = False
    asked = np.flatnonzero(open_[hole])
    reach = parts.reach[part[asked]] + radius[hole[asked]] + TOUCH_MM
    near = asked[shapely.dwithin(parts.geometry[part[asked]], geometry[hole[asked]], reach)]
    met = np.concatenate([inside, near])
    return distinct_pairs(here[hole[met]], piece[part[met]]).pairs.astype(np.int32)


def _in_round_pads(
    parts: Parts, part: NDArray[np.int64], hole: NDArray[np.object_], radius: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Those of pairs (k) of a part and a hole where the part is a round flash, and all of the round hole lies in it.

    What such a hole meets, the flash meets too: all of it is one piece, and nothing else needs to be measured.
    """
    is_point = shapely.get_type_id(np.stack([parts.geometry[part], hole])) == shapely.GeometryType.POINT
    both = np.flatnonzero(is_point.all(axis=0))
    apart = shapely.distance(parts.geometry[part[both]], hole[both])
    inside: NDArray[np.int64] = both[apart + radius[both] <= parts.reach[part[both]]]
    return inside
