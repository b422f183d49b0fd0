"""Which part of a piece of ground or power copper is nearest to a place, as the place where it ends."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.signals.cover import Planes, planes_of

NEAR_MM = 0.1
"""Around a place, where its part is looked for first."""


def nearest_parts(board: Board, piece: NDArray[np.integer[Any]], xy: NDArray[np.float64]) -> NDArray[np.int64]:
    """The part of each of these pieces (n) that is nearest to a place (n, 2), as an index into its layer's Copper.

    Where several are, the one that goes farthest beyond the place, and of these the first.
    """
    found = np.empty(len(piece), dtype=np.int64)
    layer = board.pieces.layer[piece]
    for one in np.unique(layer).tolist():
        rows, planes = np.flatnonzero(layer == one), planes_of(board, one)
        points: NDArray[np.object_] = shapely.points(xy[rows])
        chosen = _near(planes, piece[rows], points)
        for i in np.flatnonzero(chosen < 0).tolist():
            own = np.flatnonzero(planes.piece == piece[rows[i]])
            away = shapely.distance(planes.geometry[own], points[i]) - planes.reach[own]
            chosen[i] = own[np.argmin(away)]
        found[rows] = planes.part[chosen]
    return found


def _near(planes: Planes, piece: NDArray[np.integer[Any]], points: NDArray[np.object_]) -> NDArray[np.int64]:
    """Of a layer's planes the nearest one of each piece (n) to its point (n), -1 where none is within NEAR_MM."""
    box = shapely.buffer(points, NEAR_MM, cap_style="square", quad_segs=1)
    place, part = planes.tree.query(box)
    own = planes.piece[part] == piece[place]
    place, part = place[own], part[own]
    reach = planes.reach[part]
    near = shapely.dwithin(planes.geometry[part], points[place], reach + NEAR_MM)
    place, part, reach = place[near], part[near], reach[near]

    # It takes long to measure to an area, and no point is within one by less than nothing.
    away, drawn = np.zeros(len(part)), reach > 0
    away[drawn] = shapely.distance(planes.geometry[part[drawn]], points[place[drawn]]) - reach[drawn]
    least = np.full(len(points), np.inf)
    np.minimum.at(least, place, np.where(drawn, away, np.inf))
    several = np.bincount(place, minlength=len(points)) > 1
    open_ = ~drawn & several[place] & (least[place] >= 0)
    away[open_] = shapely.distance(planes.geometry[part[open_]], points[place[open_]])

    order = np.lexsort((part, away, place))
    first = order[np.diff(place[order], prepend=-1) > 0]
    chosen = np.full(len(points), -1, dtype=np.int64)
    chosen[place[first]] = part[first]
    return chosen
