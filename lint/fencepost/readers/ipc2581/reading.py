"""What a file holds, before anything is chosen, ordered or completed."""

from __future__ import annotations

from dataclasses import field

from shapely.geometry.base import BaseGeometry

from fencepost.frozen import dataclass
from fencepost.readers.artwork import Tool
from fencepost.readers.ipc2581.columns import Columns
from fencepost.readers.ipc2581.holes import HoleColumns
from fencepost.readers.ipc2581.layers import Layer
from fencepost.readers.ipc2581.names import Names
from fencepost.readers.ipc2581.notes import Notes
from fencepost.readers.ipc2581.parts import PackagePin, Part
from fencepost.readers.ipc2581.stackup import Stack
from fencepost.source import SourceFile

PinKey = tuple[str, str]
"""Component and pin, as the file names them."""


@dataclass(frozen=True)
class Repeat:
    """A StepRepeat: another step, `count` times."""

    step: str
    count: int


@dataclass(eq=False)
class Step:
    """A Step element: a board, or a panel of boards.

    `copper` and `stacked` are features by layer name: of LayerFeatures, and of the PadStacks of revision A. `defined`
    are the holes that the pads' pad stacks have, once for each pad: the file may give them as holes as well. `drawn`
    are drill layers with shapes, at the offset of the first, and `unknown` layers of no known function with nets.
    `net_pairs` holds netPair by net: the other net's name, or a name that both share. `points` are x, y and net of
    PhyNetPoints by layer name.
    """

    name: str
    kind: str
    stack: str
    offset: int
    holes: HoleColumns
    defined: HoleColumns
    profile: BaseGeometry | None = None
    repeats: list[Repeat] = field(default_factory=list)
    copper: dict[str, Columns] = field(default_factory=dict)
    stacked: dict[str, Columns] = field(default_factory=dict)
    parts: list[Part] = field(default_factory=list)
    packages: dict[str, tuple[PackagePin, ...]] = field(default_factory=dict)
    pin_nets: dict[PinKey, str] = field(default_factory=dict)
    net_classes: dict[str, str] = field(default_factory=dict)
    net_pairs: dict[str, str] = field(default_factory=dict)
    points: dict[str, list[tuple[float, float, int]]] = field(default_factory=dict)
    drawn: dict[str, int] = field(default_factory=dict)
    unknown: dict[str, int] = field(default_factory=dict)

    @property
    def is_board(self) -> bool:
        """Whether anything is etched or drilled in it."""
        return bool(self.holes) or any(self.copper.values()) or any(self.stacked.values())


@dataclass(frozen=True, eq=False)
class Reading:
    """A whole file. `layers` are in the order of the file, `named` the steps that its Content names."""

    source: SourceFile
    revision: str
    layers: dict[str, Layer]
    stacks: tuple[Stack, ...]
    steps: tuple[Step, ...]
    named: tuple[str, ...]
    names: Names
    tools: list[Tool]
    notes: Notes
