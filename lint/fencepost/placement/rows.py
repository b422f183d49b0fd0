"""Needs that make rows and grids: fences along traces, the rim of the board, pours."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import TOUCH_MM, Board
from fencepost.placement.need import Need, Point
from fencepost.placement.via import ViaModel
from fencepost.signals.fences import END, Fence, Gap, fence_along
from fencepost.signals.posts import ground_to_tie
from fencepost.signals.runs import Run, runs_of
from fencepost.signals.samples import Samples, samples_along
from fencepost.signals.sides import sides_of
from fencepost.signals.ties import ties_of

USED = 0.8
"""Of the limit, that vias planned one after another are apart: what is left is room to move them."""

OFFSET_MM = 0.6
"""From the edge of a trace to a via of its fence, where no other one shows how far they are."""

DEPTH_MM = 3.0
"""From the edge of the board to a via that still is one of its rim."""

INSET_MM = 0.05
"""More than a via must stay away from the edge: how far from that a row along the rim is wanted."""


def gap_needs(board: Board, fence: Fence, gap: Gap, limit: float, reach: float) -> tuple[Need, ...]:
    """Vias that close a gap in a fence, the middle one first; empty where there is no ground to tie. All in mm."""
    count = max(math.ceil(gap.width / (USED * limit) - 1e-4) - 1, 1)
    step = (gap.end - gap.begin) / (count + 1)
    slack = max((limit - step) / 2, 0.0)
    samples = samples_along(board, fence.path)
    found = []
    for i in sorted(range(1, count + 1), key=lambda i: (abs(2 * i - count - 1), i)):
        station = gap.begin + i * step
        low, high = (gap.end - limit, gap.begin + limit) if count == 1 else (station - slack, station + slack)
        need = _post(board, fence, samples, gap, station, (max(low, gap.begin), min(high, gap.end)), limit, reach)
        if need is not None:
            found.append(need)
    return tuple(found)


def _post(
    board: Board,
    fence: Fence,
    samples: Samples,
    gap: Gap,
    station: float,
    between: tuple[float, float],
    limit: float,
    reach: float,
) -> Need | None:
    """A via beside one station of a gap, somewhere between two others; None where there is no ground to tie."""
    path, posts = fence.path, fence.posts
    known = [post for post in (gap.before, gap.after) if post != END]
    half = float(path.width[path.leg(station)]) / 2
    away = float(np.mean(posts.away[known])) if known else half + OFFSET_MM
    foot = path.at(station)
    leg = int(path.leg(station))
    along = path.xy[leg + 1] - path.xy[leg]
    left = np.array([-along[1], along[0]]) / np.hypot(*along)
    at = foot + left * min(away, half + reach)
    groups = ground_to_tie(board, path, samples, station, at, limit)
    area = _strip(path, *between, half + reach)
    if not groups or not area:
        return None
    ends = [posts.centre[p] if p != END else path.at(s) for p, s in ((gap.before, gap.begin), (gap.after, gap.end))]
    anchors = tuple((float(x), float(y)) for x, y in ends)
    single = gap.width <= 2 * limit * USED + TOUCH_MM
    discs = tuple((*anchors[i], limit) for i, p in enumerate((gap.before, gap.after)) if p != END) if single else ()
    then = "the widest gap here is {:.2f} mm" if single else "a gap of {:.2f} mm is left"
    return Need((float(at[0]), float(at[1])), groups, discs, area, anchors, then=then)


def _strip(path: Run, begin: float, end: float, wide: float) -> tuple[Point, ...]:
    """The ring around what lies to the left of a path between two of its stations; empty where it has no area."""
    if end - begin < TOUCH_MM:
        return ()
    inner = path.station[(path.station > begin) & (path.station < end)]
    line = shapely.LineString(path.at(np.concatenate([[begin], inner, [end]])))
    strip = line.buffer(wide, single_sided=True, quad_segs=16)
    parts = [part for part in shapely.get_parts(strip) if part.geom_type == "Polygon"]
    if not parts:
        return ()
    largest = max(parts, key=lambda part: part.area)
    return tuple((float(x), float(y)) for x, y in largest.exterior.coords[:-1])


def fence_needs(
    board: Board, net: int, limit: float, reach: float, together: float, partners: Iterable[int] = ()
) -> Iterator[Need]:
    """Rows along both sides of all traces of a net, where they are not fenced yet. All in mm."""
    for copper in board.copper:
        runs = tuple(run for run in runs_of(board, net) if run.layer == copper.layer)
        for side in sides_of(runs, limit):
            fence = fence_along(board, side, limit, reach, together, [net, *partners])
            for opening in fence.openings:
                for gap in opening.gaps:
                    yield from gap_needs(board, fence, gap, limit, reach)


def rim_needs(board: Board, model: ViaModel, pitch: float) -> Iterator[Need]:
    """A row along each edge of the board, where ties within DEPTH_MM of it are farther apart than the pitch (mm)."""
    inner = board.profile.buffer(-(model.radius + model.edge + INSET_MM))
    ties = ties_of(board).centre
    points = shapely.points(ties)
    for polygon in shapely.get_parts(inner):
        for ring in (polygon.exterior, *polygon.interiors):
            near = points[shapely.dwithin(points, ring, DEPTH_MM)] if len(points) else points
            stations = np.sort(shapely.line_locate_point(ring, near))
            # A round without any has to begin somewhere.
            first = [] if len(stations) else [_wanted(ring, 0.0, (1 - USED) * pitch / 2)]
            yield from first
            yield from _row(ring, _gaps(stations if len(stations) else np.zeros(1), ring.length, pitch), pitch)


def _gaps(stations: NDArray[np.float64], length: float, pitch: float) -> Iterator[tuple[float, float]]:
    """From where to where along a round there is no tie, where that is longer than the pitch."""
    for begin, end in zip(stations, [*stations[1:], stations[0] + length], strict=True):
        if end - begin > pitch:
            yield float(begin), float(end)


def _row(ring: shapely.LinearRing, gaps: Iterable[tuple[float, float]], pitch: float) -> Iterator[Need]:
    for begin, end in gaps:
        count = math.ceil((end - begin) / (USED * pitch) - 1e-4) - 1
        step = (end - begin) / (count + 1)
        slack = (pitch - step) / 2
        for i in range(1, count + 1):
            yield _wanted(ring, (begin + i * step) % ring.length, slack)


def _wanted(ring: shapely.LinearRing, station: float, slack: float) -> Need:
    point = ring.interpolate(station)
    at = (float(point.x), float(point.y))
    return Need(at, within=((*at, slack),))


def pour_needs(board: Board, model: ViaModel, pitch: float) -> Iterator[Need]:
    """A square grid over the board, where no tie stands within half of the pitch (mm) of one of its places."""
    import scipy

    inner = board.profile.buffer(-(model.radius + model.edge))
    if inner.is_empty:
        return
    x0, y0, x1, y1 = inner.bounds
    across, up = (np.arange(low + (high - low) % pitch / 2, high, pitch) for low, high in ((x0, x1), (y0, y1)))
    grid = np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)
    grid = grid[shapely.intersects(inner, shapely.points(grid))]
    ties = ties_of(board).centre
    if len(ties) and len(grid):
        grid = grid[scipy.spatial.KDTree(ties).query(grid)[0] > pitch / 2]
    for x, y in grid.tolist():
        yield Need((x, y), within=((x, y, pitch / 2 - TOUCH_MM),))
