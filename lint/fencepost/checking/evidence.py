"""What a finding was judged by, as plain shapes that a report can draw. All lengths in mm, in the board's coordinates.

`role` says what a shape is, in the words of `ROLES`; `layer` is a name as `L2`, "" for all; `label` is a few words for
the reader, and may hold a net's name. Shapes are not printed in text or JSON, and no fingerprint depends on them.
"""

from __future__ import annotations

from collections.abc import Iterator

from fencepost.frozen import dataclass

Point = tuple[float, float]

ROLES = {
    "signal via": "the signal's via",
    "before": "the trace before it",
    "after": "the trace after it",
    "reference before": "what the trace before runs over",
    "reference after": "what the trace after runs over",
    "tie": "a ground via that ties",
    "not a tie": "a hole that ties nothing here",
    "capacitor": "a capacitor between the two",
    "distance": "a distance that was measured",
    "limit": "as far as the limit allows",
    "proposed": "a ground via that would fit",
    "fence": "the trace and its fence",
    "gap": "a gap in the fence",
    "widest": "the widest gap",
    "empty": "the largest circle without a tie",
    "bare": "copper too far from a tie",
    "field": "where it resonates",
    "copper": "the copper in question",
    "remark": "what goes with it",
}
"""Every role, and what it stands for in a report's legend."""


@dataclass(frozen=True)
class Spot:
    """A point, as the centre of a hole."""

    x: float
    y: float
    role: str
    layer: str = ""
    label: str = ""

    def numbers(self) -> Iterator[float]:
        """All lengths in it."""
        yield from (self.x, self.y)


@dataclass(frozen=True)
class Circle:
    """A circle. With a layer and a reference's role it stands for that layer's copper of net `label` within it."""

    x: float
    y: float
    radius: float
    role: str
    layer: str = ""
    label: str = ""

    def numbers(self) -> Iterator[float]:
        """All lengths in it."""
        yield from (self.x, self.y, self.radius)


@dataclass(frozen=True)
class Line:
    """A chain of straight lines, `width` across; 0 for a line without any."""

    points: tuple[Point, ...]
    role: str
    layer: str = ""
    label: str = ""
    width: float = 0.0

    def numbers(self) -> Iterator[float]:
        """All lengths in it."""
        yield self.width
        for point in self.points:
            yield from point


@dataclass(frozen=True)
class Area:
    """Rings, the outer ones and those of holes in any order: what an odd number of them surrounds."""

    rings: tuple[tuple[Point, ...], ...]
    role: str
    layer: str = ""
    label: str = ""

    def numbers(self) -> Iterator[float]:
        """All lengths in it."""
        for ring in self.rings:
            for point in ring:
                yield from point


@dataclass(frozen=True)
class Heat:
    """A strength from 0 to 1 on a grid of square cells: `rows` from the lowest y up; (x, y) is the corner."""

    x: float
    y: float
    cell: float
    rows: tuple[tuple[float, ...], ...]
    role: str = "field"
    layer: str = ""
    label: str = ""

    def numbers(self) -> Iterator[float]:
        """All lengths and strengths in it."""
        yield from (self.x, self.y, self.cell)
        for row in self.rows:
            yield from row


Shape = Spot | Circle | Line | Area | Heat
