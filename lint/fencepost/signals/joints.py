"""Where traces meet one another, pads and holes without sharing an end: links, and segments cut where a link lands."""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import spans
from fencepost.board.model import TOUCH_MM
from fencepost.frozen import dataclass

GRID_MM = 0.001
"""Ends of strokes on the same point of this grid are one node."""


@dataclass(frozen=True, eq=False)
class Segments:
    """s straight strokes of one layer between v nodes: ends int32 (s, 2), xy float64 (v, 2), the rest (s)."""

    ends: NDArray[np.int32]
    xy: NDArray[np.float64]
    reach: NDArray[np.float64]
    piece: NDArray[np.int32]
    part: NDArray[np.int32]
    feature: NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class Anchors:
    """Copper that traces join to, a rows: pads, lands and drilled outlines, with half their width as in Copper.reach.

    `node` is the node that stands for each, `part` the stroke that it belongs to itself, -1 for none.
    """

    geometry: NDArray[np.object_]
    reach: NDArray[np.float64]
    piece: NDArray[np.int32]
    centre: NDArray[np.float64]
    node: NDArray[np.int32]
    part: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.reach)

    @cached_property
    def boxes(self) -> NDArray[np.object_]:
        """About each, half of what is allowed between two larger."""
        return spans(shapely.bounds(self.geometry), self.reach + TOUCH_MM / 2)

    @cached_property
    def tree(self) -> shapely.STRtree:
        """Over the boxes."""
        return shapely.STRtree(self.boxes)


@dataclass(frozen=True, eq=False)
class Links:
    """k joints: nodes int32 (k, 2) and the piece they lie on."""

    ends: NDArray[np.int32]
    piece: NDArray[np.int32]


def anchors(
    geometry: NDArray[np.object_], reach: NDArray[np.float64], piece: NDArray[np.int32], first_node: int
) -> Anchors:
    """Anchors with nodes of their own, numbered from `first_node`, at the centroids of their shapes."""
    count, middle = len(reach), geometry.copy()
    other = shapely.get_type_id(geometry) != shapely.GeometryType.POINT
    middle[other] = shapely.centroid(geometry[other])
    return Anchors(
        geometry,
        reach,
        piece,
        shapely.get_coordinates(middle).reshape(count, 2),
        np.arange(first_node, first_node + count, dtype=np.int32),
        np.full(count, -1, dtype=np.int32),
    )


def together(groups: list[Anchors]) -> Anchors:
    """Several groups as one."""
    return Anchors(
        np.concatenate([group.geometry for group in groups]),
        np.concatenate([group.reach for group in groups]),
        np.concatenate([group.piece for group in groups]),
        np.concatenate([group.centre for group in groups]),
        np.concatenate([group.node for group in groups]),
        np.concatenate([group.part for group in groups]),
    )


def loose_ends(segments: Segments) -> Anchors:
    """The ends of strokes where no other stroke goes on: they may rest on the side of another one.

    A stroke drawn twice is one.
    """
    low, high = segments.ends.min(axis=1, initial=len(segments.xy)), segments.ends.max(axis=1, initial=0)
    _, once = np.unique(low.astype(np.int64) * len(segments.xy) + high, return_index=True)
    flat = segments.ends[once].ravel()
    single = np.bincount(flat, minlength=len(segments.xy))[flat] == 1
    node, segment = flat[single], np.repeat(once, 2)[single]
    xy = segments.xy[node]
    reach, piece, part = segments.reach[segment], segments.piece[segment], segments.part[segment]
    return Anchors(shapely.points(xy), reach, piece, xy, node, part)


def overlaps(left: Anchors, right: Anchors) -> Links:
    """Links between anchors of two groups whose copper touches; within one group, each pair once."""
    a, b = right.tree.query(left.boxes)
    kept = left.piece[a] == right.piece[b]
    if left is right:
        kept &= a < b
    a, b = a[kept], b[kept]
    touching = shapely.dwithin(left.geometry[a], right.geometry[b], left.reach[a] + right.reach[b] + TOUCH_MM)
    a, b = a[touching], b[touching]
    return Links(np.column_stack([left.node[a], right.node[b]]), left.piece[a])


def landed(segments: Segments, where: Anchors) -> tuple[Segments, Links]:
    """Cut segments where an anchor's link lands on them; the cut segments, and the links.

    An anchor is linked once to each stroke whose copper it touches, at the point nearest to its centre.
    """
    lines = shapely.linestrings(segments.xy[segments.ends])
    targets = Anchors(lines, segments.reach, segments.piece, np.empty((0, 2)), segments.part, segments.part)
    a, s = targets.tree.query(where.boxes)
    kept = (where.piece[a] == segments.piece[s]) & (where.part[a] != segments.part[s])
    a, s = a[kept], s[kept]
    touching = shapely.dwithin(where.geometry[a], lines[s], where.reach[a] + segments.reach[s] + TOUCH_MM)
    a, s = a[touching], s[touching]
    centre = shapely.points(where.centre[a])
    away = shapely.distance(centre, lines[s])
    order = np.lexsort((s, away, segments.part[s], a))
    pairs = np.column_stack([a, segments.part[s]])[order]
    nearest = order[np.concatenate([[True], (pairs[1:] != pairs[:-1]).any(axis=1)])] if len(order) else order
    a, s, centre = a[nearest], s[nearest], centre[nearest]
    along = shapely.line_locate_point(lines[s], centre)
    length = shapely.length(lines[s])

    target = np.where(along < GRID_MM, segments.ends[s, 0], segments.ends[s, 1]).astype(np.int32)
    inside = (along >= GRID_MM) & (along <= length - GRID_MM)
    first_node = int(max(len(segments.xy), where.node.max(initial=-1) + 1))
    target[inside] = np.arange(first_node, first_node + inside.sum())
    cut = _cut(segments, s[inside], along[inside] / length[inside], target[inside], first_node)
    apart = where.node[a] != target
    return cut, Links(np.column_stack([where.node[a], target])[apart], where.piece[a][apart])


def _cut(
    segments: Segments,
    cut: NDArray[np.int64],
    along: NDArray[np.float64],
    node: NDArray[np.int32],
    first_node: int,
) -> Segments:
    """The segments, those in `cut` divided at their fractions `along` by new nodes."""
    ends = segments.ends
    order = np.lexsort((along, cut))
    cut, along, node = cut[order], along[order], node[order]
    begin, finish = ends[cut, 0], ends[cut, 1]
    place = segments.xy[begin] + (segments.xy[finish] - segments.xy[begin]) * along[:, None]
    xy = np.full((first_node + len(node), 2), np.nan)
    xy[: len(segments.xy)] = segments.xy
    xy[node] = place

    owner = np.concatenate([np.arange(len(ends)), cut])
    rank = np.concatenate([np.zeros(len(ends)), along])
    start = np.concatenate([ends[:, 0], node])
    order = np.lexsort((rank, owner))
    owner, start = owner[order], start[order]
    end = np.concatenate([start[1:], [0]]).astype(np.int32) if len(start) else start
    last = np.concatenate([owner[1:] != owner[:-1], [True]]) if len(owner) else np.array([], dtype=bool)
    end[last] = ends[owner[last], 1]
    return Segments(
        np.column_stack([start, end]).astype(np.int32),
        xy,
        segments.reach[owner],
        segments.piece[owner],
        segments.part[owner],
        segments.feature[owner],
    )
