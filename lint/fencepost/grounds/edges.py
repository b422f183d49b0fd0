"""The lines along which the rim of the ground is looked at, and the ground behind each of their points."""

from __future__ import annotations

from enum import Enum
from itertools import combinations, pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.frozen import dataclass
from fencepost.grounds.areas import area_of
from fencepost.signals.cover import planes_of
from fencepost.signals.runs import Run

STEP_MM = 0.25
"""Between samples along a line."""

DEPTH_MM = 0.2
"""Between samples inwards: narrower strips of copper at the edge are seen only where there is more behind them."""

LOOKS = (0, 2, 6, 18)
"""Samples inwards before each further look, where none has found ground yet."""

MOST_OF = 0.5
"""Of a line: with ground behind less than this of the board's edge, the ground stays away from the edge."""


class LineKind(Enum):
    """What a line runs along. Its value is the word for the user."""

    BOARD = "the rim of the board"
    CUTOUT = "the cut-out"
    COPPER = "the edge of the ground copper"


@dataclass(frozen=True, eq=False)
class Line:
    """A closed line with the board, or the copper, to its left. `path` begins and ends at the same point."""

    kind: LineKind
    path: Run

    @property
    def length(self) -> float:
        return self.path.length

    def at(self, station: float) -> NDArray[np.float64]:
        """(2): the point at a station, mm along the line, any number of times round."""
        return self.path.at(station % self.path.length)

    def left(self, station: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2): unit vectors inwards."""
        step = np.diff(self.path.xy, axis=0)[self.path.leg(station)]
        return np.asarray(np.column_stack([-step[:, 1], step[:, 0]]) / np.hypot(*step.T)[:, None])

    def nearest(self, points: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """(n), (n): the station next to each point (n, 2), and how far away it is; in mm."""
        ring, spots = shapely.LineString(self.path.xy), shapely.points(points)
        return shapely.line_locate_point(ring, spots), shapely.distance(ring, spots)


@dataclass(frozen=True, eq=False)
class Behind:
    """The ground inwards of n samples along a line.

    station   float64 (n)         mm along the line
    piece     int32 (n, layers)   the first ground piece on each layer, -1 for none
    distance  float64 (n, layers) how far away it is, inf for none
    """

    station: NDArray[np.float64]
    piece: NDArray[np.int32]
    distance: NDArray[np.float64]


def lines_of(board: Board, smallest: float) -> list[Line]:
    """The outlines of the board, and of those of its cut-outs that are larger than `smallest` (mm) across."""
    lines = []
    outlines = [] if board.profile.is_empty else shapely.get_parts(shapely.orient_polygons(board.profile)).tolist()
    for polygon in outlines:
        lines.append(Line(LineKind.BOARD, _path(polygon.exterior)))
        large = [ring for ring in polygon.interiors if 2 * shapely.minimum_bounding_radius(ring) > smallest]
        lines += [Line(LineKind.CUTOUT, _path(ring)) for ring in large]
    return lines


def copper_lines(board: Board, within: shapely.Polygon, pieces: NDArray[np.int32], smallest: float) -> list[Line]:
    """The outlines of where these pieces lie over one another, where they are larger than `smallest` (mm) across.

    Gaps up to `smallest` do not count.
    """
    layer = board.pieces.layer[pieces]
    sheets = [shapely.union_all([area_of(board, int(p)) for p in pieces[layer == one]]) for one in np.unique(layer)]
    twice = shapely.union_all([shapely.intersection(one, other) for one, other in combinations(sheets, 2)])
    closed = shapely.buffer(shapely.buffer(shapely.intersection(twice, within), smallest / 2), -smallest / 2)
    outlines = [polygon.exterior for polygon in shapely.get_parts(shapely.orient_polygons(closed))]
    large = [ring for ring in outlines if 2 * shapely.minimum_bounding_radius(ring) > smallest]
    return [Line(LineKind.COPPER, _path(ring)) for ring in large]


def _path(ring: shapely.LinearRing) -> Run:
    """A ring from the middle of its longest leg on, so that no corner is where it begins."""
    corners = shapely.get_coordinates(ring)[:-1]
    ahead = np.roll(corners, -1, axis=0)
    longest = int(np.argmax(np.hypot(*(ahead - corners).T)))
    start = (corners[longest] + ahead[longest]) / 2
    xy = np.concatenate([[start], np.roll(corners, -longest - 1, axis=0), [start]])
    legs = len(xy) - 1
    return Run(-1, 0, xy, np.zeros(legs), np.zeros(legs, dtype=np.int32), (0, 0))


def ground_behind(board: Board, line: Line, pieces: NDArray[np.int32], reach: float) -> Behind:
    """Which of these pieces come within `reach` (mm) of a line, looking inwards from its samples."""
    count = max(4, int(np.ceil(line.length / STEP_MM)))
    station = (np.arange(count) + 0.5) * line.length / count
    depth = np.arange(DEPTH_MM / 2, reach + DEPTH_MM / 2, DEPTH_MM)
    spots = line.path.at(station)[:, None] + line.left(station)[:, None] * depth[:, None]
    piece = np.full((count, board.layers), -1, dtype=np.int32)
    distance = np.full((count, board.layers), np.inf)
    for layer in np.unique(board.pieces.layer[pieces]).tolist():
        planes = planes_of(board, layer)
        open_ = np.arange(count)
        # Most ground begins close to the edge: where it does, nothing farther in is looked up.
        for begin, end in pairwise([*(at for at in LOOKS if at < len(depth)), len(depth)]):
            found = planes.piece_at(shapely.points(spots[open_, begin:end].reshape(-1, 2))).reshape(-1, end - begin)
            wanted = np.isin(found, pieces)
            hit = wanted.any(axis=1)
            row, first = open_[hit], wanted[hit].argmax(axis=1)
            piece[row, layer - 1], distance[row, layer - 1] = found[hit, first], depth[begin + first]
            open_ = open_[~hit]
    return Behind(station, piece, distance)
