"""Distances from holes and their pads to other copper."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Annotated

import shapely
from msgspec import Meta

from fencepost.board.model import TOUCH_MM, Board
from fencepost.board.prepared import prepared
from fencepost.checking.drilled import nets_of, others, place_of, several
from fencepost.checking.finding import Figure, Finding, Place, Remark, Severity, Unchecked
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.fabrication.build import Build, build_of
from fencepost.fabrication.folding import SHOWN, folded
from fencepost.fabrication.holes import called, tool_of
from fencepost.fabrication.spacing import From, Near, near_barrels, near_pads, near_unplated
from fencepost.frozen import dataclass
from fencepost.names import listed
from fencepost.settings.model import Settings
from fencepost.units import Length


@dataclass(frozen=True)
class _Fault:
    """A hole and the copper of another net that is nearest to it, and the layers on which it is too near."""

    hole: int
    source: From
    net: int
    layer: int
    part: int
    distance: float
    layers: tuple[int, ...]


class CopperSpacing(Rule):
    """A hole and its pads must keep away from the copper of other nets.

    What goes wrong. Copper that is drawn too near to a pad is not etched apart: a short. A drill that wanders reaches
    copper that is too near to it, and the plating joins the two inside the board, where nobody sees it. A hole without
    plating tears copper that reaches its edge, and a screw in it touches that copper.

    What is measured. On every layer that a hole passes, the distance to the nearest copper of another net: from the
    pads of plated holes, edge to edge; where no pad or area surrounds the hole, from its wall as drilled (`plating`
    wider than it ends up, 0.1 mm unless the settings say otherwise); from the edge of holes without plating, to any
    copper. A land drawn around such a hole with a ring of 0.15 mm or more (IPC-2221B, table 9-2, from memory) is meant
    to be there. What copper connects is one net, whatever its labels say; two pieces of one name are one net too.
    Traces against traces are not looked at: this rule is about holes.

    Limit. By `level`, A, B and C: pads 0.20, 0.15, 0.10 mm; drilled walls 0.25, 0.20, 0.15 mm; edges of holes without
    plating 0.30, 0.25, 0.20 mm (common practice, no source; 0.1 mm is also what IPC-2221B, table 6-1, asks for on bare
    outer layers up to 30 V, from memory). A distance that misses its limit by 1 µm or less meets it.

    Worked example. A pad of 0.5 mm, its middle 0.55 mm from that of a trace of 0.45 mm: 0.55 - 0.25 - 0.225 = 0.075 mm.
    On a layer where the same via, of 0.25 mm, has no pad, its wall is drilled 0.35 mm wide: 0.55 - 0.175 - 0.225 = 0.15
    mm.

    How to fix it. Move the trace or the hole, or give the pour around it more clearance.

    How to tune it. `level` and `plating` under [board]; `minimum` for pads, `barrel` and `unplated` here override the
    level. Your fabricator's own figures override all of this. More than three holes of one tool are one finding. Copper
    that reaches the edge of a hole without plating is an error; the rest are warnings.
    """

    name = "copper-spacing"
    summary = "a hole or its pad too near to copper of another net"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        minimum: Annotated[
            Length | None, Meta(description="shortest distance from pads of plated holes; from level where absent")
        ] = None
        barrel: Annotated[
            Length | None, Meta(description="the same from the drilled wall, on layers without a pad")
        ] = None
        unplated: Annotated[Length | None, Meta(description="the same from the edge of holes without plating")] = None

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every hole too near to copper that is not its own."""
        build = build_of(settings.board)
        limits = {
            From.PAD: float(options.minimum or build.spacing),
            From.BARREL: float(options.barrel or build.barrel),
            From.UNPLATED: float(options.unplated or build.unplated),
        }
        faults = _faults(board, build, limits)

        def alike(fault: _Fault) -> tuple[object, ...]:
            return tool_of(board, fault.hole), fault.source, fault.distance <= TOUCH_MM

        for group in folded(faults, alike, lambda fault: fault.distance):
            yield self._finding(board, group, limits[group[0].source])

    def _finding(self, board: Board, group: list[_Fault], limit: float) -> Finding:
        worst = group[0]
        layers = tuple(f"L{layer}" for layer in sorted({layer for fault in group for layer in fault.layers}))
        holes = list(dict.fromkeys(fault.hole for fault in group))
        nets = [*board.holes.net[holes].tolist(), *(fault.net for fault in group)]
        further = others(board, ((fault.hole, _of(board, fault)) for fault in group[1:SHOWN]))
        return self.finding(
            _said(board, group, holes, listed(layers), limit),
            place_of(board, worst.hole),
            severity=Severity.ERROR if worst.distance <= TOUCH_MM else None,
            layers=layers,
            nets=nets_of(board, nets),
            measured=Figure("distance", worst.distance, "mm"),
            limit=Figure("distance", limit, "mm"),
            remarks=(_copper(board, worst), *further),
        )


