"""Walls between holes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

import numpy as np
from msgspec import Meta

from fencepost.board.model import Board
from fencepost.checking.drilled import nets_of, others, place_of
from fencepost.checking.finding import Figure, Finding, Remark, Severity, Unchecked
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.fabrication.build import TOLERANCE_MM, build_of
from fencepost.fabrication.folding import folded
from fencepost.fabrication.holes import called, word
from fencepost.fabrication.walls import thin_walls
from fencepost.frozen import dataclass
from fencepost.settings.model import Settings
from fencepost.units import Length


@dataclass(frozen=True)
class _Fault:
    one: int
    other: int
    width: float

    @property
    def overlap(self) -> bool:
        return self.width < -TOLERANCE_MM


class HoleWall(Rule):
    """Two holes must leave enough board between them.

    What goes wrong. A drill that goes down beside a hole breaks through a thin wall, or runs off into the hole and
    breaks. A wall that stays is weak, its glass fibres are torn, and copper grows along them: between two nets, a short
    that comes with time and damp.

    What is measured. From wall to wall of the holes as drilled: the distance of their middles, or of the middle lines
    of slots, less half of both drills. Files give finished diameters: plated holes are drilled wider by `plating`, 0.1
    mm unless the settings say otherwise (common practice). All pairs count, of one net or of two, plated or not, but
    for holes that have no dielectric in common, as blind ones one above the other, and for the strokes of one routed
    slot.

    Limit. By `level`: A 0.30 mm, B 0.25 mm, C 0.20 mm (common practice, no source). A wall that misses it by 1 µm or
    less meets it.

    Worked example. Two vias of 0.25 mm, 0.45 mm apart, are drilled 0.35 mm wide and leave 0.45 - 0.35 = 0.10 mm.

    How to fix it. Move one of the holes, leave one out where both are of one net, or take a thinner drill.

    How to tune it. `level` and `plating` under [board]; `minimum` here overrides the level. Your fabricator's own
    figure overrides both. More than three pairs of one net are one finding, and likewise those of different nets. Holes
    that overlap are an error.
    """

    name = "hole-wall"
    summary = "two holes with too thin a wall between them"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        minimum: Annotated[Length | None, Meta(description="thinnest wall, as drilled; from level where absent")] = None

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every pair of holes too near to one another."""
        build = build_of(settings.board)
        limit = float(options.minimum or build.wall)
        walls = thin_walls(board, build.plating, limit)
        rows = zip(walls.one.tolist(), walls.other.tolist(), walls.width.tolist(), strict=True)
        faults = [_Fault(*row) for row in rows]

        def alike(fault: _Fault) -> tuple[object, ...]:
            return _nets(board, fault), fault.overlap

        for group in folded(faults, alike, lambda fault: fault.width):
            yield self._finding(board, group, limit)

    def _finding(self, board: Board, group: list[_Fault], limit: float) -> Finding:
        worst = group[0]
        holes = [hole for fault in group for hole in (fault.one, fault.other)]
        further = others(board, ((fault.one, _of(board, fault)) for fault in group[1:]))
        return self.finding(
            _said(board, group, limit),
            place_of(board, worst.one),
            severity=Severity.ERROR if worst.overlap else None,
            nets=nets_of(board, board.holes.net[holes].tolist()),
            measured=Figure("wall", worst.width, "mm"),
            limit=Figure("wall", limit, "mm"),
            remarks=(Remark(f"here is {called(board, worst.other)}", place_of(board, worst.other)), *further),
        )


def _said(board: Board, group: list[_Fault], limit: float) -> str:
    worst = group[0]
    if len(group) > 1:
        who = f"{len(group)} pairs of holes{_nets(board, worst)}"
        if worst.overlap:
            return f"{who} overlap as drilled, by {-worst.width:.3f} mm at most"
        return f"{who} leave walls of as little as {max(worst.width, 0.0):.3f} mm as drilled, less than {limit:.2f} mm"
    who = _both(board, worst)
    if np.hypot(*(board.holes.centre[worst.one] - board.holes.centre[worst.other])) <= TOLERANCE_MM:
        return f"{who} are drilled at the same place"
    if worst.overlap:
        return f"{who} overlap by {-worst.width:.3f} mm as drilled"
    return f"{who} leave a wall of {max(worst.width, 0.0):.3f} mm as drilled, less than {limit:.2f} mm"


def _nets(board: Board, fault: _Fault) -> str:
    """Whether two holes are of one net or of two; nothing where one of them has none."""
    one, other = board.holes.net[[fault.one, fault.other]].tolist()
    if min(one, other) < 0:
        return ""
    return " of one net" if one == other else " of different nets"


def _of(board: Board, fault: _Fault) -> str:
    figure = f"an overlap of {-fault.width:.3f} mm" if fault.overlap else f"a wall of {max(fault.width, 0.0):.3f} mm"
    return f"{figure}: {_both(board, fault)}"


def _both(board: Board, fault: _Fault) -> str:
    """`the via of A and the via of B`, or `two vias of A`."""
    one, other = called(board, fault.one), called(board, fault.other)
    if one != other:
        return f"{one} and {other}"
    kind = word(board, fault.one)
    return f"two {kind}s{one.removeprefix(f'the {kind}')}"
