"""Annular rings: how much copper of its own a hole has around it on a layer, in the direction where it has least.

Most holes stand in a round flash, where one subtraction tells. Where that is too little, and other copper goes on all
around it, one area or one stroke may be enough; else all copper that is connected to the hole is united in a small
window.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree

from fencepost.board.model import TOUCH_MM, Board, Copper
from fencepost.fabrication.build import TOLERANCE_MM

MARGIN_MM = 0.02
"""Of the window beyond the ring that is asked for."""

CLOSE_MM = TOUCH_MM / 2
"""By how much all copper is grown where it is united, so that what is connected leaves no slit; taken off again."""

ROUND = 32
"""Chords of a quarter of a hole where copper is united with it: its rim is then 0.03 % of its radius too small."""

STROKE = 16
"""Chords of a quarter of a round end or flash there: 0.1 % of its radius too small."""

DIRECTIONS = tuple(np.radians(angles) for angles in ([15.0], [135.0], [255.0], np.arange(0.0, 360.0, 22.5)))
"""In which copper is looked for just outside of a round flash: one by one first, for most holes are told by these."""

BEYOND_MM = 0.0015
"""Outside of a round flash: what ends there may pass for the end of the ring (design: a tolerance of 1 µm)."""


@dataclass(frozen=True)
class Ring:
    """The ring of a hole on a layer, in mm, 0 where the hole breaks out of the copper; `open` is over how many degrees.

    `part` is a part of the layer's copper that touches the hole, -1 where none does.
    """

    hole: int
    layer: int
    width: float
    open: float
    part: int


def thin_rings(board: Board, outer: float, inner: float) -> Iterator[Ring]:
    """Rings of plated holes narrower than these limits for outer and inner layers (mm), by layer and hole.

    A hole that no copper touches has a ring of 0 on the layers where it begins and ends. On those between it has none:
    pads that nothing is connected to may be left out.
    """
    holes = board.holes
    for copper in board.copper:
        limit = outer if copper.layer in (1, board.layers) else inner
        here = np.flatnonzero(holes.plated & (holes.first <= copper.layer) & (holes.last >= copper.layer))
        width, flash = in_flash(board, copper, here)
        thin = width < limit - TOLERANCE_MM
        here, width, flash = here[thin], width[thin], flash[thin]
        alone = (width > 0) & _stands_alone(board, copper, here, width)
        for alone_in in (in_area, in_stroke):
            asked = ~alone & (width < limit - TOLERANCE_MM)
            width = np.maximum(width, alone_in(board, copper, here, asked))
        known = _rings(copper, here[alone], width[alone], np.zeros(int(alone.sum())), flash[alone])
        asked = ~alone & (width < limit - TOLERANCE_MM)
        for ring in sorted((*known, *rings_at(board, copper, here[asked], limit)), key=lambda ring: ring.hole):
            ends = copper.layer in (holes.first[ring.hole], holes.last[ring.hole])
            if ring.width < limit - TOLERANCE_MM and (ring.part >= 0 or ends):
                yield ring


def in_flash(board: Board, copper: Copper, here: NDArray[np.intp]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The widest ring, mm, that a round flash gives to each of these holes, and the part that it is; -inf and -1 where
    there is none, below 0 where the hole breaks out of it."""
    holes = board.holes
    round_ = np.flatnonzero(shapely.get_type_id(copper.geometry) == shapely.GeometryType.POINT)
    best, flash = np.full(len(here), -np.inf), np.full(len(here), -1, dtype=np.int64)
    if not len(round_) or not len(here):
        return best, flash
    middle = shapely.get_coordinates(copper.geometry[round_])
    near = KDTree(holes.centre[here]).query_ball_point(middle, copper.reach[round_])
    count = np.array([len(found) for found in near])
    which = np.concatenate([np.array(found, dtype=np.int64) for found in near])
    p = np.repeat(np.arange(len(round_)), count)
    h = here[which]
    away = np.maximum(*(np.hypot(*(ends[h] - middle[p]).T) for ends in (holes.start, holes.end)))
    width = copper.reach[round_[p]] - away - holes.diameter[h] / 2
    order = np.argsort(width, kind="stable")
    best[which[order]], flash[which[order]] = width[order], round_[p[order]]
    return best, flash


