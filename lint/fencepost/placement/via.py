"""The ground via that is suggested, and what it keeps off: from the settings, else what the board has most of."""

from __future__ import annotations

from collections import Counter

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import Board, HoleKind, NetKind
from fencepost.board.shared import shared
from fencepost.errors import SettingsError
from fencepost.fabrication.build import build_of
from fencepost.frozen import dataclass
from fencepost.readers.artwork import Kind
from fencepost.settings.model import Settings

DRILL_MM, PAD_MM = 0.3, 0.6
"""Where neither the settings nor the board have a via (common practice, no source)."""

EDGE_MM = 0.3
"""From copper to the edge of the board (common practice, no source)."""

CENTRED_MM = 0.01
"""A pad belongs to a hole where their centres are no farther apart."""


@dataclass(frozen=True)
class ViaModel:
    """A via from the first to the last layer with a pad on each, and the distances that it keeps. All in mm.

    drill       finished diameter; it is drilled wider by `plating`
    clearance   from its pad to copper of other nets, and to pads that take solder
    wall        from hole to hole as drilled, from wall to wall
    barrel      from its hole as drilled to copper of other nets
    unplated    from its pad to the wall of a hole without plating
    edge        from its pad to the edge of the board
    via_in_pad  it may stand in a component's pad of its own net
    through_pours  it may go through poured copper of other nets, which is then cleared around it
    """

    drill: float
    pad: float
    clearance: float
    wall: float
    barrel: float
    unplated: float
    edge: float
    plating: float
    via_in_pad: bool
    through_pours: bool = False

    @property
    def radius(self) -> float:
        return self.pad / 2

    @property
    def drilled(self) -> float:
        return self.drill + self.plating

    @property
    def off_copper(self) -> float:
        """From its centre to copper of another net."""
        return max(self.radius + self.clearance, self.drilled / 2 + self.barrel)


def via_model(board: Board, settings: Settings) -> ViaModel:
    """What is suggested for a board. Raises SettingsError, without the file's name, for limits that contradict."""
    given, build = settings.placement, build_of(settings.board)
    drill, pad = common_via(board)
    if given.drill is not None:
        drill = float(given.drill)
    if given.pad is not None:
        pad = float(given.pad)
    if pad <= drill:
        where = "placement.pad" if given.pad is not None else "placement.drill"
        from_board = "" if given.pad is not None and given.drill is not None else "; the other one is the board's own"
        said = f"a pad of {pad:g} mm leaves no ring around a hole of {drill:g} mm{from_board}"
        raise SettingsError("", where, said)
    clearance = build.spacing if given.clearance is None else float(given.clearance)
    model = ViaModel(
        drill=drill,
        pad=pad,
        clearance=clearance,
        wall=build.wall if given.hole_wall is None else float(given.hole_wall),
        barrel=build.barrel if given.clearance is None else clearance,
        unplated=build.unplated if given.clearance is None else max(build.unplated, clearance),
        edge=EDGE_MM if given.edge is None else float(given.edge),
        plating=build.plating,
        via_in_pad=given.via_in_pad,
        through_pours=given.through_pours,
    )
    _check_room(board, model)
    return model


def _check_room(board: Board, model: ViaModel) -> None:
    """A via that cannot stand anywhere on the board is a slip of the settings."""
    if board.profile.is_empty:
        return
    inside = board.profile.buffer(-(model.radius + model.edge))
    if inside.is_empty:
        left, bottom, right, top = board.profile.bounds
        said = (
            f"a via with a pad of {model.pad:g} mm, {model.edge:g} mm from the edge, "
            f"fits nowhere on a board of {right - left:.2f} x {top - bottom:.2f} mm"
        )
        wider = board.profile.buffer(-(model.radius + EDGE_MM)).is_empty
        raise SettingsError("", "placement.pad" if wider else "placement.edge", said)


@shared
def common_via(board: Board) -> tuple[float, float]:
    """Drill and pad, in mm, of the through via that ground has most of; else any net; else common practice."""
    holes = board.holes
    through = holes.plated & (holes.kind == HoleKind.VIA) & (holes.first == 1) & (holes.last == board.layers)
    ground = np.isin(holes.net, board.nets_of(NetKind.GROUND))
    sizes = _sizes(board, np.flatnonzero(through & ground)) or _sizes(board, np.flatnonzero(through))
    if not sizes:
        return DRILL_MM, PAD_MM
    return min(sizes, key=lambda size: (-sizes[size], size))


def _sizes(board: Board, chosen: NDArray[np.int64]) -> Counter[tuple[float, float]]:
    """How often each drill and pad occur; the pad is the widest round flash about the hole on any layer."""
    widest = np.zeros(len(chosen))
    points = shapely.points(board.holes.centre[chosen].reshape(-1, 2))
    for copper in board.copper:
        flashes = np.flatnonzero((copper.artwork.kind[copper.feature] == Kind.FLASH) & (copper.reach > 0))
        if len(flashes) and len(points):
            tree = shapely.STRtree(copper.geometry[flashes])
            hole, flash = tree.query(points, predicate="dwithin", distance=CENTRED_MM)
            np.maximum.at(widest, hole, 2 * copper.reach[flashes[flash]])
    drill = board.holes.diameter[chosen]
    kept = widest > drill
    return Counter(zip(np.round(drill[kept], 3).tolist(), np.round(widest[kept], 3).tolist(), strict=True))
