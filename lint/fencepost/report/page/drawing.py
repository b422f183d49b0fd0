"""The copper of a board as a report draws it, by layer and kind: outlines to about 5 µm, places to 10 µm.

Strokes and round flashes stay lines and points with a width, which draw exactly what their outlines would and are
much shorter; only filled areas are outlines. All lengths in mm, in the board's own coordinates.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board, Copper, NetKind
from fencepost.board.stackup import Stackup
from fencepost.frozen import dataclass

TOLERANCE_MM = 0.005
"""By how much a drawn outline may be off."""


@dataclass(frozen=True, eq=False)
class Ink:
    """n shapes: Points and LineStrings drawn `width` across with round ends, Polygons with width 0 filled.

    geometry  object (n)
    width     float64 (n)
    """

    geometry: NDArray[np.object_]
    width: NDArray[np.float64]

    @cached_property
    def _bounds(self) -> NDArray[np.float64]:
        """(n, 4): the box of each shape, width included."""
        grow = self.width[:, None] / 2 * np.array([-1.0, -1.0, 1.0, 1.0])
        return np.asarray(shapely.bounds(self.geometry) + grow, dtype=np.float64)

    def within(self, box: tuple[float, float, float, float]) -> Ink:
        """What of it can be seen in a box (left, bottom, right, top), areas cut at its edges."""
        left, bottom, right, top = box
        x0, y0, x1, y1 = self._bounds.T
        seen = (x0 <= right) & (x1 >= left) & (y0 <= top) & (y1 >= bottom)
        geometry, width = self.geometry[seen], self.width[seen]
        filled = width == 0
        geometry[filled] = shapely.clip_by_rect(geometry[filled], *box)
        some = ~shapely.is_empty(geometry)
        return Ink(geometry[some], width[some])

    def along(self, line: shapely.LineString) -> list[tuple[float, float]]:
        """From where to where along a straight line there is copper, in mm from its start, sorted and apart."""
        x0, y0, x1, y1 = line.bounds
        near = self.within((x0 - TOLERANCE_MM, y0 - TOLERANCE_MM, x1 + TOLERANCE_MM, y1 + TOLERANCE_MM))
        met = shapely.dwithin(near.geometry, line, near.width / 2)
        outlines, width = near.geometry[met], near.width[met]
        drawn = width > 0
        outlines[drawn] = shapely.buffer(outlines[drawn], width[drawn] / 2, quad_segs=4)
        cuts = shapely.get_parts(shapely.intersection(outlines, line))
        cuts = cuts[shapely.length(cuts) > 0]
        if not len(cuts):
            return []
        start, end = shapely.get_coordinates(line)[[0, -1]]
        xy, owner = shapely.get_coordinates(cuts, return_index=True)
        along = (xy - start) @ (end - start) / np.hypot(*(end - start))
        first = np.flatnonzero(np.diff(owner, prepend=-1))
        low, high = np.minimum.reduceat(along, first), np.maximum.reduceat(along, first)
        merged: list[tuple[float, float]] = []
        for begin, stop in sorted(zip(low.tolist(), high.tolist(), strict=True)):
            if merged and begin <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(merged[-1][1], stop))
            else:
                merged.append((begin, stop))
        return merged


@dataclass(frozen=True, eq=False)
class Sheet:
    """The copper of one kind on one layer (1-based)."""

    layer: int
    kind: NetKind
    ink: Ink


@dataclass(frozen=True, eq=False)
class Drawing:
    """A board to be drawn. `box` is left, bottom, right, top of the profile or else of all copper.

    `holes` are Points and LineStrings as wide as the hole, with `plated`, `first` and `last` layer, whether each is of
    ground (`ties`), and its net (`hole_net`, an index into `nets`, -1 for none). `files` names the file of each copper
    layer, `kinds` the kind of every net.
    """

    box: tuple[float, float, float, float]
    profile: Ink
    sheets: tuple[Sheet, ...]
    holes: Ink
    plated: NDArray[np.bool_]
    first: NDArray[np.int32]
    last: NDArray[np.int32]
    ties: NDArray[np.bool_]
    hole_net: NDArray[np.int32]
    stackup: Stackup
    files: tuple[str, ...]
    nets: tuple[str, ...]
    kinds: tuple[NetKind, ...]

    @property
    def layers(self) -> int:
        """How many copper layers."""
        return self.stackup.layers


def drawing_of(board: Board) -> Drawing:
    """Draw a board."""
    holes = board.holes
    profile = np.array([] if board.profile.is_empty else [board.profile], dtype=object)
    solid = np.array([*(net.kind is NetKind.GROUND for net in board.nets), False])
    return Drawing(
        box=_box(board),
        profile=Ink(_simpler(profile), np.zeros(len(profile))),
        sheets=tuple(sheet for copper in board.copper for sheet in _sheets(board, copper)),
        holes=Ink(holes.geometry, holes.diameter),
        plated=holes.plated,
        first=holes.first,
        last=holes.last,
        ties=solid[holes.net] & holes.plated,
        hole_net=holes.net,
        stackup=board.stackup,
        files=tuple(copper.artwork.source.name for copper in board.copper),
        nets=tuple(net.name for net in board.nets),
        kinds=tuple(net.kind for net in board.nets),
    )


def _box(board: Board) -> tuple[float, float, float, float]:
    if not board.profile.is_empty:
        left, bottom, right, top = board.profile.bounds
        return left, bottom, right, top
    every = [copper.bounds for copper in board.copper if len(copper)]
    if not every:
        return 0.0, 0.0, 1.0, 1.0
    bounds = np.concatenate(every)
    left, bottom = bounds[:, :2].min(axis=0).tolist()
    right, top = bounds[:, 2:].max(axis=0).tolist()
    return left, bottom, right, top


def _sheets(board: Board, copper: Copper) -> list[Sheet]:
    kinds = np.array([list(NetKind).index(net.kind) for net in board.nets] or [0])
    own = kinds[board.pieces.net[copper.piece]] if len(copper) else np.empty(0, dtype=np.int64)
    sheets = []
    for number, kind in enumerate(NetKind):
        parts = own == number
        if parts.any():
            sheets.append(Sheet(copper.layer, kind, Ink(_simpler(copper.geometry[parts]), 2 * copper.reach[parts])))
    return sheets


def _simpler(geometry: NDArray[np.object_]) -> NDArray[np.object_]:
    """With fewer points. An outline that would vanish stays as it was."""
    simple: NDArray[np.object_] = shapely.simplify(geometry, TOLERANCE_MM, preserve_topology=False)
    lost = shapely.is_empty(simple) | (shapely.get_type_id(simple) != shapely.get_type_id(geometry))
    simple[lost] = geometry[lost]
    return simple
