"""The copper of a plane in the strip that a trace's return current takes."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import grown
from fencepost.board.model import QUAD_SEGS, TOUCH_MM, Board
from fencepost.frozen import dataclass
from fencepost.signals.cover import Planes, heights_of, planes_of
from fencepost.signals.runs import Paths

SEVERAL = 16
"""Points of a shape from which on it is worth while to cut off first what is far away."""

AT_ONCE = 2_000
"""Areas that are looked at together, so that very many do not take very much memory."""


@dataclass(frozen=True, eq=False)
class Strips:
    """Strips along runs, n of them: everything no farther than `half` (mm) beside, before and behind a stretch."""

    shape: NDArray[np.object_]
    half: NDArray[np.float64]

    @classmethod
    def about(
        cls,
        board: Board,
        paths: Paths,
        run: NDArray[np.integer[Any]],
        begin: NDArray[np.float64],
        end: NDArray[np.float64],
        piece: NDArray[np.integer[Any]],
    ) -> Strips:
        """The strips that the return current takes on pieces (n) below runs (n), from one station (n) to another.

        To each side it takes half the width of the trace, where that is widest, and its height over the piece.
        """
        height = heights_of(board)[paths.layer[run], board.pieces.layer[piece]]
        half = paths.widest(run, begin, end) / 2 + height
        lines = paths.lines(run, begin - half, end + half)
        return cls(shapely.buffer(lines, half, cap_style="flat", quad_segs=4), half)


@dataclass(frozen=True, eq=False)
class Parts:
    """Connected parts of copper, as polygons, those of one strip together; `owner` is the strip of each, of `count`."""

    shape: NDArray[np.object_]
    owner: NDArray[np.int64]
    count: int

    def at(self, xy: NDArray[np.float64]) -> NDArray[np.object_]:
        """The part that reaches a point in each of the strips, for points (count, 2); None where none does."""
        away = shapely.distance(self.shape, shapely.points(xy[self.owner]))
        order = np.lexsort((away, self.owner))
        nearest = order[np.diff(self.owner[order], prepend=-1) > 0]
        nearest = nearest[away[nearest] <= 2 * TOUCH_MM]
        found = np.full(self.count, None, dtype=object)
        found[self.owner[nearest]] = self.shape[nearest]
        return found


def copper_within(
    board: Board, piece: NDArray[np.integer[Any]], area: NDArray[np.object_], quad_segs: int = QUAD_SEGS
) -> Parts:
    """The parts that areas (n) leave of pieces (n) of ground or power copper. `quad_segs` are chords of a quarter."""
    shapes, owner = [np.empty(0, dtype=object)], [np.empty(0, dtype=np.int64)]
    for begin in range(0, len(piece), AT_ONCE):
        some = slice(begin, begin + AT_ONCE)
        row, together = _copper_in(board, piece[some], area[some], quad_segs)
        # What is not farther apart than the tolerance is one part.
        parts, of = shapely.get_parts(shapely.buffer(together, TOUCH_MM / 2, quad_segs=1), return_index=True)
        shapes.append(parts)
        owner.append(begin + row[of])
    return Parts(np.concatenate(shapes), np.concatenate(owner), len(piece))


def _copper_in(
    board: Board, piece: NDArray[np.integer[Any]], area: NDArray[np.object_], quad_segs: int
) -> tuple[NDArray[np.int64], NDArray[np.object_]]:
    """The rows that have any copper, ascending, and all of it in the area of each."""
    layer = board.pieces.layer[piece]
    rows, shapes = [np.empty(0, dtype=np.int64)], [np.empty(0, dtype=object)]
    for one in np.unique(layer).tolist():
        planes, own = planes_of(board, one), np.flatnonzero(layer == one)
        row, part = planes.tree.query(area[own])
        row = own[row]
        kept = planes.piece[part] == piece[row]
        row, part = row[kept], part[kept]
        met = shapely.dwithin(planes.geometry[part], area[row], planes.reach[part])
        rows.append(row[met])
        shapes.append(_outlines(planes, part[met], area[row[met]], quad_segs))
    order = np.argsort(np.concatenate(rows), kind="stable")
    found, which = np.unique(np.concatenate(rows)[order], return_inverse=True)
    collected = shapely.geometrycollections(np.concatenate(shapes)[order], indices=which)
    together: NDArray[np.object_] = shapely.union_all(collected[:, None], axis=1)
    return found, shapely.intersection(together, area[found])


def _outlines(
    planes: Planes, part: NDArray[np.int64], area: NDArray[np.object_], quad_segs: int
) -> NDArray[np.object_]:
    """Polygons of parts of a plane, whole or what lies about as many areas."""
    shapes, reach = planes.geometry[part], planes.reach[part]
    large = np.flatnonzero(shapely.get_num_coordinates(shapes) > SEVERAL)
    boxes = grown(shapely.bounds(area[large]), reach[large] + TOUCH_MM)
    for i, box in zip(large.tolist(), boxes.tolist(), strict=True):
        shapes[i] = shapely.clip_by_rect(shapes[i], *box)
    drawn = reach > 0
    shapes[drawn] = shapely.buffer(shapes[drawn], reach[drawn], quad_segs=quad_segs)
    return shapes