def _faults(board: Board, build: Build, limits: dict[From, float]) -> Iterator[_Fault]:
    """One for each hole, what it is measured from and the other net; of two pads that face each other only one."""
    found: dict[tuple[int, From, int], _Fault] = {}
    faced: set[tuple[int, int, int]] = set()
    for copper in board.copper:
        with prepared(copper.geometry):
            too_near = (
                near_pads(board, copper, limits[From.PAD]),
                near_barrels(board, copper, build.plating, limits[From.BARREL]),
                near_unplated(board, copper, limits[From.UNPLATED]),
            )
        for near in too_near:
            for fault, pad in _rows(board, near):
                if pad >= 0 and (near.layer, fault.part, pad) in faced:
                    continue
                faced.add((near.layer, pad, fault.part))
                key = (fault.hole, fault.source, fault.net)
                known = found.get(key, fault)
                nearest = min(known, fault, key=lambda one: one.distance)
                found[key] = replace(nearest, layers=tuple(sorted({*known.layers, near.layer})))
    yield from found.values()


def _rows(board: Board, near: Near) -> Iterator[tuple[_Fault, int]]:
    copper = board.copper[near.layer - 1]
    net = board.pieces.net[copper.piece[near.part]]
    columns = (near.hole, net, near.part, near.distance, near.pad)
    for hole, other, part, distance, pad in zip(*(column.tolist() for column in columns), strict=True):
        yield _Fault(hole, near.source, other, near.layer, part, distance, (near.layer,)), pad


def _said(board: Board, group: list[_Fault], holes: list[int], layers: str, limit: float) -> str:
    worst, many = group[0], len(group) > 1
    net = "other nets" if len({fault.net for fault in group}) > 1 else board.nets[worst.net].name
    who = several(board, holes) if many else called(board, worst.hole)
    if worst.source is From.UNPLATED and not many:
        who += f" of {board.holes.diameter[worst.hole]:.2f} mm"
    if worst.distance <= TOUCH_MM:
        return f"copper of {net} reaches the edge of {who} on {layers}"
    away = f"{'as little as ' if many else ''}{worst.distance:.3f} mm from copper of {net}"
    are = "are" if many else "is"
    what = {
        From.PAD: f"{'pads' if many else 'the pad'} of {who} {are} {away}",
        From.BARREL: f"{who} without a pad {are}, as drilled, {away}",
        From.UNPLATED: f"{who} {are} {away}",
    }[worst.source]
    return f"{what} on {layers}, less than {limit:.2f} mm"


def _of(board: Board, fault: _Fault) -> str:
    layers = listed(f"L{layer}" for layer in fault.layers)
    return f"{fault.distance:.3f} mm from {board.nets[fault.net].name} on {layers}: {called(board, fault.hole)}"


def _copper(board: Board, fault: _Fault) -> Remark:
    """The other copper, where it comes nearest."""
    copper = board.copper[fault.layer - 1]
    line = shapely.shortest_line(copper.geometry[fault.part], board.holes.geometry[fault.hole])
    x, y = shapely.get_coordinates(line)[0].tolist()
    name = board.nets[fault.net].name
    return Remark(
        f"here is the copper of {name} on L{fault.layer}", Place(copper.location_near(fault.part, x, y), x, y)
    )