def in_area(board: Board, copper: Copper, here: NDArray[np.intp], wanted: NDArray[np.bool_]) -> NDArray[np.float64]:
    """The widest ring, mm, that one area gives to each of these holes; -inf where none does or it is not wanted."""
    holes = board.holes
    radius = holes.diameter[here] / 2
    best = np.full(len(here), -np.inf)
    chosen = np.flatnonzero(wanted)
    hole, part = copper.tree.query(holes.geometry[here[chosen]])
    hole = chosen[hole]
    area = copper.reach[part] == 0
    hole, part = hole[area], part[area]
    shapely.prepare(copper.geometry[np.unique(part)])
    inside = shapely.contains_properly(copper.geometry[part], holes.geometry[here[hole]])
    hole, part = hole[inside], part[inside]
    used, which = np.unique(part, return_inverse=True)
    edges = shapely.boundary(copper.geometry[used])
    shapely.prepare(edges)
    np.maximum.at(best, hole, shapely.distance(edges[which], holes.geometry[here[hole]]) - radius[hole])
    return best


def in_stroke(board: Board, copper: Copper, here: NDArray[np.intp], wanted: NDArray[np.bool_]) -> NDArray[np.float64]:
    """A ring, mm, that one stroke or round flash gives to each of these holes at the least; -inf where none does, for
    slots, and where it is not wanted."""
    holes = board.holes
    chosen = np.flatnonzero(wanted & (holes.start[here] == holes.end[here]).all(axis=1))
    best = np.full(len(here), -np.inf)
    hole, part = copper.tree.query(holes.geometry[here[chosen]])
    drawn = copper.reach[part] > 0
    hole, part = chosen[hole[drawn]], part[drawn]
    away = shapely.distance(copper.geometry[part], holes.geometry[here[hole]])
    np.maximum.at(best, hole, copper.reach[part] - away - holes.diameter[here[hole]] / 2)
    return best


