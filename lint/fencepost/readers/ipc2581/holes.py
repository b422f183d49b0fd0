"""Holes and slots: Hole, LayerHole, SlotCavity and the Slot of revision A."""

from __future__ import annotations

import math
from array import array
from dataclasses import field, replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.frozen import dataclass
from fencepost.readers.ipc2581.columns import Budget
from fencepost.readers.ipc2581.document import Node
from fencepost.readers.ipc2581.drawing import Area, Draughtsman, Piece, Stroke, shape_of
from fencepost.readers.ipc2581.notes import Notes
from fencepost.readers.ipc2581.paths import Path
from fencepost.readers.ipc2581.placing import UNPLACED, Placement, locations_of, xform_of
from fencepost.readers.ipc2581.values import Values

PLATING = {"PLATED": True, "VIA": True, "VIA_CAPPED": True, "NONPLATED": False}
"""Source: the type platingStatusType of the schemas A to C."""

_NOT_OPENED = frozenset({"Location", "Xform", "MaterialCut", "MaterialLeft", "Fill", "NonstandardAttribute", "SpecRef"})
"""What may stand in a slot without being its shape."""

_SLOT_FIT = 0.03
"""By how much of its area a slot's outline may differ from a drilled or routed one."""


@dataclass(frozen=True)
class Place:
    """What a hole's list says of all of its holes: their layer, or a span without one."""

    layer: str
    span: tuple[str, str] | None = None
    plated: bool | None = None
    """Where its Set says so; a hole's own platingStatus comes first."""


@dataclass(eq=False)
class HoleColumns:
    """Holes as they are read: start and end, diameter in mm; -1 for an unknown net.

    `plating` holds 1, 0 or -1 where the file does not say; `via` whether it calls the hole a via; `place` is an index
    into `places`.
    """

    values: Values
    budget: Budget
    notes: Notes
    ends: array[float] = field(default_factory=lambda: array("d"))
    diameter: array[float] = field(default_factory=lambda: array("d"))
    plating: array[int] = field(default_factory=lambda: array("b"))
    via: array[int] = field(default_factory=lambda: array("B"))
    net: array[int] = field(default_factory=lambda: array("i"))
    place: array[int] = field(default_factory=lambda: array("i"))
    offset: array[int] = field(default_factory=lambda: array("q"))
    places: dict[Place, int] = field(default_factory=dict)
    openings: list[tuple[BaseGeometry, Place, int]] = field(default_factory=list)
    """Openings that are neither drilled nor a slot, with their places and offsets; none of them is plated."""

    def __len__(self) -> int:
        return len(self.diameter)

    def add(self, node: Node, scale: float, net: int, place: Place) -> None:
        """A Hole or a LayerHole."""
        if self.values.word(node, "type") == "SQUARE":
            self.notes.add("a square hole is taken as a round one", node.offset)
        self.add_defined(node, scale, net, place, UNPLACED, node.offset)

    def add_defined(self, node: Node, scale: float, net: int, place: Place, where: Placement, offset: int) -> None:
        """The PadstackHoleDef of a pad at `where`, which stands at byte `offset`."""
        centre = where.point(*self.values.position(node, "x", "y", scale, 0.0))
        diameter = self.values.size(node, "diameter", scale) * where.transform.scale
        self._row(centre, centre, diameter, node, net, place, offset)

    def add_slot(self, node: Node, own: Draughtsman, net: int, place: Place) -> None:
        """A SlotCavity or Slot. Raises InputError for a plated one that no drill and no straight cut makes."""
        placed = xform_of(node, own.values, own.scale, own.notes).at(*locations_of(node, own.values, own.scale)[0])
        pieces = tuple(piece for child in node.children for piece in _drawn(child, own))
        if not pieces:
            raise own.error(node, f"<{node.tag}> has no shape")
        depth = node.child("MaterialCut", "MaterialLeft")
        if depth is not None:
            own.notes.add("the depth of a slot is not considered: it is taken to go through its layers", depth.offset)
        try:
            if all(isinstance(piece, Stroke) for piece in pieces):
                self._cuts(pieces, placed, node, net, place)
                return
            shape = shape_of(pieces)
            if shape.width:
                centre = placed.point(0.0, 0.0)
                self._row(centre, centre, shape.width * placed.transform.scale, node, net, place, node.offset)
            else:
                self._opening(placed.area(shape.area), node, own, net, place)
        except ValueError as error:
            raise own.error(node, f"expected {error}") from None

    def _cuts(self, pieces: tuple[Piece, ...], where: Placement, node: Node, net: int, place: Place) -> None:
        """What is routed along a path: a slot for each straight part of it."""
        for piece in pieces:
            assert isinstance(piece, Stroke)
            points = piece.path.chords() @ where.transform.matrix.T + where.shift
            width = piece.line.width * where.transform.scale
            for start, end in pairwise(points):
                self._row(tuple(start), tuple(end), width, node, net, place, node.offset)

    def _opening(self, area: BaseGeometry, node: Node, own: Draughtsman, net: int, place: Place) -> None:
        slot = _slot_in(area)
        if slot is not None:
            start, end, width, fits = slot
            if not fits:
                own.notes.add("a slot with square ends is taken as one with round ends of the same length", node.offset)
            self._row(start, end, width, node, net, place, node.offset)
        elif self._plating(node, place) == 0:
            self.openings.append((area, place, node.offset))
        else:
            raise own.error(node, "a plated opening that is neither round nor a slot cannot be read")

    def _row(
        self,
        start: tuple[float, ...],
        end: tuple[float, ...],
        diameter: float,
        node: Node,
        net: int,
        place: Place,
        offset: int,
    ) -> None:
        if diameter <= 0:
            raise self.values.source.error(node.offset, f"the diameter of <{node.tag}> is not above 0")
        self.budget.spend(2, offset)
        self.ends.extend((*start, *end))
        self.diameter.append(diameter)
        self.plating.append(self._plating(node, place))
        self.via.append(self.values.word(node, "platingStatus").startswith("VIA"))
        self.net.append(net)
        self.place.append(self.places.setdefault(place, len(self.places)))
        self.offset.append(offset)

    def _plating(self, node: Node, place: Place) -> int:
        word = self.values.word(node, "platingStatus")
        if not word:
            return -1 if place.plated is None else int(place.plated)
        if word not in PLATING:
            known = ", ".join(PLATING)
            raise self.values.source.error(node.offset, f"expected one of {known} for platingStatus, not {word!r}")
        return int(PLATING[word])

    def holes(self) -> Holes:
        """The columns as arrays."""
        ends = np.array(self.ends).reshape(-1, 2, 2)
        return Holes(
            ends[:, 0],
            ends[:, 1],
            np.array(self.diameter),
            np.array(self.plating, dtype=np.int8),
            np.array(self.via, dtype=bool),
            np.array(self.net, dtype=np.int32),
            np.array(self.place, dtype=np.int32),
            np.array(self.offset, dtype=np.int64),
            tuple(self.places),
            tuple(self.openings),
        )


