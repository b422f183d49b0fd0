"""Annular rings: how much copper of its own a hole has around it on a layer, in the direction where it has least.

Most holes stand in a round flash, where one subtraction tells. Where that is too little, and other copper goes on all
around it, one area or one stroke may be enough; else all copper that is connected to the hole is united in a small
window.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import around, grown
from fencepost.board.model import TOUCH_MM, Board, Copper
from fencepost.board.shared import shared
from fencepost.clipping import clipped
from fencepost.fabrication.build import TOLERANCE_MM

MARGIN_MM = 0.02
"""Of the window beyond the ring that is asked for."""

CLOSE_MM = TOUCH_MM / 2
"""By how much all copper is grown where it is united, so that what is connected leaves no slit; taken off again."""

ROUND = 32
"""Chords of a quarter of a hole where copper is united with it: its rim is then 0.03 % of its radius too small."""

STROKE = 16
"""Chords of a quarter of a round end or flash there: 0.1 % of its radius too small."""

FIRST = tuple(np.radians([angle]) for angle in (15.0, 135.0, 255.0))
"""Directions in which copper is looked for just outside of a round flash, one by one: they tell of most holes."""

ALL_ROUND = np.radians(np.arange(0.0, 360.0, 22.5))
"""Those in which it is looked for where they do not."""

LONG = 16
"""Points of a shape from which on it is worth while to cut off first what is far away."""

BEYOND_MM = 0.0015
"""Outside of a round flash: what ends there may pass for the end of the ring (design: a tolerance of 1 µm)."""


class Ring(NamedTuple):
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
        here, pad, flash = here[thin], width[thin], flash[thin]
        alone = np.zeros(len(here), dtype=bool)
        for angle in FIRST:
            alone |= _stands_alone(board, copper, here, pad, ~alone, angle)
        asked = ~alone
        for wide_in in (in_area, in_stroke):
            asked[asked] = ~wide_in(board, copper, here[asked], limit - TOLERANCE_MM)
        alone |= _stands_alone(board, copper, here, pad, asked, ALL_ROUND)
        known = _rings(copper, here[alone], pad[alone], np.zeros(int(alone.sum())), flash[alone])
        asked &= ~alone
        for ring in sorted((*known, *rings_at(board, copper, here[asked], limit)), key=lambda ring: ring.hole):
            ends = copper.layer in (holes.first[ring.hole], holes.last[ring.hole])
            if ring.width < limit - TOLERANCE_MM and (ring.part >= 0 or ends):
                yield ring


def in_flash(board: Board, copper: Copper, here: NDArray[np.intp]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The widest ring, mm, that a round flash gives to each of these holes, and the part that it is; -inf and -1 where
    there is none, below 0 where the hole breaks out of it."""
    best, flash = _in_flashes(board, copper.layer)
    return best[here], flash[here]


