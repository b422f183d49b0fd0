"""The traces of a board as a network: segments between nodes, layer by layer, joined to pads and holes.

A segment is one straight piece of a stroke (a chord of an arc). Nodes are the ends of segments, the centres of pads and
lands, and one node for each signal hole on each layer whose copper it meets. A stroke that ends on another one, on a
pad or on a land is joined to it by a link, which has a length and no copper of its own.
"""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board, Copper, NetKind
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.ranges import ranges
from fencepost.readers.artwork import Artwork, Kind
from fencepost.signals.joints import GRID_MM, Segments, anchors, landed, loose_ends, overlaps, together

NOT_TRACES = frozenset({"NonConductor", "EtchedComponent", "AntiPad", "Material", "Profile"})
"""Aperture functions of strokes that carry no signal."""


@dataclass(frozen=True, eq=False)
class Traces:
    """s segments over v nodes. Lengths in mm.

    layer    int32 (s)       1-based
    net      int32 (s)       index into Board.nets
    piece    int32 (s)       index into Board.pieces
    ends     int32 (s, 2)    nodes
    width    float64 (s)     0 for links
    feature  int32 (s)       of the layer's artwork; -1 for links
    xy       float64 (v, 2)
    hole_nodes int32 (k, 3)  (hole, layer, node)
    """

    layer: NDArray[np.int32]
    net: NDArray[np.int32]
    piece: NDArray[np.int32]
    ends: NDArray[np.int32]
    width: NDArray[np.float64]
    feature: NDArray[np.int32]
    xy: NDArray[np.float64]
    hole_nodes: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.layer)

    @cached_property
    def length(self) -> NDArray[np.float64]:
        """(s): in mm."""
        step = self.xy[self.ends[:, 1]] - self.xy[self.ends[:, 0]]
        return np.hypot(step[:, 0], step[:, 1])

    @cached_property
    def _at_nodes(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Segments sorted by node, and where each node's begin."""
        order = np.argsort(self.ends.ravel(), kind="stable")
        return order // 2, np.searchsorted(self.ends.ravel()[order], np.arange(len(self.xy) + 1))

    def segments_at(self, node: int) -> NDArray[np.int64]:
        """The segments that end at a node."""
        segments, begin = self._at_nodes
        return segments[begin[node] : begin[node + 1]]

    def segments_at_each(self, nodes: NDArray[np.integer[Any]]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """The segments that end at each of these nodes (n): rows of `nodes`, and segments."""
        segments, begin = self._at_nodes
        count = begin[nodes + 1] - begin[nodes]
        row = np.repeat(np.arange(len(nodes)), count)
        return row, segments[ranges(begin[nodes], count)]

    @cached_property
    def _holes(self) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
        """Rows of hole_nodes by hole, and the holes in that order."""
        order = np.argsort(self.hole_nodes[:, 0], kind="stable")
        return order, self.hole_nodes[order, 0]

    def nodes_of(self, hole: int, layer: int) -> list[int]:
        """The nodes of a hole on a layer."""
        order, holes = self._holes
        own = self.hole_nodes[order[slice(*np.searchsorted(holes, [hole, hole + 1]))]]
        nodes: list[int] = own[own[:, 1] == layer, 2].tolist()
        return nodes

    def other_end(self, segment: int, node: int) -> int:
        """The node at the far end of a segment."""
        a, b = self.ends[segment]
        return int(b if a == node else a)


@shared
def traces_of(board: Board) -> Traces:
    """The network of all signal traces of a board."""
    layers = [_layer_traces(board, copper) for copper in board.copper]
    nodes = np.cumsum([0, *(len(own.xy) for own in layers)])
    return Traces(
        layer=np.concatenate([own.layer for own in layers]),
        net=np.concatenate([own.net for own in layers]),
        piece=np.concatenate([own.piece for own in layers]),
        ends=np.concatenate([own.ends + shift for own, shift in zip(layers, nodes, strict=False)]).astype(np.int32),
        width=np.concatenate([own.width for own in layers]),
        feature=np.concatenate([own.feature for own in layers]),
        xy=np.concatenate([own.xy for own in layers]),
        hole_nodes=np.concatenate(
            [own.hole_nodes + np.array([0, 0, shift]) for own, shift in zip(layers, nodes, strict=False)]
        ).astype(np.int32),
    )


def _layer_traces(board: Board, copper: Copper) -> Traces:
    """The network of one layer."""
    signal = np.array([*(net.kind is NetKind.SIGNAL for net in board.nets), False])
    of_signal = signal[board.pieces.net[copper.piece]]
    drawn = _segments(copper, of_signal)
    parts = np.flatnonzero(of_signal & np.isin(copper.artwork.kind[copper.feature], (Kind.FLASH, Kind.FILL)))
    here = board.touches[board.pieces.layer[board.touches[:, 1]] == copper.layer]
    here = here[signal[board.pieces.net[here[:, 1]]]]

    first = len(drawn.xy)
    lands = anchors(copper.geometry[parts], copper.reach[parts], copper.piece[parts], first)
    barrels = anchors(
        board.holes.geometry[here[:, 0]], board.holes.diameter[here[:, 0]] / 2, here[:, 1], first + len(lands)
    )
    cut, links = landed(drawn, together([lands, barrels, loose_ends(drawn)]))
    joined = (links, overlaps(lands, lands), overlaps(barrels, lands))
    ends, piece = (np.concatenate(column) for column in zip(*((own.ends, own.piece) for own in joined), strict=True))
    cut.xy[lands.node], cut.xy[barrels.node] = lands.centre, barrels.centre
    segments, joints = len(cut.ends), len(ends)
    all_pieces = np.concatenate([cut.piece, piece])
    return Traces(
        layer=np.full(segments + joints, copper.layer, dtype=np.int32),
        net=board.pieces.net[all_pieces],
        piece=all_pieces,
        ends=np.concatenate([cut.ends, ends]).astype(np.int32),
        width=np.concatenate([2 * cut.reach, np.zeros(joints)]),
        feature=np.concatenate([cut.feature, np.full(joints, -1)]).astype(np.int32),
        xy=cut.xy,
        hole_nodes=np.column_stack([here[:, 0], np.full(len(here), copper.layer), barrels.node]),
    )


def _segments(copper: Copper, of_signal: NDArray[np.bool_]) -> Segments:
    """The strokes of signals on one layer, segment by segment.

    A part that is an outline, because its tool is not round or a clear feature cut it, is followed along the middle of
    its strokes as far as that lies in the outline.
    """
    artwork = copper.artwork
    idle = np.array([*(bool(value) and value[0] in NOT_TRACES for value in artwork.values), False])
    parts = np.flatnonzero(of_signal & (artwork.kind[copper.feature] == Kind.STROKE))
    parts = parts[~idle[artwork.function[copper.feature[parts]]]]
    count = copper.last[parts] - copper.feature[parts] + 1
    features = ranges(copper.feature[parts], count)
    part = np.repeat(parts, count)
    outlined = copper.reach[part] == 0
    points, owner = _points(artwork, features[~outlined])
    inside, of_inside = _middles(artwork, features[outlined], copper.geometry[part[outlined]])
    begin = np.flatnonzero(owner[1:] == owner[:-1])
    start = np.concatenate([points[begin], inside[:, 0]])
    end = np.concatenate([points[begin + 1], inside[:, 1]])
    row = np.concatenate([np.flatnonzero(~outlined)[owner[begin]], np.flatnonzero(outlined)[of_inside]])
    part, feature = part[row], features[row]
    kept = (start != end).any(axis=1) & ~_outlines_a_fill(copper, start, end, part)
    part, feature = part[kept].astype(np.int32), feature[kept].astype(np.int32)
    ends, xy = _nodes(start[kept], end[kept], copper.piece[part])
    return Segments(ends, xy, _half_widths(artwork)[artwork.tool[feature]], copper.piece[part], part, feature)


def _points(artwork: Artwork, features: NDArray[np.integer]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """All points of these features, and which of them each point belongs to."""
    count = artwork.first[features + 1] - artwork.first[features]
    owner = np.repeat(np.arange(len(features)), count)
    return artwork.xy[ranges(artwork.first[features], count)], owner


def _middles(
    artwork: Artwork, features: NDArray[np.integer], outlines: NDArray[np.object_]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """(k, 2, 2) segments of these strokes' middle lines within their outlines, and the stroke that each is of."""
    if not len(features):
        return np.empty((0, 2, 2)), np.empty(0, dtype=np.int64)
    points, owner = _points(artwork, features)
    lines, line_of = shapely.get_parts(
        shapely.intersection(shapely.linestrings(points, indices=owner), outlines), return_index=True
    )
    xy, line = shapely.get_coordinates(lines, return_index=True)
    begin = np.flatnonzero(line[1:] == line[:-1])
    return np.stack([xy[begin], xy[begin + 1]], axis=1), line_of[line[begin]]


def _half_widths(artwork: Artwork) -> NDArray[np.float64]:
    """Of each tool: half the diameter, or half the shorter side of its box."""
    boxes = shapely.bounds([tool.shape for tool in artwork.tools]).reshape(-1, 4)
    sides = np.nan_to_num(np.minimum(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1]))
    widths = np.array([tool.width for tool in artwork.tools])
    return np.append(np.where(widths > 0, widths, sides), 0.0) / 2


def _outlines_a_fill(
    copper: Copper, start: NDArray[np.float64], end: NDArray[np.float64], part: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Whether a segment only draws the edge of a filled area of its own piece, and so is no trace.

    It does where both its ends and its middle lie in fills.
    """
    fills = np.flatnonzero(copper.artwork.kind[copper.feature] == Kind.FILL)
    fills = fills[np.isin(copper.piece[fills], np.unique(copper.piece[part]))]
    within = np.isin(copper.piece[part], copper.piece[fills])
    if not within.any():
        return within
    tree = shapely.STRtree(copper.geometry[fills])
    for xy in (start, (start + end) / 2, end):
        rows = np.flatnonzero(within)
        row, fill = tree.query(shapely.points(xy[rows]), predicate="dwithin", distance=GRID_MM)
        same = copper.piece[part[rows[row]]] == copper.piece[fills[fill]]
        within = np.zeros(len(part), dtype=bool)
        within[rows[row[same]]] = True
    return within


def _nodes(
    start: NDArray[np.float64], end: NDArray[np.float64], piece: NDArray[np.int32]
) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    """Node indices (s, 2) and positions (v, 2): ends on one grid point of one piece are one node."""
    ends = np.concatenate([start, end])
    grid = np.round(ends / GRID_MM).astype(np.int64)
    keys = (grid[:, 1], grid[:, 0], np.concatenate([piece, piece]))
    order = np.lexsort(keys)
    begins = np.zeros(len(order), dtype=bool)
    for key in keys:
        begins |= np.diff(key[order], prepend=key[order[:1]] - 1) != 0
    node = np.empty(len(order), dtype=np.int32)
    node[order] = np.cumsum(begins) - 1
    return node.reshape(2, -1).T, ends[order[begins]]
