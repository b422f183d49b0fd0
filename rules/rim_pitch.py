"""Ties along the rim of the board."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Annotated

import numpy as np
import shapely
from msgspec import Meta

from fencepost.board.model import Board, NetKind
from fencepost.checking.finding import Figure, Finding, Remark, Severity, Unchecked
from fencepost.checking.places import at_copper, at_hole, both
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.checking.shapes import fence_shapes
from fencepost.grounds.edges import LineKind
from fencepost.grounds.frequency import NO_FREQUENCY, ground_frequency, ground_pitch
from fencepost.grounds.rim import Rim, Slot, rims_of
from fencepost.placement.covers import rim_gap_needs, stations_in
from fencepost.placement.need import Need
from fencepost.settings.model import Settings
from fencepost.signals.compass import direction_of
from fencepost.signals.fences import END
from fencepost.signals.limits import Limit
from fencepost.units import Length, Ratio

MOST_REFUSED = 3
"""Holes that are no ties, named with a finding."""


class RimPitch(Rule):
    """Along its rim a board is open: what runs between two layers of ground leaves it there.

    What goes wrong. Two layers of ground with dielectric between them guide waves. Every signal via between them and
    every supply that draws current there sets some off. At the edge of the board they radiate, and are reflected so
    that the board resonates. Ground vias along the edge close the slot. A gap between two of them is a slot that
    radiates all the better the longer it is; half a wavelength is a slot antenna.

    What is measured. The outline of the board and its cut-outs, between every two layers of ground that have no ground
    between them. Ground counts at the rim where its copper comes within `reach` of the edge. A post is a plated hole
    that touches ground on both layers and stands no farther than `reach` from the edge of that copper. The gap at any
    point of the rim is the shortest distance, centre to centre, from a post before it to a post after it. Gaps that
    follow one another, and gaps of other layers at the same place, are one finding. Blind vias count for the layers
    that they join, and stacked ones for all that they join together.

    Where there is no ground to tie, there is no gap: stretches longer than the limit where fewer than two layers have
    ground near the edge, as at an antenna or a connector, are named and left out. Shorter ones count as ground. Where
    that is most of the outline, the ground stays away from the edge, and the edge of the ground is measured instead.
    Cut-outs no larger across than the limit need no ties.

    Limit. The wavelength in the densest dielectric at the frequency of the board, divided by 8, and never more than a
    plain distance: min(c / (8 f sqrt(er)), distance). Both are common practice, no source. Where [board] has no
    frequency, the highest of all classes stands for it; a rise time t stands for 0.35 / t (10 to 90 %, single-pole
    response). A slot of an eighth of a wavelength shields by 20 log10(4) = 12 dB (H. Ott, Electromagnetic Compatibility
    Engineering, 2009, ch. 6).

    Worked example. At 2.5 GHz and er 4.3 the wavelength is 57.8 mm, and an eighth of it 7.2 mm. A board of 60 x 40 mm
    with ties 0.9 mm inside its edge has 196 mm of rim along them: at least 28 ties. At 868 MHz and er 4.5 an eighth of
    the wavelength is 20.4 mm, and the plain distance of 10 mm is the limit.

    How to fix it. Put ground vias into the gap, near the edge and tied to all layers of ground. Where parts or traces
    are in the way, a row behind them closes it as well, as long as it is within reach.

    How to tune it. `frequency` under [board]; `distance`, `fraction` and `reach` here.
    """

    name = "rim-pitch"
    summary = "a gap between the ground vias along the edge of the board too wide for the frequency"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        distance: Annotated[Length, Meta(description="widest gap at any frequency, centre to centre")] = Length(10.0)
        fraction: Annotated[Ratio, Meta(description="part of a wavelength that a gap may be: 1 / fraction")] = Ratio(8)
        reach: Annotated[
            Length, Meta(description="farthest tie from the edge of the ground, and farthest ground from the edge")
        ] = Length(3.0)

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every gap along every outline."""
        if not len(board.nets_of(NetKind.GROUND)):
            yield self.unchecked("no ground net is known; name it under [nets] in the settings")
            return
        frequency = ground_frequency(settings)
        if frequency is None:
            yield self.unchecked(NO_FREQUENCY)
            return
        limit = ground_pitch(frequency, board.stackup.highest_permittivity, options.fraction, options.distance)
        rims = list(rims_of(board, limit.distance, options.reach))
        if not rims:
            yield self.unchecked(f"nowhere do two layers of ground come within {options.reach:.2f} mm of an edge")
        for rim in rims:
            for slots in rim.openings:
                yield self._finding(board, rim, slots, limit, options)
            bare = [(begin, end) for begin, end in rim.bare if end - begin > limit.distance]
            if bare:
                yield self.unchecked(_bare(rim, bare, options))

    def _finding(self, board: Board, rim: Rim, slots: Sequence[Slot], limit: Limit, options: Options) -> Finding:
        worst = slots[0]
        gap = worst.opening.widest
        layers = sorted({layer for slot in slots for layer in slot.layers})
        upper = rim.pieces[board.pieces.layer[rim.pieces] == worst.layers[0]]
        return self.finding(
            f"{_line(rim)} {_said(rim, slots)}, more than {limit.distance:.2f} mm ({limit.reason}){_others(slots)}",
            at_copper(board, upper.tolist(), rim.line.at(gap.middle)),
            layers=tuple(f"L{layer}" for layer in layers),
            nets=_nets(board, rim, layers),
            measured=Figure("gap", _width(worst), "mm"),
            limit=Figure("gap", limit.distance, "mm"),
            remarks=(*_ends(board, rim, worst), *_refused(board, rim, worst, options)),
            mend=tuple(need for slot in slots for need in _mend(board, rim, slot, limit)),
            evidence=fence_shapes(rim.line.path, worst.posts.centre, worst.opening.gaps, gap, endless=True),
        )


