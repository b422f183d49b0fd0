"""What lies over and under a point of a trace: on each side the nearest ground or power copper that covers it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board, NetKind
from fencepost.board.shared import shared

ABOVE, BELOW = 0, 1
SIDES = (ABOVE, BELOW)


@dataclass(frozen=True, eq=False)
class Planes:
    """The ground and power copper of one layer: its parts and a tree over them."""

    geometry: NDArray[np.object_]
    reach: NDArray[np.float64]
    piece: NDArray[np.int32]
    tree: shapely.STRtree

    def piece_at(self, points: NDArray[np.object_], margin: float = 0.0) -> NDArray[np.int32]:
        """The piece that covers each point, int32 (n), or the nearest within `margin` mm of it; -1 where none does."""
        covering = np.full(len(points), -1, dtype=np.int32)
        if margin > 0:
            (point, part), away = self._apart(points, margin)
            order = np.lexsort((self.piece[part], away, point))
            point, first = np.unique(point[order], return_index=True)
            covering[point] = self.piece[part[order][first]]
            return covering
        point, part = self.tree.query(points)
        for solid in (True, False):
            batch = (self.reach[part] == 0) == solid
            p, q = point[batch], part[batch]
            open_ = covering[p] < 0
            p, q = p[open_], q[open_]
            # On prepared polygons `intersects` is some three times faster than a distance of 0.
            shape = self.geometry[q]
            inside = shapely.intersects(shape, points[p]) if solid else shapely.dwithin(shape, points[p], self.reach[q])
            covering[p[inside]] = self.piece[q[inside]]
        return covering

    def _apart(
        self, points: NDArray[np.object_], margin: float
    ) -> tuple[tuple[NDArray[np.int64], NDArray[np.int64]], NDArray[np.float64]]:
        """Pairs of point and part within `margin` of one another, and their distance."""
        point, part = self.tree.query(shapely.buffer(points, margin, quad_segs=1, cap_style="square"))
        away = np.maximum(shapely.distance(self.geometry[part], points[point]) - self.reach[part], 0.0)
        near = away <= margin
        return (point[near], part[near]), away[near]


@shared
def planes_of(board: Board, layer: int) -> Planes:
    """The ground and power copper of a layer (1-based)."""
    copper = board.copper[layer - 1]
    solid = np.array([*(net.kind is not NetKind.SIGNAL for net in board.nets), False])
    parts = np.flatnonzero(solid[board.pieces.net[copper.piece]])
    geometry = copper.geometry[parts]
    shapely.prepare(geometry)
    return Planes(
        geometry, copper.reach[parts], copper.piece[parts], shapely.STRtree(shapely.box(*copper.bounds[parts].T))
    )


def cover(board: Board, layer: NDArray[np.int32], xy: NDArray[np.float64], margin: float = 0.0) -> NDArray[np.int32]:
    """The pieces above and below n points on traces, int32 (n, 2); -1 where no ground or power copper is on that side.

    `layer` (n) is the trace's own layer, 1-based; `xy` is (n, 2) in mm. A layer without copper at the point is looked
    through to the next one. Copper that ends no farther than `margin` mm from the point counts as covering it.
    """
    points: NDArray[np.object_] = shapely.points(xy)
    found = np.full((len(points), 2), -1, dtype=np.int32)
    for side, towards in ((ABOVE, -1), (BELOW, 1)):
        for steps in range(1, board.layers):
            target = layer + towards * steps
            open_ = (found[:, side] < 0) & (target >= 1) & (target <= board.layers)
            for other in np.unique(target[open_]):
                chosen = np.flatnonzero(open_ & (target == other))
                found[chosen, side] = planes_of(board, int(other)).piece_at(points[chosen], margin)
    return found


def weights(board: Board, layer: NDArray[np.int32], pieces: NDArray[np.int32]) -> NDArray[np.float64]:
    """The share of the return current on each side, (n, 2): inverse to height, 0 where there is no copper.

    `pieces` (n, 2) as `cover` gives it. Rows without any copper are 0, the others add up to 1.
    """
    heights = np.array(
        [[board.stackup.height(a, b) if a != b else np.inf for b in range(1, board.layers + 1)]
         for a in range(1, board.layers + 1)]
    )  # fmt: skip
    height = heights[layer[:, None] - 1, board.pieces.layer[pieces] - 1]
    inverse = np.where(pieces >= 0, 1.0 / height, 0.0)
    total = inverse.sum(axis=1, keepdims=True)
    share: NDArray[np.float64] = np.divide(inverse, total, out=np.zeros_like(inverse), where=total > 0)
    return share
