"""Return paths at layer changes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

import numpy as np
from msgspec import Meta

from fencepost.board.model import Board, Net, NetKind
from fencepost.checking.finding import Figure, Finding, Place, Remark, Severity, Unchecked
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.checking.shapes import transition_shapes
from fencepost.physics.loop import detour_inductance, edge_reflection
from fencepost.placement.returns import transition_need
from fencepost.settings.model import Settings
from fencepost.signals.kinds import Reach, Return, ReturnKind, returns_of
from fencepost.signals.limits import Limit
from fencepost.signals.ties import Ties, plane_ties_of
from fencepost.signals.transitions import Reference, Stretch, Transition
from fencepost.units import Length, Ratio, with_prefix

AROUND = 2.0
MOST_TIES = 8
"""Ties up to twice as far as the nearest one share its current enough to count, and not more than these."""

LINE_OHM = 50.0
"""The impedance of a trace whose class names none (common practice, no source)."""


class TransitionReturn(Rule):
    """A signal that changes layer takes its return current with it, if the copper lets it.

    What goes wrong. The return current of a trace flows in the ground or power copper next to it. Where the trace goes
    through a via to a layer that runs over other copper, the current must get across as well. Without a ground via
    close by it takes a detour through the planes; the loop it makes radiates, couples into other vias, and reflects.

    What is measured. The references of the trace on both sides of the via are found from geometry: on each side of
    the trace, the nearest layer whose ground or power copper covers it over its first 3 mm. Both sides share the
    current inversely to their height; less than 20 % is no reference. A transition is clean when some reference before
    and some reference after are the same piece of copper, or are joined by a tie (a plated hole whose barrel touches
    both) no farther than the limit from the via, centre to centre. Several ties may join them one after another.
    Between ground and power, or two nets of either kind, a two-pin capacitor between the two joins them, when its own
    connections to both planes are no farther than `capacitor` from the via.

    Limit. The wavelength in the dielectric at the frequency of the net's class, divided by 20, and never more than a
    plain distance: min(c / (20 f sqrt(er)), distance). Both are common practice, no source. A rise time t stands for
    the frequency 0.35 / t (10 to 90 %, single-pole response).

    Figures. The loop inductance that the way round adds is that of the signal barrel against all ties around it, which
    share the current as their field lets them: (mu0 h / pi) acosh(s / d) for one tie of the same diameter (exact for
    two parallel round wires), h between the two references. Of an edge of rise time t on a line of Z0 it sends back
    about L / (2 Z0 t) (Johnson and Graham, High-Speed Digital Design, 1993; from memory).

    Worked example. A 1 ns edge stands for 350 MHz; at er 4.2 the wavelength is 418 mm, a twentieth of it 20.9 mm: the
    plain distance of 1.5 mm is the limit. At 24 GHz the wavelength is 6.1 mm, and the limit 0.30 mm.

    How to fix it. Put a ground via beside the signal via, tied to both references. Or route the trace so that it keeps
    its reference: from the top to the bottom of one plane the current changes side in the antipad and needs no via.

    How to tune it. `distance` and `fraction`; a class with a frequency for nets that are fast; a waiver for nets that
    are slow. Nets in no class give notes only.
    """

    name = "transition-return"
    summary = "a layer change between different references with no tie close enough"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        distance: Annotated[Length, Meta(description="farthest tie from the via, centre to centre")] = Length(
            Reach.distance
        )
        fraction: Annotated[Ratio, Meta(description="a tie may be 1 / fraction of a wavelength away")] = Ratio(
            Reach.fraction
        )
        capacitor: Annotated[Length, Meta(description="farthest connection of a capacitor from the via")] = Length(
            Reach.capacitor
        )

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every transition of a signal net whose references nothing joins close by."""
        if not len(board.nets_of(NetKind.GROUND)):
            yield self.unchecked("no ground net is known; name it under [nets] in the settings")
            return
        blind = False
        for one in returns_of(board, settings, Reach(options.distance, options.fraction, options.capacitor)):
            if one.kind is ReturnKind.UNTIED:
                unseen = not board.components and _needs_capacitor(board, one.transition)
                blind |= unseen
                yield self._finding(board, one, options, unseen)
        if blind:
            yield self.unchecked(
                "the package names no components, so capacitors between planes could not be looked for; "
                "transitions between ground and power are notes"
            )

    def _finding(self, board: Board, one: Return, options: Options, unseen: bool) -> Finding:
        """`unseen`: a capacitor may be there that the package does not name."""
        transition, limit = one.transition, one.limit
        before, after = transition.before, transition.after
        name = board.nets[transition.net].name
        centre = board.holes.centre[transition.hole]
        ties = plane_ties_of(board)
        nearest = ties.nearest_between(centre, before.pieces, after.pieces)
        x, y = float(centre[0]), float(centre[1])
        return self.finding(
            f"{name} goes from {_way(board, before)} to {_way(board, after)}, "
            f"and {_lacking(board, transition, limit, options)}",
            Place(board.copper[before.layer - 1].artwork.location(before.feature), x, y),
            severity=None if one.net_class and not unseen else Severity.NOTE,
            layers=(f"L{before.layer}", f"L{after.layer}"),
            nets=(name,),
            measured=Figure("distance", nearest[1], "mm") if nearest else None,
            limit=Figure("distance", limit.distance, "mm"),
            remarks=_remarks(board, ties, one, nearest),
            mend=transition_need(board, transition.hole, before.pieces, after.pieces, limit.distance),
            evidence=lambda: transition_shapes(board, transition, _chosen(board, transition), ties, nearest),
        )


