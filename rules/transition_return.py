"""Return paths at layer changes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated

import numpy as np
from msgspec import Meta

from fencepost.board.model import Board, NetKind
from fencepost.checking.finding import Figure, Finding, Place, Remark, Severity, Unchecked
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.settings.model import Settings
from fencepost.settings.patterns import net_class_of
from fencepost.signals.limits import Limit, wave_limit
from fencepost.signals.ties import Ties, joined_by, ties_of
from fencepost.signals.transitions import Stretch, Transition, transitions_of
from fencepost.units import Length, Ratio


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

    Limit. The wavelength in the dielectric at the frequency of the net's class, divided by 20, and never more than a
    plain distance: min(c / (20 f sqrt(er)), distance). Both are common practice, no source. A rise time t stands for
    the frequency 0.35 / t (10 to 90 %, single-pole response).

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

        distance: Annotated[Length, Meta(description="farthest tie from the signal via, centre to centre")] = Length(
            1.5
        )
        fraction: Annotated[Ratio, Meta(description="part of a wavelength that a tie may be away: 1 / fraction")] = (
            Ratio(20)
        )

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every transition of a signal net whose references no tie joins."""
        if not len(board.nets_of(NetKind.GROUND)):
            yield self.unchecked("no ground net is known; name it under [nets] in the settings")
            return
        ties = ties_of(board)
        for transition in transitions_of(board):
            yield from self._judge(board, transition, ties, options, settings)

    def _judge(
        self, board: Board, transition: Transition, ties: Ties, options: Options, settings: Settings
    ) -> Iterator[Finding]:
        before, after = transition.before, transition.after
        left, right = _pieces(before), _pieces(after)
        if left & right:
            return
        name = board.nets[transition.net].name
        net_class = net_class_of(settings, name)
        frequency = net_class.highest_frequency if net_class else None
        permittivity = board.stackup.permittivity(before.layer, after.layer)
        limit = wave_limit(frequency, permittivity, options.fraction, options.distance)
        centre = board.holes.centre[transition.hole]
        near = ties.within(centre, limit.distance)
        if joined_by(board, near, left, right):
            return
        x, y = float(centre[0]), float(centre[1])
        nearest = _nearest_join(board, ties, centre, left, right)
        yield self.finding(
            f"{name} goes from {_way(before)} to {_way(after)}, and {_lacking(board, before, after, limit)}",
            Place(board.copper[before.layer - 1].artwork.location(before.feature), x, y),
            severity=None if net_class else Severity.NOTE,
            layers=(f"L{before.layer}", f"L{after.layer}"),
            nets=(name,),
            measured=Figure("distance", nearest[1], "mm") if nearest else None,
            limit=Figure("distance", limit.distance, "mm"),
            remarks=_remarks(board, nearest),
        )


def _pieces(stretch: Stretch) -> set[int]:
    return {reference.piece for reference in stretch.references}


def _way(stretch: Stretch) -> str:
    """`L1 over L2`: the layer of a trace and what it runs on."""
    layers = " and ".join(f"L{reference.layer}" for reference in stretch.references)
    return f"L{stretch.layer} over {layers}" if layers else f"L{stretch.layer} over no ground or power copper"


def _lacking(board: Board, before: Stretch, after: Stretch, limit: Limit) -> str:
    """What a clean transition would have had."""
    if not before.references or not after.references:
        return "nothing carries its return current there"
    first, second = before.references[0], after.references[0]
    names = [board.nets[board.pieces.net[piece]] for piece in (first.piece, second.piece)]
    if all(net.kind is NetKind.GROUND for net in names):
        return f"no ground via ties L{first.layer} to L{second.layer} within {limit.distance:.2f} mm"
    return f"nothing joins {names[0].name} on L{first.layer} to {names[1].name} on L{second.layer}"


def _nearest_join(
    board: Board, ties: Ties, centre: np.ndarray, left: set[int], right: set[int]
) -> tuple[int, float] | None:
    """The nearest single tie between a piece of one side and one of the other, and its distance in mm."""
    for tie in ties.within(centre, float("inf")):
        touched = set(board.pieces_at(int(tie)).tolist())
        if touched & left and touched & right:
            return int(tie), float(np.hypot(*(board.holes.centre[tie] - centre)))
    return None


def _remarks(board: Board, nearest: tuple[int, float] | None) -> tuple[Remark, ...]:
    if nearest is None:
        return ()
    tie, distance = nearest
    x, y = board.holes.centre[tie]
    place = Place(board.hole_location(tie), float(x), float(y))
    return (Remark(f"the nearest tie is {distance:.2f} mm away", place),)
