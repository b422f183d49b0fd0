"""The board. Columns, not objects a stroke; what a rule needs beyond these is computed on first use and kept.

Layers count from 1 at the top. Nets, pieces and holes are integers into the tables here. -1 stands for none.
A piece is one connected area of copper on one layer; an island is what pieces and plated holes connect to.
"""

from __future__ import annotations

from dataclasses import field
from enum import Enum, IntEnum
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import Boxes
from fencepost.board.stackup import Stackup
from fencepost.frozen import dataclass
from fencepost.memory import give_back
from fencepost.readers.artwork import Artwork, DrillHits
from fencepost.readers.testnet.netlist import Netlist
from fencepost.source import Location

if TYPE_CHECKING:
    import networkx

TOUCH_MM = 0.001
"""Copper nearer than this is one piece (design: a tolerance of 1 µm)."""

QUAD_SEGS = 24
"""Chords of a quarter circle where a round shape must become a polygon: its area is 0.07 % low."""


class NetKind(Enum):
    """What a net is for. Its value is the word for the user."""

    GROUND = "ground"
    POWER = "power"
    SIGNAL = "signal"


@dataclass(frozen=True)
class Net:
    """`named` is False where the name was made up from a position because no label was found."""

    name: str
    kind: NetKind
    named: bool = True


class HoleKind(IntEnum):
    """VIA: joins layers. COMPONENT: takes a pin. MECHANICAL: neither; mostly not plated."""

    VIA = 0
    COMPONENT = 1
    MECHANICAL = 2


@dataclass(frozen=True, eq=False)
class Copper:
    """The copper of one layer after polarity, n parts: a part is a chain of strokes, a flash or a fill.

    geometry  object (n)   a shapely Point or LineString with `reach` > 0, or a Polygon with `reach` 0
    reach     float64 (n)  half the width: the part is everything within `reach` of its geometry, in mm
    feature   int32 (n)    the first feature of `artwork` in the part
    last      int32 (n)    the last one: a chain holds consecutive features, each of them part of the path
    label     int32 (n)    the net that the file names, index into Board.nets, -1 for none
    piece     int32 (n)    the connected piece, index into Board.pieces
    """

    layer: int
    artwork: Artwork
    geometry: NDArray[np.object_]
    reach: NDArray[np.float64]
    feature: NDArray[np.int32]
    last: NDArray[np.int32]
    label: NDArray[np.int32]
    piece: NDArray[np.int32]
    boxes: Boxes | None = None
    """Of the parts, where they are known already."""

    @property
    def name(self) -> str:
        return f"L{self.layer}"

    def __len__(self) -> int:
        return len(self.reach)

    @cached_property
    def tree(self) -> Boxes:
        """Over the boxes of the parts, reach included."""
        return self.boxes or Boxes(self.geometry, self.reach)

    @property
    def bounds(self) -> NDArray[np.float64]:
        """(n, 4): the box of each part, reach included."""
        return self.tree.bounds

    @cached_property
    def of_piece(self) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
        """Part indices sorted by piece, and the pieces in that order, for searchsorted."""
        order = np.argsort(self.piece, kind="stable")
        return order, self.piece[order]

    def parts_of(self, piece: int) -> NDArray[np.int64]:
        """The parts of one piece."""
        order, pieces = self.of_piece
        low, high = np.searchsorted(pieces, [piece, piece + 1])
        return order[low:high]

    def outlines(self, parts: NDArray[np.integer[Any]]) -> NDArray[np.object_]:
        """Polygons of these parts: strokes and round flashes drawn out to their width."""
        geometry: NDArray[np.object_] = self.geometry[parts].copy()
        drawn = self.reach[parts] > 0
        geometry[drawn] = shapely.buffer(geometry[drawn], self.reach[parts][drawn], quad_segs=QUAD_SEGS)
        return geometry

    def location(self, part: int) -> Location:
        """Where the part's first feature stands."""
        return self.artwork.location(int(self.feature[part]))

    def location_near(self, part: int, x: float, y: float) -> Location:
        """Where the feature of this part that passes nearest to a point stands."""
        first, last = int(self.feature[part]), int(self.last[part])
        if first == last:
            return self.location(part)
        point = shapely.Point(x, y)
        begin = self.artwork.first[first : last + 2]
        lines = shapely.linestrings(
            self.artwork.xy[begin[0] : begin[-1]], indices=np.repeat(np.arange(len(begin) - 1), np.diff(begin))
        )
        return self.artwork.location(first + int(np.argmin(shapely.distance(lines, point))))


@dataclass(frozen=True, eq=False)
class Holes:
    """All holes of the board, n of them. Lengths in mm.

    start, end  float64 (n, 2)  centres; a slot's two ends, the same point twice for a round hole
    diameter    float64 (n)     finished
    plated      bool (n)
    first, last int32 (n)       the copper layers between which it goes, 1-based
    kind        int8 (n)        a `HoleKind`
    net         int32 (n)       of the copper it touches; -1 where it touches none or is not plated
    hits, row   which DrillHits of Board.drills, and which hit of it
    """

    start: NDArray[np.float64]
    end: NDArray[np.float64]
    diameter: NDArray[np.float64]
    plated: NDArray[np.bool_]
    first: NDArray[np.int32]
    last: NDArray[np.int32]
    kind: NDArray[np.int8]
    net: NDArray[np.int32]
    hits: NDArray[np.int32]
    row: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.diameter)

    @cached_property
    def centre(self) -> NDArray[np.float64]:
        """(n, 2): of a slot, the middle."""
        return (self.start + self.end) / 2

    @cached_property
    def geometry(self) -> NDArray[np.object_]:
        """A Point for a round hole, a LineString for a slot."""
        shapes: NDArray[np.object_] = shapely.points(self.start)
        slots = np.flatnonzero((self.start != self.end).any(axis=1))
        shapes[slots] = shapely.linestrings(np.stack([self.start[slots], self.end[slots]], axis=1))
        return shapes