def _stands_alone(
    board: Board, copper: Copper, here: NDArray[np.intp], width: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Whether the ring that a flash gives is all there is: just outside of it, some direction has no copper at all."""
    holes = board.holes
    alone = np.zeros(len(here), dtype=bool)
    around = (width > 0) & (holes.start[here] == holes.end[here]).all(axis=1)
    out = holes.diameter[here] / 2 + width + BEYOND_MM
    for angle in DIRECTIONS:
        asked = np.flatnonzero(around & ~alone)
        ray = np.column_stack([np.cos(angle), np.sin(angle)])
        spots = holes.centre[here[asked]][:, None, :] + out[asked][:, None, None] * ray
        alone[asked] = _bare(copper, spots.reshape(-1, 2)).reshape(-1, len(ray)).any(axis=1)
    return alone


def _bare(copper: Copper, xy: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which of these places (n, 2) have no copper. What is quickest to tell goes first."""
    bare = np.ones(len(xy), dtype=bool)
    points = shapely.points(xy)
    point, part = copper.tree.query(points)
    kind, reach = shapely.get_type_id(copper.geometry[part]), copper.reach[part]

    flash = kind == shapely.GeometryType.POINT
    spot, shape = point[flash], copper.geometry[part[flash]]
    bare[spot[np.hypot(*(shapely.get_coordinates(shape) - xy[spot]).T) <= reach[flash]]] = False

    area = (reach == 0) & bare[point]
    spot, shape = point[area], copper.geometry[part[area]]
    bare[spot[shapely.intersects(shape, points[spot])]] = False

    stroke = ~flash & (reach > 0) & bare[point]
    spot, shape = point[stroke], copper.geometry[part[stroke]]
    bare[spot[shapely.dwithin(shape, points[spot], reach[stroke])]] = False
    return bare


def rings_at(board: Board, copper: Copper, here: NDArray[np.intp], limit: float) -> list[Ring]:
    """The rings of these holes from all copper that touches each, exact below `limit` (mm), wider above it."""
    holes = board.holes
    shape, radius = holes.geometry[here], holes.diameter[here] / 2
    reach = radius + limit + MARGIN_MM
    windows = _boxes(shapely.bounds(shape), reach)
    hole, part = copper.tree.query(windows)
    order = np.argsort(hole, kind="stable")
    hole, part = hole[order], part[order]
    close = shapely.dwithin(copper.geometry[part], shape[hole], copper.reach[part] + reach[hole])
    hole, part = hole[close], part[close]
    gap = shapely.distance(copper.geometry[part], shape[hole]) - copper.reach[part] - radius[hole]
    touching = gap <= TOUCH_MM
    own = np.isin(_key(board, copper, hole, part), _key(board, copper, hole[touching], part[touching]))
    outlines = _clipped(copper, part[own], windows[hole[own]])
    drilled = shapely.buffer(shape, radius + CLOSE_MM, quad_segs=ROUND)
    starts = np.searchsorted(hole[own], np.arange(len(here) + 1))
    around = np.array([shapely.union_all(outlines[i:j]) for i, j in pairwise(starts.tolist())], dtype=object)
    edges = shapely.boundary(shapely.union(around, drilled))
    width = np.maximum(shapely.distance(edges, shape) - radius - CLOSE_MM, 0.0)
    rim = shapely.boundary(shapely.buffer(shape, radius + TOUCH_MM, quad_segs=ROUND))
    bare = 360.0 * shapely.length(shapely.difference(rim, around)) / shapely.length(rim)
    main = np.full(len(here), -1, dtype=np.int64)
    deepest = np.argsort(-gap, kind="stable")
    deepest = deepest[touching[deepest]]
    main[hole[deepest]] = part[deepest]
    return _rings(copper, here, width, bare, main)


def _rings(
    copper: Copper,
    hole: NDArray[np.intp],
    width: NDArray[np.float64],
    bare: NDArray[np.float64],
    part: NDArray[np.int64],
) -> list[Ring]:
    """Columns as rings of one layer."""
    columns = (column.tolist() for column in (hole, width, bare, part))
    return [Ring(h, copper.layer, w, b, p) for h, w, b, p in zip(*columns, strict=True)]


def _key(board: Board, copper: Copper, hole: NDArray[np.integer], part: NDArray[np.integer]) -> NDArray[np.integer]:
    """One number for a hole and the piece that a part belongs to."""
    key: NDArray[np.integer] = hole.astype(np.int64) * len(board.pieces) + copper.piece[part]
    return key


def _boxes(bounds: NDArray[np.float64], grow: NDArray[np.float64]) -> NDArray[np.object_]:
    result: NDArray[np.object_] = shapely.box(*(bounds + grow[:, None] * np.array([-1.0, -1.0, 1.0, 1.0])).T)
    return result


def _clipped(copper: Copper, parts: NDArray[np.integer], windows: NDArray[np.object_]) -> NDArray[np.object_]:
    """The outline of each part in its window, CLOSE_MM wider.

    Lines are clipped before they are drawn out, because chains are long.
    """
    reach = copper.reach[parts]
    cut: NDArray[np.object_] = shapely.intersection(copper.geometry[parts], _boxes(shapely.bounds(windows), 2 * reach))
    drawn = reach > 0
    cut[drawn] = shapely.buffer(cut[drawn], reach[drawn] + CLOSE_MM, quad_segs=STROKE)
    cut[~drawn] = shapely.buffer(cut[~drawn], CLOSE_MM, join_style="mitre")
    return cut
