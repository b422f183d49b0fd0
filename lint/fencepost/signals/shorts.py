"""Where copper that is labelled with two nets meets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import spans
from fencepost.board.model import TOUCH_MM, Board, Copper
from fencepost.board.shared import shared
from fencepost.frozen import dataclass

ETCHED = "EtchedComponent"
"""The aperture function of copper that is a part itself (The Gerber Layer Format Specification, 2024.05, 5.6.10)."""

FOLLOWED = 100
"""Nets on one piece of copper whose contacts are looked for: with more of them the labels are wrong, not the copper."""

Part = tuple[int, int]
"""A layer, counted from 0, and an index into its Copper."""


@dataclass(frozen=True)
class Contact:
    """Copper of two nets that meets, directly or over copper without a label.

    `parts` are a part of each net; `layer` (1-based) and x, y in mm say where the last two touch, `hole` in which
    plated hole they do, -1 where on one layer. `by` is the component that joins them as is meant: an etched one, ""
    where it has no name, or one whose own copper is on just these two nets. None where nothing says that it is meant.
    """

    nets: tuple[int, int]
    parts: tuple[Part, Part]
    layer: int
    x: float
    y: float
    hole: int
    by: str | None


def contacts(board: Board) -> list[Contact]:
    """For each two nets that meet one contact that is not meant, and one for each component that is meant to join them.

    Sorted by nets. Copper of the net with most parts on an island is not followed: what it meets is met from there. Of
    the others FOLLOWED are, those with the fewest parts.
    """
    found: dict[tuple[tuple[int, int], str | None], Contact] = {}
    for conflict in board.conflicts:
        count = _parts_by_net(board, conflict.island)
        for net in sorted(conflict.nets, key=lambda net: (count[net], net))[:-1][:FOLLOWED]:
            for contact in _Growth(board, conflict.island, net).contacts():
                found.setdefault((contact.nets, contact.by), contact)
    return sorted(found.values(), key=lambda one: (one.nets, one.by or "", one.by is not None))


def not_followed(board: Board) -> list[int]:
    """How many nets each island has beyond those that are followed; of islands that have any."""
    beyond = (len(conflict.nets) - 1 - FOLLOWED for conflict in board.conflicts)
    return [count for count in beyond if count > 0]


def _parts_by_net(board: Board, island: int) -> NDArray[np.int64]:
    count = np.zeros(len(board.nets), dtype=np.int64)
    for copper in board.copper:
        label = copper.label[board.pieces.island[copper.piece] == island]
        count += np.bincount(label[label >= 0], minlength=len(board.nets))
    return count


@dataclass(eq=False)
class _Growth:
    """From all copper of one net on an island, over copper without a label, to that of other nets."""

    board: Board
    island: int
    net: int
    root: dict[Part, Part] = field(default_factory=dict)
    """The labelled part that each part was reached from."""
    etched: dict[Part, str] = field(default_factory=dict)
    """What was reached over an etched component, and its name."""
    seen_holes: set[int] = field(default_factory=set)

    def contacts(self) -> Iterator[Contact]:
        frontier = [
            (layer, int(part))
            for layer, copper in enumerate(self.board.copper)
            for part in np.flatnonzero(self._on_island(copper) & (copper.label == self.net))
        ]
        self.root = {part: part for part in frontier}
        self.etched = {part: self._component(part) for part in frontier if self._is_etched(part)}
        while frontier:
            grown: list[Part] = []
            for before, after, hole in [*self._beside(frontier), *self._through(frontier)]:
                if self._label(after) >= 0:
                    yield self._contact(before, after, hole)
                elif after not in self.root:
                    self.root[after] = self.root[before]
                    grown.append(after)
                    if before in self.etched:
                        self.etched[after] = self.etched[before]
                    elif self._is_etched(after):
                        self.etched[after] = self._component(after)
            frontier = grown

    def _on_island(self, copper: Copper) -> NDArray[np.bool_]:
        on_island: NDArray[np.bool_] = self.board.pieces.island[copper.piece] == self.island
        return on_island

    def _label(self, part: Part) -> int:
        return int(self.board.copper[part[0]].label[part[1]])

    def _beside(self, frontier: list[Part]) -> Iterator[tuple[Part, Part, int]]:
        """Parts of the same layer that touch the frontier: (part, touching part, -1)."""
        for layer, own in _by_layer(frontier):
            copper = self.board.copper[layer]
            index, other = copper.tree.query(spans(copper.bounds[own], TOUCH_MM))
            part = own[index]
            kept = (copper.label[other] != self.net) & (copper.piece[other] == copper.piece[part])
            part, other = part[kept], other[kept]
            limit = copper.reach[part] + copper.reach[other] + TOUCH_MM
            touching = shapely.dwithin(copper.geometry[part], copper.geometry[other], limit)
            for a, b in zip(part[touching].tolist(), other[touching].tolist(), strict=True):
                yield (layer, a), (layer, b), -1

    def _through(self, frontier: list[Part]) -> Iterator[tuple[Part, Part, int]]:
        """Parts of any layer that a hole joins to the frontier: (part, part at the same hole, hole)."""
        for before, hole in self._holes_of(frontier):
            if hole not in self.seen_holes:
                self.seen_holes.add(hole)
                for part in self._at(hole):
                    if part not in self.root and self._label(part) != self.net:
                        yield before, part, hole

    def _holes_of(self, frontier: list[Part]) -> Iterator[tuple[Part, int]]:
        """The holes whose barrels touch the frontier."""
        holes = self.board.holes
        for layer, own in _by_layer(frontier):
            copper = self.board.copper[layer]
            pieces = np.unique(copper.piece[own]).tolist()
            near = np.unique(np.concatenate([np.empty(0, dtype=np.int32), *map(self.board.holes_at, pieces)]))
            reach = holes.diameter[near] / 2 + TOUCH_MM
            index, at = shapely.STRtree(shapely.buffer(holes.geometry[near], reach, quad_segs=2)).query(
                spans(copper.bounds[own])
            )
            limit = copper.reach[own[index]] + reach[at]
            touching = shapely.dwithin(copper.geometry[own[index]], holes.geometry[near[at]], limit)
            for part, hole in zip(own[index[touching]].tolist(), near[at[touching]].tolist(), strict=True):
                yield (layer, part), hole

    def _at(self, hole: int) -> list[Part]:
        """The parts that a hole's barrel touches."""
        holes, found = self.board.holes, []
        for piece in self.board.pieces_at(hole):
            layer = int(self.board.pieces.layer[piece]) - 1
            copper = self.board.copper[layer]
            parts = copper.parts_of(int(piece))
            limit = copper.reach[parts] + holes.diameter[hole] / 2 + TOUCH_MM
            near = shapely.dwithin(copper.geometry[parts], holes.geometry[hole], limit)
            found += [(layer, int(part)) for part in parts[near]]
        return found

    def _contact(self, before: Part, after: Part, hole: int) -> Contact:
        ends = (self.root[before], after)
        nets = (self.net, self._label(after))
        by = self.etched.get(
            before, self._component(after) if self._is_etched(after) else self._shared_part(ends, nets)
        )
        if hole >= 0:
            (x, y), layer = self.board.holes.centre[hole], after[0]
        else:
            layer = after[0]
            copper = self.board.copper[layer]
            way = shapely.shortest_line(copper.geometry[before[1]], copper.geometry[after[1]])
            x, y = shapely.get_coordinates(way).mean(axis=0)
        if nets[0] > nets[1]:
            nets, ends = nets[::-1], ends[::-1]
        return Contact(nets, ends, layer + 1, float(x), float(y), hole, by)

    def _is_etched(self, part: Part) -> bool:
        copper = self.board.copper[part[0]]
        function = copper.artwork.function[copper.feature[part[1]]]
        return bool(function >= 0 and copper.artwork.values[function][:1] == (ETCHED,))

    def _shared_part(self, parts: tuple[Part, Part], nets: tuple[int, int]) -> str | None:
        """The component that both parts belong to, where it is on no third net."""
        name, other = (self._component(part) for part in parts)
        if not name or name != other:
            return None
        return name if {self._label(part) for part in self._parts_of(name)} <= {*nets, -1} else None

    def _component(self, part: Part) -> str:
        """The component that a part of copper belongs to, by its pin or by itself; "" for none."""
        copper = self.board.copper[part[0]]
        artwork, feature = copper.artwork, copper.feature[part[1]]
        named = next((i for i in (artwork.pin[feature], artwork.component[feature]) if i >= 0), -1)
        return str(artwork.values[named][0]) if named >= 0 else ""

    def _parts_of(self, name: str) -> Iterator[Part]:
        for layer, copper in enumerate(self.board.copper):
            artwork = copper.artwork
            own = np.append(_first_values(self.board)[layer] == name, False)
            mine = own[artwork.pin[copper.feature]] | own[artwork.component[copper.feature]]
            for part in np.flatnonzero(mine):
                yield layer, int(part)


def _by_layer(parts: list[Part]) -> Iterator[tuple[int, NDArray[np.int64]]]:
    """The layers that some parts are on, and those on each."""
    for layer in sorted({on for on, _ in parts}):
        yield layer, np.array([part for on, part in parts if on == layer], dtype=np.int64)


@shared
def _first_values(board: Board) -> list[NDArray[np.object_]]:
    """Of each layer's attribute values the first words: names of components among them."""
    return [np.array([value[0] if value else "" for value in c.artwork.values], dtype=object) for c in board.copper]
