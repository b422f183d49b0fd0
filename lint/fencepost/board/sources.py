"""What the readers found, whatever the format: the input from which a board is assembled."""

from __future__ import annotations

from dataclasses import field

from shapely.geometry import MultiPolygon, Polygon

from fencepost.frozen import dataclass
from fencepost.readers.artwork import Artwork, DrillHits
from fencepost.readers.testnet.netlist import Netlist


@dataclass(frozen=True)
class Drilled:
    """One file's hits with what is known of them: plating, and the first and last copper layer (1-based)."""

    hits: DrillHits
    plated: bool
    first: int
    last: int


@dataclass(frozen=True)
class StackEntry:
    """A layer of the stackup, from the top: copper or dielectric, with what is known of it (mm)."""

    copper: bool
    thickness: float | None = None
    permittivity: float | None = None


@dataclass(frozen=True, eq=False)
class Sources:
    """`copper[i]` is layer i + 1. `profile` is None where the package gives none."""

    package: str
    copper: tuple[Artwork, ...]
    drills: tuple[Drilled, ...]
    profile: Artwork | Polygon | MultiPolygon | None = None
    stack: tuple[StackEntry, ...] = ()
    thickness: float | None = None
    notes: tuple[str, ...] = field(default=())
    """What was left out or had to be assumed in reading, for the user."""
    pairs: tuple[tuple[str, str], ...] = ()
    """Nets that the package calls a differential pair."""
    net_classes: dict[str, str] = field(default_factory=dict)
    """Net name to what the package says that it is for: "GROUND", "POWER", "SIGNAL", "CLK", "FIXED" or "UNUSED"."""
    files: dict[str, str] = field(default_factory=dict)
    """What each file was taken for, by its name, in words for the user."""
    netlist: Netlist | None = None
    """Points and the nets that they are on, from a file of its own."""