@shared
def _in_flashes(board: Board, layer: int) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The same for all holes of the board, whether they pass the layer or not."""
    holes, copper = board.holes, board.copper[layer - 1]
    round_ = np.flatnonzero(shapely.get_type_id(copper.geometry) == shapely.GeometryType.POINT)
    best, flash = np.full(len(holes), -np.inf), np.full(len(holes), -1, dtype=np.int64)
    tree = shapely.STRtree(shapely.points(holes.centre))
    p, h = tree.query(copper.geometry[round_], "dwithin", copper.reach[round_])
    middle = shapely.get_coordinates(copper.geometry[round_])
    away = np.maximum(*(np.hypot(*(ends[h] - middle[p]).T) for ends in (holes.start, holes.end)))
    width = copper.reach[round_[p]] - away - holes.diameter[h] / 2
    order = np.lexsort((p, width))
    best[h[order]], flash[h[order]] = width[order], round_[p[order]]
    return best, flash


def in_area(board: Board, copper: Copper, here: NDArray[np.intp], least: float) -> NDArray[np.bool_]:
    """Whether one area gives to each of these holes a ring of so many mm or more; for 0 it need only hold the hole."""
    holes = board.holes
    shape, wide = holes.geometry[here], np.zeros(len(here), dtype=bool)
    hole, part = copper.tree.query(shape)
    area = copper.reach[part] == 0
    hole, part = hole[area], part[area]
    shapely.prepare(copper.geometry[np.unique(part)])
    inside = shapely.contains_properly(copper.geometry[part], shape[hole])
    hole, part = hole[inside], part[inside]
    used, which = np.unique(part, return_inverse=True)
    edges = shapely.boundary(copper.geometry[used])
    shapely.prepare(edges)
    narrow = shapely.dwithin(edges[which], shape[hole], holes.diameter[here[hole]] / 2 + least)
    wide[hole[~narrow]] = True
    return wide


def in_stroke(board: Board, copper: Copper, here: NDArray[np.intp], least: float) -> NDArray[np.bool_]:
    """Whether one stroke or round flash gives to each of these holes, slots left out, a ring of at least so many mm."""
    holes = board.holes
    shape, wide = holes.geometry[here], np.zeros(len(here), dtype=bool)
    hole, part = copper.tree.query(shape)
    slack = copper.reach[part] - holes.diameter[here[hole]] / 2 - least
    likely = (slack >= 0) & (holes.start[here[hole]] == holes.end[here[hole]]).all(axis=1)
    hole, part, slack = hole[likely], part[likely], slack[likely]
    wide[hole[shapely.dwithin(copper.geometry[part], shape[hole], slack)]] = True
    return wide


def _stands_alone(
    board: Board,
    copper: Copper,
    here: NDArray[np.intp],
    pad: NDArray[np.float64],
    asked: NDArray[np.bool_],
    angle: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Whether the ring `pad` that a flash gives is all there is: just outside of it, one of some directions is bare.

    That is, it has no copper at all. False where it is not asked, for slots, and where there is no such ring.
    """
    holes = board.holes
    alone = np.zeros(len(here), dtype=bool)
    chosen = np.flatnonzero(asked & (pad > 0) & (holes.start[here] == holes.end[here]).all(axis=1))
    out = holes.diameter[here[chosen]] / 2 + pad[chosen] + BEYOND_MM
    ray = np.column_stack([np.cos(angle), np.sin(angle)])
    spots = holes.centre[here[chosen]][:, None, :] + out[:, None, None] * ray
    alone[chosen] = _bare(copper, spots.reshape(-1, 2)).reshape(-1, len(ray)).any(axis=1)
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
    windows = around(shapely.bounds(shape), reach)
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
    united = np.full(len(here), shapely.GeometryCollection(), dtype=object)
    found, which = np.unique(hole[own], return_inverse=True)
    united[found] = shapely.union_all(shapely.geometrycollections(outlines, indices=which)[:, None], axis=1)
    edges = shapely.boundary(shapely.union(united, drilled))
    width = np.maximum(shapely.distance(edges, shape) - radius - CLOSE_MM, 0.0)
    rim = shapely.boundary(shapely.buffer(shape, radius + TOUCH_MM, quad_segs=ROUND))
    bare = 360.0 * shapely.length(shapely.difference(rim, united)) / shapely.length(rim)
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


def _clipped(copper: Copper, parts: NDArray[np.integer], windows: NDArray[np.object_]) -> NDArray[np.object_]:
    """The outline of each part in its window, CLOSE_MM wider.

    Lines are clipped before they are drawn out, because chains are long.
    """
    reach = copper.reach[parts]
    cut: NDArray[np.object_] = copper.geometry[parts]
    long = np.flatnonzero(shapely.get_num_coordinates(cut) > LONG)
    cut[long] = clipped(cut[long], grown(shapely.bounds(windows[long]), 2 * reach[long]))
    drawn = reach > 0
    cut[drawn] = shapely.buffer(cut[drawn], reach[drawn] + CLOSE_MM, quad_segs=STROKE)
    cut[~drawn] = shapely.buffer(cut[~drawn], CLOSE_MM, join_style="mitre")
    return cut
