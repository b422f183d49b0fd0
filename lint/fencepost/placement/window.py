"""What stands in a window of the board: what a via keeps off, and the ground that it would tie."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.boxes import spans
from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.frozen import dataclass
from fencepost.placement.obstacles import (
    CHORDS,
    EDGE,
    HOLES,
    MARGIN_MM,
    PLACED,
    REACH,
    ROUGH_CHORDS,
    SLACK,
    Box,
    Obstacles,
    clipped,
    grown,
    grown_box,
    polygonal,
    without,
)
from fencepost.placement.tiles import tiles_of
from fencepost.placement.units import FIXED, Units, units, units_of_holes, units_of_parts
from fencepost.placement.via import ViaModel


@dataclass(frozen=True)
class Placed:
    """A via that has been placed: net (index into Board.nets), and the pieces of copper that it touches."""

    x: float
    y: float
    net: int
    pieces: frozenset[int]


def obstacles_in(
    board: Board, model: ViaModel, net: int, window: BaseGeometry, placed: Sequence[Placed] = ()
) -> Obstacles:
    """All that a via of a ground net keeps off in the box about a window; last the pours that it may go through."""
    box = (0.0, 0.0, 0.0, 0.0) if window.is_empty else window.bounds
    found = [
        *_copper(board, model, net, box),
        _holes(board, model, net, box),
        _edge(board, model, box),
        _placed(model, net, box, placed),
    ]
    columns = zip(*(own.columns for own in found), strict=True)
    trimmed = Obstacles(*(np.concatenate(column) for column in columns)).trimmed(box)
    return trimmed.take(np.argsort(trimmed.pour, kind="stable"))


def ground_in(
    board: Board,
    radius: float,
    net: int,
    region: BaseGeometry,
    layer: int,
    pieces: NDArray[np.int64] | None = None,
    chords: int = CHORDS,
) -> BaseGeometry:
    """Where in a region a whole pad of a radius lies within copper of a ground net on a layer: all, or these pieces.

    Only what is near the region is looked at: what is left of a window, as a few slivers, costs little.
    """
    by = radius * SLACK + MARGIN_MM
    frame, tiles = region.buffer(by * REACH, quad_segs=ROUGH_CHORDS), tiles_of(board, layer)
    near = tiles.near(frame)
    near = near[tiles.net[near] == net]
    if pieces is not None:
        near = near[among(board, tiles.piece[near], pieces)]
    if not len(near):
        return shapely.Polygon()
    geometry, reach = tiles.geometry[near], tiles.reach[near]
    drawn = reach > 0
    bare = without(frame, geometry[~drawn])
    if not bare.is_empty:
        # Most pads and strokes lie within a pour, and what a fill covers adds nothing.
        shapely.prepare(bare)
        strokes = drawn & shapely.dwithin(bare, geometry, reach)
        lines = clipped(geometry[strokes], frame.bounds, float(reach.max()))
        bare = without(bare, grown(lines, reach[strokes], chords))
    return polygonal(shapely.difference(region, bare.buffer(by, quad_segs=chords)))


def among(board: Board, pieces: NDArray[np.int32], some: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which of these pieces (n) are among some others."""
    wanted = np.zeros(len(board.pieces), dtype=np.bool_)
    wanted[some] = True
    found: NDArray[np.bool_] = wanted[pieces]
    return found


def _columns(
    geometry: NDArray[np.object_], keep: NDArray[np.float64], layer: int, row: NDArray[np.int64], own: Units
) -> Obstacles:
    no_pour = np.zeros(len(geometry), dtype=np.bool_)
    return Obstacles(geometry, keep, np.full(len(geometry), layer, dtype=np.int32), row, no_pour, *own)


def _fixed(layer: int, row: NDArray[np.int64]) -> Units:
    return units(FIXED, -layer, row), np.zeros(len(row), dtype=np.bool_)


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
    part = tiles.part[near]
    own = units_of_parts(board, layer, part)
    return Obstacles(tiles.geometry[near], tiles.reach[near] + keep, of_layer, part, tiles.pour[near] & other, *own)


@shared
def _hole_tree(board: Board) -> shapely.STRtree:
    return shapely.STRtree(spans(shapely.bounds(board.holes.geometry), board.holes.diameter / 2))


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
        none = np.empty(0, dtype=np.int64)
        return _columns(np.empty(0, dtype=object), np.empty(0), HOLES, none, units_of_holes(board, none))
    by = model.radius + model.drilled + model.wall + model.clearance + model.barrel + model.unplated
    near = _hole_tree(board).query(grown_box(box, by))
    return _columns(
        board.holes.geometry[near], hole_keep(board, model, net, near), HOLES, near, units_of_holes(board, near)
    )


def _edge(board: Board, model: ViaModel, box: Box) -> Obstacles:
    keep = model.radius + model.edge
    edges = shapely.get_parts(shapely.intersection(board.profile.boundary, grown_box(box, keep)))
    edges = edges[~shapely.is_empty(edges)]
    row = np.zeros(len(edges), dtype=np.int64)
    return _columns(edges, np.full(len(edges), keep), EDGE, row, _fixed(EDGE, row))


def _placed(model: ViaModel, net: int, box: Box, placed: Sequence[Placed]) -> Obstacles:
    wall = model.drilled + model.wall
    other = max(wall, model.radius + model.off_copper)
    points = shapely.points(np.array([(via.x, via.y) for via in placed], dtype=float).reshape(-1, 2))
    keep = np.array([wall if via.net == net else other for via in placed], dtype=float)
    near = np.flatnonzero(shapely.dwithin(points, shapely.box(*box), keep)) if len(placed) else np.empty(0, np.int64)
    return _columns(points[near], keep[near], PLACED, near, _fixed(PLACED, near))
