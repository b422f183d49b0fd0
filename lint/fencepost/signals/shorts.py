"""Where copper that is labelled with two nets meets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.model import TOUCH_MM, Board, Copper

ETCHED = "EtchedComponent"
"""The aperture function of copper that is a part itself (The Gerber Layer Format Specification, 2024.05, 5.6.10)."""

Part = tuple[int, int]
"""A layer, counted from 0, and an index into its Copper."""


@dataclass(frozen=True)
class Contact:
    """Copper of two nets that meets, directly or over copper without a label.

    `parts` are a part of each net; `layer` (1-based) and x, y in mm say where the last two touch, `hole` in which
    plated hole they do, -1 where on one layer. `intended`: the copper between is an etched component, or a part that
    joins just these two nets with its pads.
    """

    nets: tuple[int, int]
    parts: tuple[Part, Part]
    layer: int
    x: float
    y: float
    hole: int
    intended: bool


def contacts(board: Board) -> list[Contact]:
    """One contact for each two nets that meet, and whether that is intended; not intended ones of a pair come first."""
    found: dict[tuple[tuple[int, int], bool], Contact] = {}
    for conflict in board.conflicts:
        count = _parts_by_net(board, conflict.island)
        for net in sorted(conflict.nets, key=lambda net: (count[net], net))[:-1]:
            for contact in _Growth(board, conflict.island, net).contacts():
                found.setdefault((contact.nets, contact.intended), contact)
    return [found[key] for key in sorted(found)]


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
    etched: set[Part] = field(default_factory=set)
    """What was reached over an etched component."""
    seen_holes: set[int] = field(default_factory=set)

    def contacts(self) -> Iterator[Contact]:
        frontier = [
            (layer, int(part))
            for layer, copper in enumerate(self.board.copper)
            for part in np.flatnonzero(self._on_island(copper) & (copper.label == self.net))
        ]
        self.root = {part: part for part in frontier}
        self.etched = {part for part in frontier if self._is_etched(part)}
        while frontier:
            grown: list[Part] = []
            for before, after, hole in [*self._beside(frontier), *self._through(frontier)]:
                if self._label(after) >= 0:
                    yield self._contact(before, after, hole)
                elif after not in self.root:
                    self.root[after] = self.root[before]
                    grown.append(after)
                    if before in self.etched or self._is_etched(after):
                        self.etched.add(after)
            frontier = grown

    def _on_island(self, copper: Copper) -> NDArray[np.bool_]:
        on_island: NDArray[np.bool_] = self.board.pieces.island[copper.piece] == self.island
        return on_island

    def _label(self, part: Part) -> int:
        return int(self.board.copper[part[0]].label[part[1]])

    def _beside(self, frontier: list[Part]) -> Iterator[tuple[Part, Part, int]]:
        """Parts of the same layer that touch the frontier: (part, touching part, -1)."""
        for layer, copper in enumerate(self.board.copper):
            own = np.array([part for on, part in frontier if on == layer], dtype=np.int64)
            grow = np.array([-TOUCH_MM, -TOUCH_MM, TOUCH_MM, TOUCH_MM])
            index, other = copper.tree.query(shapely.box(*(copper.bounds[own] + grow).T))
            part = own[index]
            kept = (copper.label[other] != self.net) & (copper.piece[other] == copper.piece[part])
            part, other = part[kept], other[kept]
            limit = copper.reach[part] + copper.reach[other] + TOUCH_MM
            touching = shapely.dwithin(copper.geometry[part], copper.geometry[other], limit)
            for a, b in zip(part[touching].tolist(), other[touching].tolist(), strict=True):
                yield (layer, a), (layer, b), -1

    def _through(self, frontier: list[Part]) -> Iterator[tuple[Part, Part, int]]:
        """Parts of any layer that a hole joins to the frontier: (part, part at the same hole, hole)."""
        pieces = np.unique([int(self.board.copper[layer].piece[part]) for layer, part in frontier])
        holes = {hole for piece in pieces for hole in self.board.holes_at(int(piece)).tolist()}
        reached = set(frontier)
        for hole in sorted(holes - self.seen_holes):
            at_hole = self._at(hole)
            before = next((part for part in at_hole if part in reached), None)
            if before is not None:
                self.seen_holes.add(hole)
                for part in at_hole:
                    if part not in reached and self._label(part) != self.net:
                        yield before, part, hole

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
        intended = before in self.etched or self._is_etched(after) or self._one_part(*ends, nets)
        if hole >= 0:
            (x, y), layer = self.board.holes.centre[hole], after[0]
        else:
            layer = after[0]
            copper = self.board.copper[layer]
            way = shapely.shortest_line(copper.geometry[before[1]], copper.geometry[after[1]])
            x, y = shapely.get_coordinates(way).mean(axis=0)
        if nets[0] > nets[1]:
            nets, ends = nets[::-1], ends[::-1]
        return Contact(nets, ends, layer + 1, float(x), float(y), hole, intended)

    def _is_etched(self, part: Part) -> bool:
        copper = self.board.copper[part[0]]
        function = copper.artwork.function[copper.feature[part[1]]]
        return bool(function >= 0 and copper.artwork.values[function][:1] == (ETCHED,))

    def _one_part(self, one: Part, other: Part, nets: tuple[int, int]) -> bool:
        """Whether both are pads of one component that is on no third net."""
        names = {self._component(one), self._component(other)}
        name = names.pop()
        if names or not name:
            return False
        return {self._label(part) for part in self._pads(name)} <= {*nets, -1}

    def _component(self, part: Part) -> str:
        copper = self.board.copper[part[0]]
        pin = copper.artwork.pin[copper.feature[part[1]]]
        return str(copper.artwork.values[pin][0]) if pin >= 0 else ""

    def _pads(self, name: str) -> Iterator[Part]:
        for layer, copper in enumerate(self.board.copper):
            values = copper.artwork.values
            own = np.array([*(bool(value) and value[0] == name for value in values), False])
            for part in np.flatnonzero(own[copper.artwork.pin[copper.feature]]):
                yield layer, int(part)
