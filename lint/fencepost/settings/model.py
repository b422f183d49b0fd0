"""The shape of fencepost.toml. Lengths in mm, frequencies in Hz, times in s, impedances in ohms.

Field names are the keys of the file, but for `class`, which Python keeps for itself.
"""

from __future__ import annotations

import datetime
from typing import Annotated, Any, Literal

from msgspec import Meta, Struct, field

from fencepost.limits import DEFAULT_LIMITS, Limits
from fencepost.settings.areas import Box, Point
from fencepost.settings.spots import Spots
from fencepost.units import Frequency, Impedance, Length, Ratio, Time


def _text(description: str) -> Meta:
    return Meta(description=description)


class Section(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A table of the file: nothing but the keys named here."""


class LayerStack(Section, frozen=True):
    """`[[board.dielectric]]`: what lies between two neighbouring copper layers, from the top down."""

    thickness: Annotated[Length, _text("from copper to copper")]
    dielectric_constant: Annotated[Ratio | None, _text("relative permittivity; the board's where absent")] = None


class BoardSettings(Section, frozen=True):
    """`[board]`."""

    thickness: Annotated[Length | None, _text("of the whole board, where the package does not say")] = None
    dielectric_constant: Annotated[Ratio | None, _text("relative permittivity, where the package does not say")] = None
    dielectric: Annotated[tuple[LayerStack, ...], _text("one for each gap between copper layers, top down")] = ()
    frequency: Annotated[Frequency | None, _text("the highest that the ground system must hold")] = None
    build_class: Annotated[
        Literal[2, 3] | None, _text("performance class that the board is built to: 2 or 3; 2 where absent")
    ] = None
    level: Annotated[
        Literal["A", "B", "C"] | None,
        _text("level of difficulty, A for the widest figures and C for the finest; C where absent"),
    ] = None
    plating: Annotated[
        Length | None, _text("by how much plated holes are drilled wider than they end up; 0.1 mm where absent")
    ] = None


class NetSettings(Section, frozen=True):
    """`[nets]`: shell-style patterns of net names, and points where no name is known."""

    ground: Annotated[tuple[str, ...] | None, _text("nets that are ground")] = None
    power: Annotated[tuple[str, ...] | None, _text("nets that are power")] = None
    ground_at: Annotated[Spots | None, _text('points on ground copper, as "12.5, -3" in mm, or "12.5, -3, L2"')] = None


class NetClass(Section, frozen=True):
    """`[[class]]`: nets with a frequency and limits of their own."""

    name: str
    nets: tuple[str, ...]
    frequency: Frequency | None = None
    rise_time: Annotated[Time | None, _text("10 to 90 %; stands for the frequency 0.35 / t")] = None
    fence: Annotated[bool, _text("the traces must have a fence of ground vias on both sides")] = False
    impedance: Annotated[Impedance | None, _text("target of a single trace and its vias")] = None

    @property
    def highest_frequency(self) -> float | None:
        """Hz: the frequency given, or 0.35 / t (10 to 90 %, single-pole response: textbook relation)."""
        if self.frequency is not None:
            return float(self.frequency)
        return 0.35 / self.rise_time if self.rise_time is not None else None

    @property
    def edge(self) -> float | None:
        """Seconds from 10 to 90 %: the rise time given, or 0.35 / f."""
        if self.rise_time is not None:
            return float(self.rise_time)
        return 0.35 / self.frequency if self.frequency is not None else None


class PairNets(Section, frozen=True):
    """`[[pair]]`: two nets that are a differential pair."""

    nets: Annotated[tuple[str, str], _text("names of both, the positive one first")]


class DrillClaim(Section, frozen=True):
    """`[drill]` value: what a drill file does not say of itself."""

    plated: bool
    span: Annotated[tuple[int, int] | None, _text("first and last copper layer; the whole board where absent")] = None
    unit: Annotated[str | None, _text('"mm" or "inch"')] = None
    digits: Annotated[tuple[int, int] | None, _text("whole and decimal digits of a coordinate")] = None
    zeros: Annotated[str | None, _text('which zeros are kept: "leading" or "trailing"')] = None
    tools: Annotated[dict[str, Length], _text("diameters of tools, by tool name")] = field(default_factory=dict)


class PlacementSettings(Section, frozen=True):
    """`[placement]`: the ground via that is suggested, and what it keeps off."""

    drill: Annotated[Length | None, _text("finished hole; that of most ground vias of the board where absent")] = None
    pad: Annotated[Length | None, _text("pad on every layer; that of most ground vias where absent")] = None
    clearance: Annotated[Length | None, _text("to copper of other nets; by the board's level where absent")] = None
    hole_wall: Annotated[Length | None, _text("between holes as drilled; by the board's level where absent")] = None
    edge: Annotated[Length | None, _text("from the pad to the edge of the board; 0.3 mm where absent")] = None
    via_in_pad: Annotated[bool, _text("a via may stand in a component's pad of its own net")] = False
    through_pours: Annotated[bool, _text("a via may go through pours of other nets, which are filled anew")] = False


class Waiver(Section, frozen=True):
    """`[[waive]]`: findings that are accepted, and why. A finding must fit all that is given."""

    rule: Annotated[str, _text("name of the rule")]
    reason: Annotated[str, _text("why these findings are accepted")]
    nets: Annotated[tuple[str, ...], _text("patterns that fit every net that the finding names")] = ()
    at: Annotated[Point | None, _text('centre of a circle, as "31.2 mm, 18.45 mm"; needs radius')] = None
    radius: Annotated[Length | None, _text("of the circle about at")] = None
    box: Annotated[Box | None, _text('two opposite corners, as "10 mm, 5 mm, 20 mm, 15 mm"')] = None
    until: Annotated[datetime.date | None, _text("last day on which it holds, as 2027-03-01")] = None


class CheckSettings(Section, frozen=True):
    """`[check]`: what `fencepost check` does where its command line does not say otherwise."""

    fail_on: Annotated[
        Literal["error", "warning", "note", "never"], _text("the mildest finding that fails the check")
    ] = "warning"
    rules: Annotated[tuple[str, ...], _text("run these rules only; all where empty")] = ()
    skip: Annotated[tuple[str, ...], _text("run all rules but these")] = ()


class Settings(Section, frozen=True):
    """The whole file."""

    board: BoardSettings = BoardSettings()
    nets: NetSettings = NetSettings()
    classes: tuple[NetClass, ...] = field(default=(), name="class")
    pairs: tuple[PairNets, ...] = field(default=(), name="pair")
    layers: Annotated[dict[str, str], _text('file name to "L1" ... "Ln" or "profile"')] = field(default_factory=dict)
    drill: Annotated[dict[str, DrillClaim], _text("by file name")] = field(default_factory=dict)
    placement: PlacementSettings = PlacementSettings()
    rules: Annotated[dict[str, dict[str, Any]], _text("options by rule name")] = field(default_factory=dict)
    waive: tuple[Waiver, ...] = ()
    check: CheckSettings = CheckSettings()
    limits: Annotated[Limits, _text("how much a package may ask for before it is refused")] = DEFAULT_LIMITS
    extends: Annotated[str | None, _text("settings to start from, by a path from this file's folder")] = None
