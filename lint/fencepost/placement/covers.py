"""Ground vias that copper with too few of them lacks: over areas, along the rim, at the ends of fingers."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import Board
from fencepost.placement.need import Need, Point
from fencepost.placement.returns import groups_of
from fencepost.signals.fences import END, Gap
from fencepost.signals.posts import Posts

MOST = 200
"""Vias that are asked for over one area; what then is left is found when the rules look again."""

NEAR = 0.9
"""Of the farthest that a tie may be: how near every point of an area comes to a via of a grid; the rest is room to
move it."""

USED = 0.8
"""Of the widest gap, that vias planned one after another are apart."""

INSET_MM = 0.8
"""From the edge of the board to a via of its rim, where no other one shows how far they are."""


def area_needs(
    board: Board, area: BaseGeometry, first: Point, pieces: tuple[int, int], limit: float
) -> tuple[Need, ...]:
    """Vias between two pieces, so that no point of an area is farther than `limit` (mm) from one.

    One at `first` is wanted most. Empty where the pieces are of two nets.
    """
    groups = groups_of(board, pieces[:1], pieces[1:])
    if not groups:
        return ()
    then = "a tie is {:.2f} mm from here"
    points = spread(area, first, NEAR * limit)
    radius = limit / 2 if len(points) == 1 else (1 - NEAR) * limit
    return tuple(Need(at, groups, ((*at, radius),), anchors=(at,), then=then) for at in points)


def spread(area: BaseGeometry, first: Point, reach: float) -> list[Point]:
    """Places of a grid within an area, the nearest to `first` first; no cell's corner is farther than `reach` (mm).

    `first` alone where the area is no larger than a cell.
    """
    x0, y0, x1, y1 = area.bounds
    across, up = (max(math.ceil(side / (math.sqrt(2) * reach) - 1e-4), 1) for side in (x1 - x0, y1 - y0))
    xs, ys = x0 + (np.arange(across) + 0.5) * (x1 - x0) / across, y0 + (np.arange(up) + 0.5) * (y1 - y0) / up
    grid = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    inside = grid[shapely.intersects(area, shapely.points(grid))] if len(grid) > 1 else grid[:0]
    away = np.hypot(*(inside - first).T)
    nearest = inside[np.argsort(away, kind="stable")][:MOST]
    return [(float(x), float(y)) for x, y in nearest] or [first]


def finger_need(board: Board, piece: int, end: Point, limit: float) -> tuple[Need, ...]:
    """A via near the end of a finger of a piece, that ties it to ground of its net on any other layer.

    Near in a straight line, and not along the copper: whether it mends the finger, the rule says when it looks again.
    """
    others = np.flatnonzero(
        (board.pieces.net == board.pieces.net[piece]) & (board.pieces.layer != board.pieces.layer[piece])
    )
    if not len(others):
        return ()
    return (Need(end, ((piece,), tuple(others.tolist())), ((*end, limit / 4),)),)


def rim_gap_needs(
    board: Board, posts: Posts, gap: Gap, at: Sequence[tuple[Point, Point]], layers: tuple[int, int], limit: float
) -> tuple[Need, ...]:
    """Vias that close a gap along the rim between two layers (1-based), those in its middle first.

    `at` has for each via a point of the edge and the unit vector inwards.
    """
    groups = groups_of(board, *(np.flatnonzero(board.pieces.layer == layer).tolist() for layer in layers))
    if not groups:
        return ()
    known = [post for post in (gap.before, gap.after) if post != END]
    away = float(np.mean(posts.away[known])) if known else INSET_MM
    anchors = tuple((float(x), float(y)) for x, y in posts.centre[known])
    slack = max((limit - gap.width / (len(at) + 1)) / 2, 0.0)
    needs = []
    for (x, y), (to_x, to_y) in at:
        place = (x + to_x * away, y + to_y * away)
        single = len(at) == 1 and len(known) == 2
        discs = tuple((*anchor, limit) for anchor in anchors) if single else ((*place, slack),)
        then = "the widest gap here is {:.2f} mm" if single else ""
        needs.append(Need(place, groups, discs, anchors=anchors if single else (), then=then))
    return tuple(needs)


def stations_in(gap: Gap, limit: float) -> NDArray[np.float64]:
    """Where along a gap vias are wanted, those in its middle first; mm."""
    count = max(math.ceil(gap.width / (USED * limit) - 1e-4) - 1, 1)
    order = sorted(range(1, count + 1), key=lambda i: (abs(2 * i - count - 1), i))
    return gap.begin + (gap.end - gap.begin) * np.array(order) / (count + 1)