def _mend(board: Board, rim: Rim, slot: Slot, limit: Limit) -> Iterator[Need]:
    """Ground vias that close the gaps of a slot, the widest first."""
    for gap in sorted(slot.opening.gaps, key=lambda gap: gap is not slot.opening.widest):
        places = []
        for station in stations_in(gap, limit.distance) % rim.line.length:
            (x, y), (to_x, to_y) = rim.line.at(station).tolist(), rim.line.left(np.array([station]))[0].tolist()
            places.append(((x, y), (to_x, to_y)))
        yield from rim_gap_needs(board, slot.posts, gap, places, slot.layers, limit.distance)


def _line(rim: Rim) -> str:
    """What the line runs along, in words."""
    word = str(rim.line.kind.value)
    if rim.line.kind is not LineKind.CUTOUT:
        return word
    x, y = shapely.get_coordinates(shapely.centroid(shapely.Polygon(rim.line.path.xy)))[0]
    return f"{word} at ({x:.2f}, {y:.2f})"


def _width(worst: Slot) -> float:
    return worst.opening.widest.width


def _alike(slots: Sequence[Slot]) -> list[Slot]:
    """Those slots that are as wide as the worst one, and so are told in one breath with it."""
    return [slot for slot in slots if abs(_width(slot) - _width(slots[0])) < 0.001]


def _said(rim: Rim, slots: Sequence[Slot]) -> str:
    worst = slots[0]
    gap = worst.opening.widest
    layers = both(f"L{layer}" for layer in sorted({layer for slot in _alike(slots) for layer in slot.layers}))
    vias = f"ground vias that join {layers}"
    if not len(worst.posts):
        return f"has no {vias}, over {sum(_width(slot) for slot in slots if slot.layers == worst.layers):.2f} mm"
    side = f"on its {_side(rim, gap.middle)} side"
    count = sum(len(slot.opening.gaps) for slot in slots if slot.layers == worst.layers)
    if count > 1:
        return f"has {count} gaps in a row between the {vias} {side}, the widest {gap.width:.2f} mm"
    if END in (gap.before, gap.after):
        return f"has {gap.width:.2f} mm without {vias} {side}"
    return f"has a gap of {gap.width:.2f} mm between the {vias} {side}"


def _others(slots: Sequence[Slot]) -> str:
    """Layers that are open at the same place, and less wide."""
    told = {slot.layers for slot in _alike(slots)}
    others = sorted({slot.layers for slot in slots} - told)
    return f"; {both(f'L{one} to L{other}' for one, other in others)} likewise, less wide" if others else ""


def _side(rim: Rim, station: float) -> str:
    """Where on the board, or on the cut-out, the line runs."""
    x, y = rim.line.left(np.array([station % rim.line.length]))[0]
    return direction_of(x, y) if rim.line.kind is LineKind.CUTOUT else direction_of(-x, -y)


def _nets(board: Board, rim: Rim, layers: Sequence[int]) -> tuple[str, ...]:
    """The ground nets of the layers that are open."""
    nets = np.unique(board.pieces.net[rim.pieces[np.isin(board.pieces.layer[rim.pieces], layers)]])
    return tuple(board.nets[net].name for net in nets)


def _ends(board: Board, rim: Rim, worst: Slot) -> tuple[Remark, ...]:
    """The two ends of the widest gap, where there are any."""
    gap = worst.opening.widest
    posts = [post for post in (gap.before, gap.after) if post != END]
    return tuple(Remark("a tie at one end of the gap", at_hole(board, int(worst.posts.hole[post]))) for post in posts)


def _refused(board: Board, rim: Rim, worst: Slot, options: RimPitch.Options) -> tuple[Remark, ...]:
    """Holes in the opening that might have been taken for ties."""
    holes = board.holes
    near = np.flatnonzero(((holes.net < 0) | np.isin(holes.net, board.nets_of(NetKind.GROUND))) & holes.plated)
    near = near[~np.isin(near, worst.posts.hole)]
    station, away = rim.line.nearest(holes.centre[near])
    inside = (station - worst.begin) % rim.line.length < worst.end - worst.begin
    chosen = near[inside & (away <= options.reach)][:MOST_REFUSED]
    one, other = worst.layers
    return tuple(
        Remark(
            f"no tie: this hole {_reason(board, rim, hole)}, and does not join L{one} to L{other}", at_hole(board, hole)
        )
        for hole in chosen.tolist()
    )


def _reason(board: Board, rim: Rim, hole: int) -> str:
    touched = np.intersect1d(board.pieces_at(hole), rim.pieces)
    layers = sorted({int(layer) for layer in board.pieces.layer[touched]})
    return f"touches ground on {both(f'L{layer}' for layer in layers)} only" if layers else "touches no ground"


def _bare(rim: Rim, stretches: list[tuple[float, float]], options: RimPitch.Options) -> str:
    total = sum(end - begin for begin, end in stretches)
    (x0, y0), (x1, y1) = (rim.line.at(station) for station in stretches[0])
    said = f"from ({x0:.2f}, {y0:.2f}) to ({x1:.2f}, {y1:.2f})"
    if len(stretches) > 1:
        said += f" and in {len(stretches) - 1} more places" if len(stretches) > 2 else " and in one more place"
    where = f"behind {total:.1f} mm of {_line(rim)}, {said}"
    return f"{where}, fewer than two layers have ground within {options.reach:.2f} mm: there is nothing to tie"