def _chosen(board: Board, transition: Transition) -> tuple[Reference, Reference]:
    """The references to speak of: those of ground where both sides have one, else the strongest of each side."""
    sides = [stretch.references for stretch in (transition.before, transition.after)]
    grounds = [[r for r in side if _net(board, r).kind is NetKind.GROUND] for side in sides]
    first, second = grounds if all(grounds) else sides
    return first[0], second[0]


def _needs_capacitor(board: Board, transition: Transition) -> bool:
    first, second = _chosen(board, transition)
    return _net(board, first).name != _net(board, second).name


def _way(board: Board, stretch: Stretch) -> str:
    """`L1 over L2`: the layer of a trace and what it runs on, by the name of its net where it is not ground."""
    return f"L{stretch.layer} over " + " and ".join(_layer(board, reference) for reference in stretch.references)


def _layer(board: Board, reference: Reference) -> str:
    net = _net(board, reference)
    return f"L{reference.layer}" if net.kind is NetKind.GROUND else f"L{reference.layer} ({net.name})"


def _lacking(board: Board, transition: Transition, limit: Limit, options: TransitionReturn.Options) -> str:
    """What a clean transition would have had: a tie between layers of one net, else a capacitor."""
    first, second = _chosen(board, transition)
    names = [_net(board, reference).name for reference in (first, second)]
    if _needs_capacitor(board, transition):
        return (
            f"no capacitor joins {names[0]} on L{first.layer} to {names[1]} on L{second.layer} "
            f"within {options.capacitor:.2f} mm"
        )
    word = "ground via" if _net(board, first).kind is NetKind.GROUND else f"{names[0]} via"
    return f"no {word} ties L{first.layer} to L{second.layer} within {limit.distance:.2f} mm"


def _net(board: Board, reference: Reference) -> Net:
    return board.nets[int(board.pieces.net[reference.piece])]


def _remarks(board: Board, ties: Ties, one: Return, nearest: tuple[int, float] | None) -> tuple[Remark, ...]:
    """Where the nearest tie is, and what the way round by it costs."""
    if nearest is None:
        return ()
    tie, distance = nearest
    x, y = ties.centre[tie]
    place = Place(board.hole_location(int(ties.holes[tie])), float(x), float(y))
    return (Remark(f"the nearest tie is {distance:.2f} mm away{_cost(board, ties, one)}", place),)


def _apart(board: Board, ties: Ties, near: list[int], hole: int) -> list[int]:
    """Those of these ties that overlap neither the signal's hole nor one before them: a hole may be drilled twice."""
    centre, diameter = board.holes.centre, board.holes.diameter
    kept, holes = list[int](), [hole]
    for tie in near:
        own = int(ties.holes[tie])
        spacing = np.hypot(*(centre[holes] - centre[own]).T)
        if (spacing > (diameter[holes] + diameter[own]) / 2 * (1 + 1e-3)).all():
            kept.append(tie)
            holes.append(own)
    return kept


def _cost(board: Board, ties: Ties, one: Return) -> str:
    """The loop that the return current makes through all ties around, and what it sends back of the class's edge."""
    before, after = one.transition.before, one.transition.after
    first, second = _chosen(board, one.transition)
    height = board.stackup.height(first.layer, second.layer)
    if height <= 0:
        return ""
    centre = board.holes.centre[one.transition.hole]
    near, _ = ties.between(centre, before.pieces, after.pieces, AROUND)
    around = _apart(board, ties, near, one.transition.hole)[:MOST_TIES]
    if not around:
        return ""
    diameter = board.holes.diameter
    loop = detour_inductance(
        centre, float(diameter[one.transition.hole]), ties.centre[around], diameter[ties.holes[around]], height
    )
    said = f"; the loop adds about {with_prefix(loop, 'H', 2)}"
    if one.net_class is None or one.net_class.edge is None:
        return said
    line = float(one.net_class.impedance or LINE_OHM)
    share = edge_reflection(loop, line, one.net_class.edge)
    return f"{said} and sends back {share:.1%} of an edge of {with_prefix(one.net_class.edge, 's', 2)} on {line:g} ohm"
