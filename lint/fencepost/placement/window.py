"""What a via keeps off within a window of the board, as shapes and the distances of its centre from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.placement.tiles import tiles_of
from fencepost.placement.via import ViaModel

CHORDS = 24
"""Of a quarter circle."""

SLACK = 1 / np.cos(0.75 * np.pi / (2 * CHORDS))
"""Chords of a buffer lie within the circle, by an angle of no more than 1.5 steps: so much wider, they lie outside."""

MARGIN_MM = 0.0008
"""Kept in hand, so that a place that is legal stays so when it is rounded to 1 µm."""

HOLES, EDGE, PLACED = 0, -1, -2
"""Instead of a layer."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Placed:
    """A via that has been placed: net (index into Board.nets), and the pieces of copper that it touches."""

    x: float
    y: float
    net: int
    pieces: frozenset[int]


@dataclass(frozen=True, eq=False)
class Obstacles:
    """k shapes, and how far (mm) the centre of a via must stay away from each.

    layer  int32 (k)  1-based, or HOLES, EDGE, PLACED
    row    int64 (k)  the part of the layer's copper, or the hole; of what was placed its number
    """

    geometry: NDArray[np.object_]
    keep: NDArray[np.float64]
    layer: NDArray[np.int32]
    row: NDArray[np.int64]

    def grown(self) -> NDArray[np.object_]:
        """Where the centre of a via cannot be for each of them: never too small."""
        grown: NDArray[np.object_] = shapely.buffer(self.geometry, self.keep * SLACK + MARGIN_MM, quad_segs=CHORDS)
        return grown


def obstacles_in(board: Board, model: ViaModel, net: int, box: Box, placed: Sequence[Placed] = ()) -> Obstacles:
    """All that a via of a ground net keeps off in a box (x0, y0, x1, y1)."""
    found = [
        *(_copper(board, model, net, box, layer) for layer in range(1, board.layers + 1)),
        _holes(board, model, net, box),
        _edge(board, model, box),
        _placed(model, net, box, placed),
    ]
    return Obstacles(
        np.concatenate([own.geometry for own in found]),
        np.concatenate([own.keep for own in found]),
        np.concatenate([own.layer for own in found]),
        np.concatenate([own.row for own in found]),
    )


def ground_in(board: Board, radius: float, net: int, box: Box, layer: int, pieces: Sequence[int] = ()) -> BaseGeometry:
    """Where a whole pad of a radius lies within copper of a ground net on a layer, in a box; of these pieces if any."""
    frame, tiles = grown_box(box, 2 * radius), tiles_of(board, layer)
    near = tiles.tree.query(frame)
    near = near[tiles.net[near] == net]
    if len(pieces):
        near = near[np.isin(tiles.piece[near], pieces)]
    if not len(near):
        return shapely.Polygon()
    geometry, reach = tiles.geometry[near], tiles.reach[near]
    drawn = reach > 0
    solid = geometry[~drawn]
    outlines = shapely.buffer(geometry[drawn], reach[drawn], quad_segs=CHORDS)
    # Most pads lie within a pour: what a tile covers adds nothing.
    covered, _ = shapely.STRtree(solid).query(outlines, predicate="within")
    strokes = np.delete(outlines, covered)
    bare = shapely.difference(frame, shapely.union_all(np.concatenate([strokes, solid])))
    return shapely.difference(shapely.box(*box), bare.buffer(radius * SLACK + MARGIN_MM, quad_segs=CHORDS))


def polygonal(shape: BaseGeometry) -> BaseGeometry:
    """A shape without the points and lines that are left where areas only touch."""
    if shape.geom_type in ("Polygon", "MultiPolygon"):
        return shape
    return shapely.union_all([polygonal(part) for part in shapely.get_parts(shape) if part.area > 0])


def grown_box(box: Box, by: float) -> BaseGeometry:
    """A box that is wider on every side."""
    x0, y0, x1, y1 = box
    return shapely.box(x0 - by, y0 - by, x1 + by, y1 + by)


def _columns(geometry: NDArray[np.object_], keep: NDArray[np.float64], layer: int, row: NDArray[np.int64]) -> Obstacles:
    return Obstacles(geometry, keep, np.full(len(geometry), layer, dtype=np.int32), row)


def _copper(board: Board, model: ViaModel, net: int, box: Box, layer: int) -> Obstacles:
    tiles = tiles_of(board, layer)
    near = tiles.tree.query(grown_box(box, max(model.off_copper, model.radius + model.clearance)))
    other = tiles.net[near] != net
    own_pad = ~other & tiles.solder[near] & (not model.via_in_pad)
    keep = np.where(other, model.off_copper, model.radius + model.clearance)
    chosen = other & ~(tiles.pour[near] & model.through_pours) | own_pad
    near = near[chosen]
    return _columns(tiles.geometry[near], tiles.reach[near] + keep[chosen], layer, tiles.part[near])


@shared
def _hole_tree(board: Board) -> shapely.STRtree:
    grow = board.holes.diameter[:, None] / 2 * np.array([-1.0, -1.0, 1.0, 1.0])
    return shapely.STRtree(shapely.box(*(shapely.bounds(board.holes.geometry) + grow).T))


def hole_keep(board: Board, model: ViaModel, net: int, hole: NDArray[np.int64]) -> NDArray[np.float64]:
    """From the centre of a via of this net to the centre line of each of these holes, in mm."""
    holes = board.holes
    plated, finished = holes.plated[hole], holes.diameter[hole] / 2
    drilled = finished + model.plating / 2 * plated
    wall = drilled + model.drilled / 2 + model.wall
    copper = np.where(
        plated,
        np.where(holes.net[hole] == net, 0.0, drilled + model.radius + max(model.clearance, model.barrel)),
        finished + model.radius + model.unplated,
    )
    return np.maximum(wall, copper)


def _holes(board: Board, model: ViaModel, net: int, box: Box) -> Obstacles:
    if not len(board.holes):
        return _columns(np.empty(0, dtype=object), np.empty(0), HOLES, np.empty(0, dtype=np.int64))
    by = model.radius + model.drilled + model.wall + model.clearance + model.barrel + model.unplated
    near = _hole_tree(board).query(grown_box(box, by))
    return _columns(board.holes.geometry[near], hole_keep(board, model, net, near), HOLES, near)


def _edge(board: Board, model: ViaModel, box: Box) -> Obstacles:
    keep = model.radius + model.edge
    edges = shapely.get_parts(shapely.intersection(board.profile.boundary, grown_box(box, keep)))
    edges = edges[~shapely.is_empty(edges)]
    return _columns(edges, np.full(len(edges), keep), EDGE, np.zeros(len(edges), dtype=np.int64))


def _placed(model: ViaModel, net: int, box: Box, placed: Sequence[Placed]) -> Obstacles:
    wall = model.drilled + model.wall
    other = max(wall, model.radius + model.off_copper)
    points = shapely.points(np.array([(via.x, via.y) for via in placed], dtype=float).reshape(-1, 2))
    keep = np.array([wall if via.net == net else other for via in placed], dtype=float)
    near = np.flatnonzero(shapely.dwithin(points, shapely.box(*box), keep)) if len(placed) else np.empty(0, np.int64)
    return _columns(points[near], keep[near], PLACED, near)
