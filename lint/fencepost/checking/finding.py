"""What a rule yields. Plain data: no rule, board or geometry object inside."""

from __future__ import annotations

import hashlib
import math

from fencepost.checking.evidence import Shape
from fencepost.checking.severity import Severity as Severity
from fencepost.frozen import dataclass
from fencepost.placement.need import Need
from fencepost.source import Location


@dataclass(frozen=True)
class Figure:
    """A number that was measured, or its limit: ("distance", 3.42, "mm")."""

    quantity: str
    value: float
    unit: str


@dataclass(frozen=True)
class Place:
    """Where on the board (mm, the package's own coordinates) and where in the files."""

    location: Location
    x_mm: float
    y_mm: float


@dataclass(frozen=True)
class Remark:
    """A line that goes with a finding, with a place of its own."""

    message: str
    place: Place


@dataclass(frozen=True)
class Suggestion:
    """A ground via that would fit, from the first to the last of two layers.

    `location` is the hole beside which it goes; the finding's own place where there is none.
    """

    x_mm: float
    y_mm: float
    drill_mm: float
    pad_mm: float
    layers: tuple[str, str]
    location: Location | None = None


@dataclass(frozen=True)
class Finding:
    """One fault. `message` is one line without the rule's name, severity or place."""

    rule: str
    severity: Severity
    message: str
    place: Place
    layers: tuple[str, ...] = ()
    nets: tuple[str, ...] = ()
    measured: Figure | None = None
    limit: Figure | None = None
    remarks: tuple[Remark, ...] = ()
    suggestion: Suggestion | None = None
    mend: tuple[Need, ...] = ()
    """Ground vias that together would mend it, the first one to be suggested first; not printed."""
    evidence: tuple[Shape, ...] = ()
    """What it was judged by, for reports that draw; not printed."""
    sought: bool = False
    """Whether a place for what would mend it was looked for already."""

    @property
    def fingerprint(self) -> str:
        """From rule, nets, layers and place to 10 µm, not from files or lines: it outlives a re-export."""
        cell = (_cell(self.place.x_mm), _cell(self.place.y_mm))
        said = "\0".join((self.rule, *sorted(self.nets), *self.layers, *cell))
        return hashlib.sha256(said.encode("utf-8", "surrogatepass")).hexdigest()[:16]

    @property
    def order(self) -> tuple[object, ...]:
        """A total order that does not depend on how the rule came upon it."""
        where = self.place
        return (
            where.location.file, where.location.line, where.location.column,
            self.rule, self.message, where.x_mm, where.y_mm,
        )  # fmt: skip


def _cell(length_mm: float) -> str:
    """The step of 10 µm that a coordinate lies in.

    Steps begin at 1.37 µm, off every grid that boards are drawn on (1 µm, 0.1 mil), so that the rounding of an export
    does not carry a coordinate from one step to the next.
    """
    return str(math.floor((length_mm - 0.00137) / 0.01))


@dataclass(frozen=True)
class Unchecked:
    """A rule, or a part of it, that could not run, and why."""

    rule: str
    reason: str
