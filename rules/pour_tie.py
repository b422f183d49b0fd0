"""Ties between layers of ground copper."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import cache, partial
from typing import Annotated

import numpy as np
import shapely
from msgspec import Meta

from fencepost.board.model import Board, NetKind
from fencepost.checking.finding import Figure, Finding, Remark, Severity, Unchecked
from fencepost.checking.places import at_copper, at_hole, both
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.checking.shapes import area_shapes, bare_shapes
from fencepost.grounds.areas import extents_of, ground_pieces
from fencepost.grounds.fingers import Finger, fingers_untied
from fencepost.grounds.frequency import NO_FREQUENCY, GroundFrequency, ground_frequency, ground_pitch
from fencepost.grounds.joins import SMALL, joins_of
from fencepost.grounds.loose import loose_copper
from fencepost.grounds.untied import Unjoined, Untied, overlaps_untied, together
from fencepost.physics.stub import stub_resonance
from fencepost.physics.waves import pitch_for
from fencepost.placement.covers import area_needs, finger_need
from fencepost.placement.need import Need
from fencepost.settings.model import Settings
from fencepost.signals.limits import Limit
from fencepost.units import Length, Ratio, with_prefix


class PourTie(Rule):
    """Ground copper is ground only near its vias.

    What goes wrong. Two layers of ground are one at low frequencies wherever they are joined. At high frequencies a
    place that is far from every via between them has a voltage of its own against the layer next to it: currents in it
    radiate, and couple into what runs above and between. A finger of ground that is tied at one end only is worse: open
    at the other end, it resonates where it is a quarter of a wave long.

    What is measured. For every two pieces of ground copper of neighbouring layers (no other ground between them), where
    they lie over one another: the point that is farthest from every plated hole that touches both, the centre of the
    largest circle without one. Only copper over copper counts; its exact outline does, after polarity. Bare areas
    nearer to one another than half the limit, on any layers, are one finding, which names the area in mm² that is
    farther from a tie than the limit. Two pieces that no hole joins at all are a finding of their own where they
    overlap over more than the limit; a note where they are two nets, as GND and AGND. Holes that meet in a small piece
    between, as stacked and staggered blind vias do, tie what all of them touch.

    And for every piece: fingers of it that end too far from what ties them, measured along the copper. A finger is
    copper less than a quarter of its limit across, or less than 0.5 mm; holes less than that across, as antipads are,
    do not divide copper. Where its end has no ground on another layer above or below, there is nothing to tie it to,
    and it is left out.

    Limit. A square grid of ties with the pitch of a fence passes: the middle of four of them is 1/sqrt(2) of the pitch
    away. So the farthest point may be min(c / (8 f sqrt(er)), distance) / sqrt(2), `distance` being the pitch at any
    frequency; both are common practice, no source. er is that between the two layers. f is the frequency of the board,
    or else the highest of all classes; a rise time t stands for 0.35 / t (10 to 90 %, single-pole response).
    A finger may be c / (10 f sqrt(er)) long. A line that is shorted at one end and open at the other resonates at
    c / (4 L sqrt(er)) (D. M. Pozar, Microwave Engineering), here at 2.5 times the frequency. Below that the voltage at
    its end is the one at its foot over cos(2 pi L / wavelength): 24 % more at a tenth of a wavelength, 41 % (3 dB) more
    at an eighth.

    Worked example. At 2.5 GHz and er 4.3 the wavelength is 57.8 mm: ties in a grid of 7.2 mm, no point farther than
    5.1 mm from one, and no finger longer than 5.8 mm. At 868 MHz and er 4.5 an eighth of the wavelength is 20.4 mm; the
    grid of 10 mm in the settings counts, no point farther than 7.07 mm.

    How to fix it. Put a ground via into the bare area, near its middle, and one near the open end of a finger. Where
    none fits, take the copper away: a pour of nothing but fingers between traces is worth little.

    How to tune it. `frequency` under [board]; `distance`, `fraction` and `finger` here.
    """

    name = "pour-tie"
    summary = "ground copper with a point too far from any via that ties it"
    severity = Severity.WARNING
    long = True

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        distance: Annotated[Length, Meta(description="pitch of a square grid of ties at any frequency")] = Length(10.0)
        fraction: Annotated[Ratio, Meta(description="part of a wavelength that this pitch may be: 1 / fraction")] = (
            Ratio(8)
        )
        finger: Annotated[Ratio, Meta(description="part of a wavelength that a finger may be long: 1 / finger")] = (
            Ratio(10)
        )

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every bare area, every pair of pieces that nothing joins, every long finger."""
        if not len(board.nets_of(NetKind.GROUND)):
            yield self.unchecked("no ground net is known; name it under [nets] in the settings")
            return
        frequency = ground_frequency(settings)
        if frequency is None:
            yield self.unchecked(NO_FREQUENCY)
            return
        across, along = (cache(partial(one, board, frequency, options)) for one in (_across, _along))
        smallest = min((across(layer, layer + 1).distance for layer in range(1, board.layers)), default=0.0)
        stray = [piece for loose in loose_copper(board) for piece in loose.pieces]
        pieces = np.setdiff1d(ground_pieces(board), np.array(stray, dtype=np.int32))
        pieces = pieces[extents_of(board, pieces) > smallest]
        joins = joins_of(board, SMALL * smallest)
        untied, unjoined = overlaps_untied(board, pieces, joins, across)
        yield from (self._untied(board, group) for group in together(untied))
        yield from (self._unjoined(board, one) for one in unjoined)
        for finger in fingers_untied(board, pieces, joins, along, untied):
            yield self._finger(board, finger)

    def _untied(self, board: Board, group: Sequence[Untied]) -> Finding:
        worst = group[0]
        limit, bare = worst.limit, worst.bare
        area = bare.area.area if len(group) == 1 else shapely.union_all([one.bare.area for one in group]).area
        others = sorted({_between(board, one.pair) for one in group} - {_between(board, worst.pair)})
        likewise = f"; likewise {both(others)}" if others else ""
        pieces = [piece for one in group for piece in one.pair]
        return self.finding(
            f"{_copper(board, worst.pair[0])} has a point {bare.radius:.2f} mm from the nearest via that ties "
            f"{_between(board, worst.pair)}, more than {limit.distance:.2f} mm ({limit.reason}); "
            f"{area:.2f} mm² are too far{likewise}",
            at_copper(board, [worst.pair[0]], bare.centre),
            layers=_layers(board, pieces),
            nets=_nets(board, pieces),
            measured=Figure("distance", bare.radius, "mm"),
            limit=Figure("distance", limit.distance, "mm"),
            remarks=(Remark(f"the nearest tie is {bare.radius:.2f} mm away", at_hole(board, worst.hole)),),
            evidence=bare_shapes(
                bare.centre, bare.radius, [one.bare.area for one in group], board.holes.centre[worst.hole]
            ),
            mend=tuple(
                need
                for one in group
                for need in area_needs(board, one.bare.area, one.bare.centre, one.pair, one.limit.distance)
            ),
        )

    def _unjoined(self, board: Board, one: Unjoined) -> Finding:
        upper, lower = one.pair
        nets = _nets(board, [upper, lower])
        area = float(shapely.area(one.areas).sum())
        nothing = "no via ties the two" if len(nets) == 1 else "nothing ties the two nets there"
        return self.finding(
            f"{_copper(board, upper)} lies over {_copper(board, lower)} on {area:.2f} mm², and {nothing}",
            at_copper(board, [upper], shapely.get_coordinates(shapely.point_on_surface(one.areas[0]))[0]),
            severity=None if len(nets) == 1 else Severity.NOTE,
            layers=_layers(board, [upper, lower]),
            nets=nets,
            measured=Figure("area", area, "mm²"),
            evidence=tuple(area_shapes(one.areas, "bare")),
            mend=_joining(board, one),
        )

    def _finger(self, board: Board, finger: Finger) -> Finding:
        end, limit = finger.end, finger.limit
        layer = int(board.pieces.layer[finger.piece])
        resonance = with_prefix(stub_resonance(end.distance, _permittivity(board, layer)), "Hz")
        return self.finding(
            f"a finger of {_copper(board, finger.piece)} ends {end.distance:.2f} mm along the copper from the nearest "
            f"via that ties it, more than {limit.distance:.2f} mm ({limit.reason}): a quarter of a wave at {resonance}",
            at_copper(board, [finger.piece], end.end),
            layers=_layers(board, [finger.piece]),
            nets=_nets(board, [finger.piece]),
            measured=Figure("length", end.distance, "mm"),
            limit=Figure("length", limit.distance, "mm"),
            remarks=(Remark(f"the nearest tie, {end.distance:.2f} mm along the copper", at_hole(board, finger.hole)),),
            mend=finger_need(board, finger.piece, end.end, limit.distance),
        )


