"""What a via keeps off within a window of the board, as shapes and the distances of its centre from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.placement.tiles import tiles_of
from fencepost.placement.via import ViaModel

CHORDS, ROUGH_CHORDS = 24, 4
"""Of a quarter circle."""

SLACK = 1 / np.cos(0.75 * np.pi / (2 * CHORDS))
"""Chords of a buffer lie within the circle, by an angle of no more than 1.5 steps: so much wider, they lie outside."""

REACH = 1.05
"""Few chords lie within a circle by less than this."""

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
    pour   bool (k)   copper that a layout program would fill anew around a via
    """

    geometry: NDArray[np.object_]
    keep: NDArray[np.float64]
    layer: NDArray[np.int32]
    row: NDArray[np.int64]
    pour: NDArray[np.bool_]

    def grown(self, chords: int = CHORDS) -> NDArray[np.object_]:
        """Where the centre of a via cannot be for each of them: never too small for the chords of `CHORDS`."""
        return _grown(self.geometry, self.keep * SLACK + MARGIN_MM, chords)

    def roughly_legal(self, region: BaseGeometry) -> BaseGeometry:
        """What of a region is left where little is known of arcs: all that is legal, and slivers that are not.

        Quick, and mostly the answer: a pour of another net, or a few vias and traces, leave nothing. So what takes much
        and costs little comes first, and what follows has only the rest to look at.
        """
        dimension = shapely.get_dimensions(self.geometry)
        solid = self.geometry[dimension == 2]
        shapely.prepare(region)
        left = without(region, solid[shapely.intersects(region, solid)])
        for kind in range(3):
            if left.is_empty:
                break
            near = self.take(np.flatnonzero(dimension == kind)).near(left).widest()
            left = without(left, _grown(near.geometry, near.keep, ROUGH_CHORDS))
        return left

    def legal(self, region: BaseGeometry) -> BaseGeometry:
        """Where in a region the centre of a via can be."""
        return without(region, self.near(region).widest().grown())

    def near(self, region: BaseGeometry) -> Obstacles:
        """Those that are in the way somewhere in a region, lines cut near it: a long one costs no more than a short."""
        shapely.prepare(region)
        away = self.keep * SLACK + MARGIN_MM
        rows = np.flatnonzero(shapely.dwithin(region, self.geometry, away))
        taken = self.take(rows)
        return replace(taken, geometry=_clipped(taken.geometry, region.bounds, float(away[rows].max(initial=0.0))))

    def widest(self) -> Obstacles:
        """Of points at one place, as a via's pads and its hole, only the one that is kept off most; all else."""
        points = shapely.get_type_id(self.geometry) == shapely.GeometryType.POINT
        rows = np.flatnonzero(points)
        rows = rows[np.argsort(-self.keep[rows], kind="stable")]
        _, first = np.unique(np.round(shapely.get_coordinates(self.geometry[rows]), 6) @ (1, 1j), return_index=True)
        return self.take(np.concatenate([np.flatnonzero(~points), rows[first]]))

    def with_(self, others: Obstacles) -> Obstacles:
        """These and others."""
        both = zip(self.columns, others.columns, strict=True)
        return Obstacles(*(np.concatenate(pair) for pair in both))

    @property
    def columns(self) -> tuple[NDArray[Any], ...]:
        return (self.geometry, self.keep, self.layer, self.row, self.pour)

    def take(self, rows: NDArray[np.int64]) -> Obstacles:
        """Only these."""
        return Obstacles(*(column[rows] for column in self.columns))


NOTHING = Obstacles(
    np.empty(0, dtype=object), np.empty(0), np.empty(0, np.int32), np.empty(0, np.int64), np.empty(0, np.bool_)
)


def without(region: BaseGeometry, shapes: NDArray[np.object_]) -> BaseGeometry:
    """What shapes leave of a region."""
    return polygonal(shapely.difference(region, shapely.union_all(shapes))) if len(shapes) else region


def _grown(geometry: NDArray[np.object_], by: NDArray[np.float64], chords: int) -> NDArray[np.object_]:
    grown: NDArray[np.object_] = shapely.buffer(geometry, by, quad_segs=chords)
    return grown


def _clipped(geometry: NDArray[np.object_], box: Box, by: float) -> NDArray[np.object_]:
    """Lines cut at the sides of a box that is wider by so much; points and areas as they are."""
    lines = shapely.get_type_id(geometry) == shapely.GeometryType.LINESTRING
    clipped: NDArray[np.object_] = geometry.copy()
    if len(geometry):
        clipped[lines] = shapely.clip_by_rect(geometry[lines], *grown_box(box, by).bounds)
    return clipped


def obstacles_in(board: Board, model: ViaModel, net: int, box: Box, placed: Sequence[Placed] = ()) -> Obstacles:
    """All that a via of a ground net keeps off in a box (x0, y0, x1, y1), pours that it may go through as well."""
    found = [
        *_copper(board, model, net, box),
        _holes(board, model, net, box),
        _edge(board, model, box),
        _placed(model, net, box, placed),
    ]
    return Obstacles(*(np.concatenate(column) for column in zip(*(own.columns for own in found), strict=True)))


def ground_in(
    board: Board,
    radius: float,
    net: int,
    region: BaseGeometry,
    layer: int,
    pieces: Sequence[int] = (),
    chords: int = CHORDS,
) -> BaseGeometry:
    """Where in a region a whole pad of a radius lies within copper of a ground net on a layer; of these pieces if any.

    Only what is near the region is looked at: what is left of a window, as a few slivers, costs little.
    """
    by = radius * SLACK + MARGIN_MM
    frame, tiles = region.buffer(by * REACH, quad_segs=ROUGH_CHORDS), tiles_of(board, layer)
    near = tiles.near(frame)
    near = near[tiles.net[near] == net]
    if len(pieces):
        near = near[np.isin(tiles.piece[near], pieces)]
    if not len(near):
        return shapely.Polygon()
    geometry, reach = tiles.geometry[near], tiles.reach[near]
    drawn = reach > 0
    bare = without(frame, geometry[~drawn])
    if not bare.is_empty:
        # Most pads and strokes lie within a pour, and what a fill covers adds nothing.
        shapely.prepare(bare)
        strokes = drawn & shapely.dwithin(bare, geometry, reach)
        lines = _clipped(geometry[strokes], frame.bounds, float(reach.max()))
        bare = without(bare, _grown(lines, reach[strokes], chords))
    return polygonal(shapely.difference(region, bare.buffer(by, quad_segs=chords)))


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
    no_pour = np.zeros(len(geometry), dtype=np.bool_)
    return Obstacles(geometry, keep, np.full(len(geometry), layer, dtype=np.int32), row, no_pour)


def _copper(board: Board, model: ViaModel, net: int, box: Box) -> list[Obstacles]:
    frame = grown_box(box, max(model.off_copper, model.radius + model.clearance))
    return [_of_layer(board, model, net, frame, layer) for layer in range(1, board.layers + 1)]


def _of_layer(board: Board, model: ViaModel, net: int, frame: BaseGeometry, layer: int) -> Obstacles:
    tiles = tiles_of(board, layer)
    near = tiles.near(frame)
    other = tiles.net[near] != net
    chosen = other | (tiles.solder[near] & (not model.via_in_pad))
    near, other = near[chosen], other[chosen]
    keep = np.where(other, model.off_copper, model.radius + model.clearance)
    of_layer = np.full(len(near), layer, dtype=np.int32)
    return Obstacles(
        tiles.geometry[near], tiles.reach[near] + keep, of_layer, tiles.part[near], tiles.pour[near] & other
    )


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