@dataclass(frozen=True, eq=False)
class Pieces:
    """Connected areas of copper, p of them: layer (1-based), net and island of each, int32 (p)."""

    layer: NDArray[np.int32]
    net: NDArray[np.int32]
    island: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.layer)


class Pin(NamedTuple):
    """A pad of a component: its number, net (index into Board.nets), layer and position in mm."""

    number: str
    net: int
    layer: int
    x: float
    y: float
    piece: int = -1


@dataclass(frozen=True)
class Component:
    """What the package says of a part: reference designator, pins, attributes as in X3."""

    name: str
    pins: tuple[Pin, ...]
    attributes: dict[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Conflict:
    """Labels on one island that name more than one net, as indices into Board.nets."""

    island: int
    nets: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class NetPoints:
    """The points of a netlist on the board, n of them; rows as in `netlist`.

    piece  int32 (n)  the copper that the point is on, index into Board.pieces; -1 where there is none
    hole   int32 (n)  the plated hole that it is at, index into Board.holes; -1 for none
    asked  bool (n)   the point is one that copper must answer: no hole without plating
    """

    netlist: Netlist
    piece: NDArray[np.int32]
    hole: NDArray[np.int32]
    asked: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Board:
    """Everything that rules look at. `touches` holds (hole, piece) pairs, int32 (t, 2), sorted."""

    package: str
    stackup: Stackup
    copper: tuple[Copper, ...]
    pieces: Pieces
    holes: Holes
    drills: tuple[DrillHits, ...]
    touches: NDArray[np.int32]
    nets: tuple[Net, ...]
    components: tuple[Component, ...]
    profile: shapely.Polygon | shapely.MultiPolygon
    profile_given: bool
    conflicts: tuple[Conflict, ...]
    assumptions: tuple[str, ...]
    pairs: tuple[tuple[str, str], ...] = ()
    """Net names that the package itself calls a differential pair."""
    files: dict[str, str] = field(default_factory=dict)
    """What each file of the package was taken for, by its name, in words for the user."""
    points: NetPoints | None = None
    """What a netlist of the package says, by position; None where there is no netlist."""
    cache: dict[Any, Any] = field(default_factory=dict, repr=False)
    """What `shared` functions have computed for this board."""

    @property
    def layers(self) -> int:
        """How many copper layers."""
        return len(self.copper)

    def forget(self) -> None:
        """Let go of what `shared` functions have computed: whoever asks again has it computed again.

        On a large board it takes as much memory as the copper.
        """
        self.cache.clear()
        for copper in self.copper:
            shapely.destroy_prepared(copper.geometry)
        give_back()

    @cached_property
    def net_index(self) -> dict[str, int]:
        """Net name to index."""
        return {net.name: i for i, net in enumerate(self.nets)}

    def nets_of(self, kind: NetKind) -> NDArray[np.int32]:
        """Indices of the nets of one kind."""
        return self._nets_of_kinds[kind]

    @cached_property
    def _nets_of_kinds(self) -> dict[NetKind, NDArray[np.int32]]:
        kinds = [net.kind for net in self.nets]
        return {kind: np.array([i for i, own in enumerate(kinds) if own is kind], dtype=np.int32) for kind in NetKind}

    def hole_location(self, hole: int) -> Location:
        """Where the hit that drills a hole stands."""
        return self.drills[int(self.holes.hits[hole])].location(int(self.holes.row[hole]))

    def pieces_at(self, hole: int) -> NDArray[np.int32]:
        """The pieces that a hole's barrel touches, from the top."""
        low, high = np.searchsorted(self.touches[:, 0], [hole, hole + 1])
        pieces = self.touches[low:high, 1]
        return pieces[np.argsort(self.pieces.layer[pieces], kind="stable")]

    def holes_at(self, piece: int) -> NDArray[np.int32]:
        """The plated holes whose barrel touches a piece."""
        order, pieces = self._by_piece
        low, high = np.searchsorted(pieces, [piece, piece + 1])
        holes: NDArray[np.int32] = self.touches[order[low:high], 0]
        return holes

    @cached_property
    def _by_piece(self) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
        order = np.argsort(self.touches[:, 1], kind="stable")
        return order, self.touches[order, 1]

    @cached_property
    def graph(self) -> networkx.Graph:
        """A node ("copper", piece) for each piece, ("hole", hole) for each plated hole; an edge where they touch."""
        import networkx

        graph = networkx.Graph()
        for piece, (layer, net) in enumerate(zip(self.pieces.layer, self.pieces.net, strict=True)):
            graph.add_node(("copper", piece), layer=int(layer), net=self.nets[net].name)
        for hole in np.flatnonzero(self.holes.plated):
            net = self.holes.net[hole]
            name = self.nets[net].name if net >= 0 else ""
            span = {"first": int(self.holes.first[hole]), "last": int(self.holes.last[hole])}
            graph.add_node(("hole", int(hole)), net=name, **span)
        graph.add_edges_from((("hole", int(hole)), ("copper", int(piece))) for hole, piece in self.touches)
        return graph
