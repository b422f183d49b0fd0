"""Points of a netlist and of the settings, and the copper that lies under them."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import spans
from fencepost.board.model import Holes, NetPoints
from fencepost.board.parts import Parts
from fencepost.errors import SettingsError
from fencepost.frozen import dataclass
from fencepost.readers.testnet.netlist import Netlist, Point
from fencepost.settings.spots import Spot

NEAR_MM = 0.01
"""How far from copper a point may be: netlists count in steps of up to 2.5 µm, and programs round on the way there."""

HOLE_MM = 0.05
"""How far from the axis of a hole a point may be that the netlist means to be at it."""


@dataclass(frozen=True, eq=False)
class Connected:
    """What touches what: parts of each layer and their pieces, the island of each piece, holes and what they touch.

    piece    layer by layer int32 (n), the piece of every part
    island   int32 (p), the island of every piece
    touches  int32 (t, 2), pairs of plated hole and piece, sorted
    """

    parts: tuple[Parts, ...]
    piece: tuple[NDArray[np.int32], ...]
    island: NDArray[np.int32]
    holes: Holes
    touches: NDArray[np.int32]

    @property
    def layers(self) -> int:
        """How many copper layers."""
        return len(self.parts)

    def pieces_on(self, layer: int, xy: NDArray[np.float64]) -> NDArray[np.int32]:
        """The nearest piece on a layer (1-based) within NEAR_MM of each point (n, 2), int32 (n); -1 for none."""
        parts, spots = self.parts[layer - 1], shapely.points(xy)
        spot, part = parts.boxes.query(spans(shapely.bounds(spots), NEAR_MM))
        away = shapely.distance(parts.geometry[part], spots[spot]) - parts.reach[part]
        near = np.flatnonzero(away <= NEAR_MM)
        nearest_last = near[np.lexsort((part[near], -away[near]))]
        found = np.full(len(xy), -1, dtype=np.int32)
        found[spot[nearest_last]] = self.piece[layer - 1][part[nearest_last]]
        return found


def net_points(netlist: Netlist, board: Connected) -> NetPoints:
    """Where the points of a netlist lie: of a hole the copper that its barrel touches, of a surface the copper there.

    A surface feature that is not reached from the top is on the bottom, whether the netlist counts all layers or only
    sides. A hole of the netlist that is not drilled and plated is on no copper.
    """
    asked = (netlist.kind != Point.TOOLING) & (netlist.plated | (netlist.hole == 0))
    through = asked & (netlist.kind != Point.SURFACE)
    hole = np.where(through, _holes_at(netlist, board), -1).astype(np.int32)
    first_piece = np.full(len(board.holes) + 1, -1, dtype=np.int32)
    first_piece[board.touches[::-1, 0]] = board.touches[::-1, 1]
    piece = first_piece[hole]

    surface = asked & (netlist.kind == Point.SURFACE)
    for layer in sorted({1, board.layers}):
        on_top, at_bottom = netlist.access <= 1, netlist.access != 1
        here = (on_top & (layer == 1)) | (at_bottom & (layer == board.layers))
        open_ = np.flatnonzero(surface & here & (piece < 0))
        piece[open_] = board.pieces_on(layer, netlist.xy[open_])
    return NetPoints(netlist, piece, hole, asked)


def _holes_at(netlist: Netlist, board: Connected) -> NDArray[np.int64]:
    """The plated hole at each point, int64 (n); -1 for none. Of several the one of the span that the netlist says."""
    plated = np.flatnonzero(board.holes.plated)
    tree = shapely.STRtree(board.holes.geometry[plated])
    points = shapely.points(netlist.xy)
    point, index = tree.query(points, predicate="dwithin", distance=HOLE_MM)
    hole = plated[index]
    first, last = board.holes.first[hole], board.holes.last[hole]
    span, access = netlist.span[point], netlist.access[point]
    said = span[:, 0] > 0
    reached = (access == 0) | ((first <= access) & (access <= last))
    other = np.where(said, (span[:, 0] != first) | (span[:, 1] != last), ~reached)
    away = shapely.distance(board.holes.geometry[hole], points[point])
    best_last = np.lexsort((hole, away, other))[::-1]
    found = np.full(len(netlist), -1, dtype=np.int64)
    found[point[best_last]] = hole[best_last]
    return found


def islands_at(spots: tuple[Spot, ...], board: Connected, key: str) -> tuple[int, ...]:
    """The island that each point of the settings is on. Raises SettingsError for no copper, or for several islands.

    `key` is where in the settings they stand.
    """
    return tuple(_island_at(spot, board, key) for spot in spots)


def _island_at(spot: Spot, board: Connected, key: str) -> int:
    if spot.layer is not None and spot.layer > board.layers:
        raise SettingsError("", key, f'"{spot}": the board has {board.layers} copper layers')
    layers = range(1, board.layers + 1) if spot.layer is None else (spot.layer,)
    xy = np.array([[spot.x, spot.y]])
    pieces = {layer: int(board.pieces_on(layer, xy)[0]) for layer in layers}
    found = {layer: int(board.island[piece]) for layer, piece in pieces.items() if piece >= 0}
    holes = board.holes
    inside = shapely.distance(holes.geometry, shapely.points(xy)[0]) <= holes.diameter / 2
    inside &= (holes.first <= layers[-1]) & (holes.last >= layers[0])
    for _, piece in board.touches[inside[board.touches[:, 0]]]:
        found.setdefault(0, int(board.island[piece]))
    islands = set(found.values())
    if not islands:
        where = f"L{spot.layer}" if spot.layer else "any layer"
        raise SettingsError("", key, f'"{spot}": there is no copper at this point on {where}')
    if len(islands) > 1:
        listed = ", ".join(f"L{layer}" for layer in found if layer)
        said = f'"{spot}": here {listed} have copper that is not connected; add the layer, as "{spot}, L{max(found)}"'
        raise SettingsError("", key, said)
    return islands.pop()