def _joining(board: Board, one: Unjoined) -> tuple[Need, ...]:
    """Vias over the largest area in which two pieces lie over one another."""
    x, y = shapely.get_coordinates(shapely.point_on_surface(one.areas[0]))[0].tolist()
    return area_needs(board, one.areas[0], (x, y), one.pair, one.limit.distance)


def _across(board: Board, frequency: GroundFrequency, options: PourTie.Options, upper: int, lower: int) -> Limit:
    """How far copper may be from a tie between two layers: the middle of a square of ties."""
    permittivity = board.stackup.permittivity(upper, lower)
    pitch = ground_pitch(frequency, permittivity, options.fraction, options.distance)
    return Limit(pitch.distance / math.sqrt(2), f"as in a square grid of {pitch.distance:.2f} mm, {pitch.reason}")


def _along(board: Board, frequency: GroundFrequency, options: PourTie.Options, layer: int) -> Limit:
    """How long a finger on a layer may be."""
    length = pitch_for(frequency.value, _permittivity(board, layer), options.finger)
    return Limit(length, f"1/{options.finger:g} of a wavelength at {frequency.words}")


def _permittivity(board: Board, layer: int) -> float:
    """The higher one above and below a layer."""
    gaps = board.stackup.gaps[max(layer - 2, 0) : layer]
    return max((gap.permittivity for gap in gaps), default=1.0)


def _copper(board: Board, piece: int) -> str:
    return f"{_nets(board, [piece])[0]} on L{board.pieces.layer[piece]}"


def _between(board: Board, pair: tuple[int, int]) -> str:
    return f"L{board.pieces.layer[pair[0]]} to L{board.pieces.layer[pair[1]]}"


def _layers(board: Board, pieces: Sequence[int]) -> tuple[str, ...]:
    return tuple(f"L{layer}" for layer in np.unique(board.pieces.layer[list(pieces)]))


def _nets(board: Board, pieces: Sequence[int]) -> tuple[str, ...]:
    return tuple(board.nets[net].name for net in np.unique(board.pieces.net[list(pieces)]))
