"""What must be cleared of pours where a via goes through them."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import Board
from fencepost.placement.obstacles import CHORDS, SLACK
from fencepost.placement.tiles import tiles_of
from fencepost.placement.via import ViaModel
from fencepost.placement.window import Placed


def cut_from_pours(board: Board, model: ViaModel, via: Placed, layer: int) -> list[shapely.Polygon]:
    """Areas without holes of other nets' pours that are too near to a via on a layer; mostly none."""
    around = shapely.Point(via.x, via.y).buffer(model.off_copper * SLACK, quad_segs=CHORDS)
    tiles = tiles_of(board, layer)
    near = tiles.near(around)
    near = near[tiles.pour[near] & (tiles.net[near] != via.net)]
    shapes: NDArray[np.object_] = tiles.geometry[near]
    drawn = tiles.reach[near] > 0
    shapes[drawn] = shapely.buffer(shapes[drawn], tiles.reach[near][drawn], quad_segs=CHORDS)
    cut = shapely.intersection(around, shapely.union_all(shapes)) if len(shapes) else shapely.Polygon()
    return [simple for part in shapely.get_parts(cut) if part.geom_type == "Polygon" for simple in _simple(part)]


def _simple(area: BaseGeometry) -> list[shapely.Polygon]:
    """The same area in polygons without holes."""
    if area.geom_type != "Polygon":
        return [simple for part in shapely.get_parts(area) for simple in _simple(part)] if not area.is_empty else []
    if not area.interiors:
        return [area] if area.area > 0 else []
    x0, y0, x1, y1 = area.bounds
    x = shapely.Polygon(area.interiors[0]).centroid.x
    halves = (shapely.box(x0, y0, x, y1), shapely.box(x, y0, x1, y1))
    return [simple for half in halves for simple in _simple(area.intersection(half))]