@dataclass(frozen=True, eq=False)
class Holes:
    """n holes: ends float64 (n, 2) and diameter float64 (n) in mm, the rest (n) as in `HoleColumns`."""

    start: NDArray[np.float64]
    end: NDArray[np.float64]
    diameter: NDArray[np.float64]
    plating: NDArray[np.int8]
    via: NDArray[np.bool_]
    net: NDArray[np.int32]
    place: NDArray[np.int32]
    offset: NDArray[np.int64]
    places: tuple[Place, ...]
    openings: tuple[tuple[BaseGeometry, Place, int], ...]

    def __len__(self) -> int:
        return len(self.diameter)

    @property
    def middle(self) -> NDArray[np.float64]:
        """Their centres, (n, 2)."""
        return (self.start + self.end) / 2

    def take(self, rows: NDArray[np.integer[Any]] | NDArray[np.bool_]) -> Holes:
        """Some of them, and all openings."""
        columns = {name: getattr(self, name)[rows] for name in _COLUMNS}
        return replace(self, **columns)

    def followed_by(self, other: Holes) -> Holes:
        """These and then others."""
        moved = replace(other, place=other.place + np.int32(len(self.places)))
        columns = {name: np.concatenate([getattr(self, name), getattr(moved, name)]) for name in _COLUMNS}
        places, openings = self.places + other.places, self.openings + other.openings
        return Holes(**columns, places=places, openings=openings)


_COLUMNS = ("start", "end", "diameter", "plating", "via", "net", "place", "offset")


def _drawn(node: Node, own: Draughtsman) -> tuple[Piece, ...]:
    """What a child of a slot opens. A closed line is the edge of it, whatever its width; an open one is cut along."""
    if node.tag in _NOT_OPENED:
        return ()
    if node.tag == "Outline":
        return own.drawn_by(node)
    if node.tag == "Polyline" and node.points[:2] == node.points[-2:]:
        return (Area((Path.of(node, own.scale),), node.offset),)
    return own.draw(node)


Slot = tuple[tuple[float, float], tuple[float, float], float, bool]


def _slot_in(area: BaseGeometry) -> Slot | None:
    """Ends and width of the slot that an area is, and whether its ends are round; None where it is none."""
    box = shapely.minimum_rotated_rectangle(area)
    if area.geom_type != "Polygon" or area.interiors or box.geom_type != "Polygon":
        return None
    corners = shapely.get_coordinates(box)[:4]
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    width, length = float(min(sides)), float(max(sides))
    along = (corners[2] - corners[1] if sides[1] >= sides[0] else corners[1] - corners[0]) / length
    middle = corners.mean(axis=0)
    if length - width < _SLOT_FIT * width:  # the box of a disc may be turned any way
        along = np.zeros(2)
    start, end = middle - along * (length - width) / 2, middle + along * (length - width) / 2
    round_ = width * (length - width) + math.pi * width * width / 4
    fits = abs(area.area - round_) <= _SLOT_FIT * round_
    square = abs(area.area - width * length) <= _SLOT_FIT * width * length
    if not fits and not square:
        return None
    return (float(start[0]), float(start[1])), (float(end[0]), float(end[1])), width, fits
