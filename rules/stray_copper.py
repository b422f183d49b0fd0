"""Copper that nothing holds to a potential."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

import shapely
from msgspec import Meta

from fencepost.board.model import Board
from fencepost.checking.finding import Figure, Finding, Remark, Severity, Unchecked
from fencepost.checking.places import at_copper, at_hole, both
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.grounds.areas import area_of
from fencepost.grounds.loose import Loose, loose_copper
from fencepost.physics.waves import frequency_for
from fencepost.settings.model import Settings
from fencepost.units import Area, with_prefix

MOST_HOLES = 3
"""Holes that are named with a finding."""


class StrayCopper(Rule):
    """Copper that is connected to nothing takes whatever potential its neighbours give it.

    What goes wrong. An island that a pour left behind, the rest of a trace that was rerouted: no current can leave it,
    so it couples whatever passes on one side of it into whatever passes on the other, and at high frequencies it is an
    aerial. The same holds for a patch of ground with vias of its own that no via joins to the ground of the board. It
    also looks like ground where there is none: a trace over it has no return path.

    What is measured. Every piece of copper, after polarity, that is labelled with a net and
      meets no plated hole and has no pad, or
      is ground and meets plated holes, but neither a pin nor the ground that most holes of its net meet.
    A pad is what is flashed, or has a pin, or the aperture function of a pad. An island of ground that has a pin is an
    open connection, and net-agreement names it.

    What is left out. Copper without a net is taken for text, a logo or thieving, as is copper with an aperture function
    that says so (NonConductor, FiducialPad and so on: The Gerber Layer Format Specification, Ucamco). Copper smaller
    than `area` is left out where it meets no hole: it is too small to couple much, and what the etching leaves of it is
    the fabricator's. Ground with a via of its own is told however small it is, since that via was meant to tie it.

    The remark names the frequency at which the copper, as long as it is, is half a wave of the dielectric around it:
    c / (2 L sqrt(er)), L being the length of the smallest rectangle around it (half-wave resonator with open ends,
    D. M. Pozar, Microwave Engineering). With nothing to hold it, it resonates there.

    Limit. 1 mm² of copper, all layers of the island together (common practice, no source).

    Worked example. An island of 2.5 x 1.5 mm between dielectrics of er 4.2 has 3.75 mm², and is half a wave long at
    299.79 / (2 x 2.5 x sqrt(4.2)) = 29.3 GHz.

    How to fix it. Remove it, most simply by telling the pour to leave no islands. Or tie it to the ground with a via;
    two, at its ends, if it is long.

    How to tune it. `area`; a waiver for copper that is meant to float.
    """

    name = "stray-copper"
    summary = "copper that is connected to nothing, or ground copper that is not connected to ground"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        area: Annotated[Area, Meta(description="smallest area that is told of copper without a hole")] = Area(1.0)

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every loose piece or island that is large enough."""
        if not any((copper.label >= 0).any() for copper in board.copper):
            yield self.unchecked("the copper names no nets, so stray copper cannot be told from text")
            return
        for loose in loose_copper(board):
            size = sum(float(shapely.area(area_of(board, piece))) for piece in loose.pieces)
            if loose.holes or size >= options.area * (1 - 1e-9):
                yield self._finding(board, loose, size, options)

    def _finding(self, board: Board, loose: Loose, size: float, options: Options) -> Finding:
        name = board.nets[loose.net].name
        layers = [f"L{layer}" for layer in sorted({int(board.pieces.layer[piece]) for piece in loose.pieces})]
        largest = max(loose.pieces, key=lambda piece: round(float(shapely.area(area_of(board, piece))), 6))
        inside = shapely.point_on_surface(area_of(board, largest))
        place = at_copper(board, [largest], shapely.get_coordinates(inside)[0])
        copper = f"{name} on {both(layers)} has {size:.2f} mm² of copper that"
        if loose.holes:
            holes = f"its {len(loose.holes)} plated holes meet" if len(loose.holes) > 1 else "its plated hole meets"
            said = f"{copper} is not connected to the rest of {name}: {holes} no other ground"
        else:
            said = f"{copper} is connected to nothing: it meets no plated hole and has no pad"
        vias = [Remark("a plated hole of it", at_hole(board, hole)) for hole in loose.holes[:MOST_HOLES]]
        return self.finding(
            said,
            place,
            layers=tuple(layers),
            nets=(name,),
            measured=Figure("area", size, "mm²"),
            limit=None if loose.holes else Figure("area", float(options.area), "mm²"),
            remarks=(Remark(_resonance(board, largest), place), *vias),
        )


def _resonance(board: Board, piece: int) -> str:
    """At which frequency a piece is half a wave long."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(area_of(board, piece)))
    length = float(max(((corners[1:] - corners[:-1]) ** 2).sum(axis=1)) ** 0.5)
    layer = int(board.pieces.layer[piece])
    permittivity = max((gap.permittivity for gap in board.stackup.gaps[max(layer - 2, 0) : layer]), default=1.0)
    return f"it is {length:.2f} mm long, half a wave at {with_prefix(frequency_for(length, permittivity, 2), 'Hz')}"
