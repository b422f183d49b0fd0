"""Return paths at layer changes of differential pairs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Annotated, NamedTuple

import numpy as np
from msgspec import Meta

from fencepost.board.model import TOUCH_MM, Board, NetKind
from fencepost.checking.finding import Figure, Finding, Place, Remark, Severity, Unchecked
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.placement.need import Need
from fencepost.placement.pairs import pair_need
from fencepost.settings.model import NetClass, Settings
from fencepost.settings.patterns import net_class_of
from fencepost.signals.limits import Limit, wave_limit
from fencepost.signals.pairs import Pair, pairs_of, transitions_of_pair
from fencepost.signals.ties import joined, plane_ties_of
from fencepost.signals.transitions import Transition
from fencepost.units import Length, Ratio


class PairReturn(Rule):
    """Both halves of a differential pair need the same way back when they change layer together.

    What goes wrong. Where a pair goes through two vias to a layer that runs over other copper, each half takes its
    own return current along. As long as the ground vias stand evenly about the pair, the two currents meet equal
    paths and what they radiate cancels. With a ground via on the side of one half only, that half has the smaller
    loop: its edge arrives earlier, and a part of the signal turns into common mode, which cables radiate and
    receivers do not reject.

    What is measured. Pairs come from `[[pair]]` in the settings, from the package where it names them, and else
    from names in common use: halves that end in P and N, DP and DM, POS and NEG, + and -. A transition of one half
    is matched with the nearest one of the other half between the same layers, no farther than `apart` from it.
    Where both halves change their reference (as in `transition-return`), the nearest tie that joins the copper
    before and behind is looked for from each of the two vias, centre to centre. Where the two distances differ by
    more than `asymmetry`, and one of them at least is within the limit, the transition is uneven. A pair that keeps
    its reference copper needs nothing. A half that changes layer and reference with no such transition of the other
    half near it is a note.

    Transitions without a tie near either half are left to `transition-return`, which tells of each half. So are
    those that need capacitors.

    Limit. The difference is a plain distance, 0.4 mm: common practice, no source. It is half of the usual 0.8 mm
    between the two vias of a pair: a single tie is even enough where the line from the pair to it makes 60 degrees
    or more with the line through both vias. What counts as near is the limit of `transition-return`: min(c / (20 f
    sqrt(er)), distance), common practice, no source.

    Worked example. Two vias 0.8 mm apart pass two planes that lie 1.06 mm from one another; the only ground via
    stands in line with them, 0.85 mm from the one and 1.65 mm from the other. The difference of 0.80 mm is more
    than 0.40 mm. The loop of a barrel and its tie is (mu0 h / pi) acosh(s / d), exact for two parallel round wires
    of one diameter: with holes of 0.25 mm it is 0.80 nH for the one half and 1.09 nH for the other.

    How to fix it. Put a second ground via at the mirror image of the first, on the other side of the pair; or one
    ground via on the line that runs between the halves.

    How to tune it. `asymmetry`, `apart`, `distance` and `fraction`; `[[pair]]` with `nets = ["A", "B"]` for pairs
    that their names do not tell; a class with a frequency. Nets in no class give notes only.
    """

    name = "pair-return"
    summary = "a layer change of a differential pair with ground vias nearer to one half than to the other"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        asymmetry: Annotated[
            Length, Meta(description="largest difference between the distances of the halves to their nearest ties")
        ] = Length(0.4)
        apart: Annotated[
            Length, Meta(description="farthest transition of the other half that belongs to one of this half")
        ] = Length(3.0)
        distance: Annotated[Length, Meta(description="farthest tie from the via, centre to centre")] = Length(1.5)
        fraction: Annotated[Ratio, Meta(description="a tie may be 1 / fraction of a wavelength away")] = Ratio(20)

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every uneven transition of a pair, and every one that one half makes alone."""
        pairs = pairs_of(board, settings)
        if pairs and not len(board.nets_of(NetKind.GROUND)):
            yield self.unchecked("no ground net is known; name it under [nets] in the settings")
            return
        for pair in pairs:
            net_class = net_class_of(settings, pair.positive) or net_class_of(settings, pair.negative)
            found = transitions_of_pair(board, pair, options.apart)
            for couple in found.together:
                if all(map(_changes_reference, couple)):
                    yield from self._uneven(board, pair, couple, net_class, options)
            for names, transitions in found.alone.items():
                yield from (self._alone(board, names, one, options) for one in transitions if _changes_reference(one))

    def _uneven(
        self,
        board: Board,
        pair: Pair,
        couple: tuple[Transition, Transition],
        net_class: NetClass | None,
        options: Options,
    ) -> Iterator[Finding]:
        limit = _limit(board, couple[0], net_class, options)
        halves = [_half(board, *half, limit) for half in zip((pair.positive, pair.negative), couple, strict=True)]
        near, far = sorted(halves, key=lambda half: half.away)
        difference = far.away - near.away
        if near.away > limit.distance + TOUCH_MM or difference <= options.asymmetry + TOUCH_MM:
            return
        yield self.finding(
            f"{_way(near.name, far.name, couple[0])} {_said(board, near, far, limit)}",
            _place(board, far.transition),
            severity=None if net_class else Severity.NOTE,
            layers=_layers(couple[0]),
            nets=(pair.positive, pair.negative),
            measured=None if far.tie is None else Figure("difference", difference, "mm"),
            limit=Figure("difference", options.asymmetry, "mm"),
            remarks=tuple(remark for half in (near, far) for remark in _remarks(board, half)),
            mend=_mend(board, near, far, options),
        )

    def _alone(self, board: Board, names: tuple[str, str], transition: Transition, options: Options) -> Finding:
        own, other = names
        before, after = _layers(transition)
        return self.finding(
            f"{own} goes from {before} to {after}, and {other} does not within {options.apart:.2f} mm of it",
            _place(board, transition),
            severity=Severity.NOTE,
            layers=(before, after),
            nets=names,
            limit=Figure("distance", options.apart, "mm"),
        )


class _Half(NamedTuple):
    """One half's transition, and its nearest tie as an index into the plane ties: None and infinity for no tie."""

    name: str
    transition: Transition
    tie: int | None
    away: float


def _limit(board: Board, transition: Transition, net_class: NetClass | None, options: PairReturn.Options) -> Limit:
    """How far a tie may be from a via, as for single traces."""
    frequency = net_class.highest_frequency if net_class else None
    permittivity = board.stackup.permittivity(transition.before.layer, transition.after.layer)
    return wave_limit(frequency, permittivity, options.fraction, options.distance)


def _mend(board: Board, near: _Half, far: _Half, options: PairReturn.Options) -> tuple[Need, ...]:
    """A ground via for the half that lacks one."""
    if near.tie is None:
        return ()
    (one, other), before, after = (
        [(board.holes.centre[half.transition.hole], half.away) for half in (near, far)],
        far.transition.before.pieces,
        far.transition.after.pieces,
    )
    x, y = plane_ties_of(board).centre[near.tie].tolist()
    return pair_need(board, one, other, (x, y), before, after, options.asymmetry)


def _changes_reference(transition: Transition) -> bool:
    """Whether a transition has references on both sides, and none of them on both."""
    before, after = transition.before.pieces, transition.after.pieces
    return bool(before) and bool(after) and before.isdisjoint(after)


def _half(board: Board, name: str, transition: Transition, limit: Limit) -> _Half:
    """The nearest tie that joins the references; within the limit also one that does so by way of nearer ones."""
    ties, centre = plane_ties_of(board), board.holes.centre[transition.hole]
    before, after = transition.before.pieces, transition.after.pieces
    near = ties.within(centre, limit.distance)
    away = np.hypot(*(ties.centre[near] - centre).T)
    order = [near[i] for i in np.argsort(away, kind="stable")]
    for count, tie in enumerate(order, 1):
        if joined([ties.pieces[one] for one in order[:count]], before, after):
            return _Half(name, transition, tie, float(np.sort(away)[count - 1]))
    nearest = ties.nearest_between(centre, before, after)
    return _Half(name, transition, *(nearest or (None, math.inf)))


def _said(board: Board, near: _Half, far: _Half, limit: Limit) -> str:
    """How the ties stand about the pair."""
    net = board.nets[int(board.holes.net[plane_ties_of(board).holes[near.tie]])]
    word = "ground" if net.kind is NetKind.GROUND else net.name
    if far.tie is None:
        return f"and a {word} via joins the references of {near.name} only, {near.away:.2f} mm away"
    distances = f"{near.away:.2f} mm from {near.name} and {far.away:.2f} mm from {far.name}"
    if _one_sided(board, near, far, limit):
        return f"and {word} vias stand on the side of {near.name} only, the nearest {distances}"
    return f"and their nearest {word} vias are uneven, {distances}"


def _one_sided(board: Board, near: _Half, far: _Half, limit: Limit) -> bool:
    """Whether all ties between the references within the limit of either via are nearer to the same one of the two."""
    ties = plane_ties_of(board)
    centres = [board.holes.centre[half.transition.hole] for half in (near, far)]
    around = set()
    for half, centre in zip((near, far), centres, strict=True):
        stretches = (half.transition.before.pieces, half.transition.after.pieces)
        around |= {
            tie
            for tie in ties.within(centre, limit.distance)
            if all(not pieces.isdisjoint(ties.pieces[tie]) for pieces in stretches)
        }
    to_near, to_far = (np.hypot(*(ties.centre[sorted(around)] - centre).T) for centre in centres)
    return bool((to_near < to_far).all())


def _remarks(board: Board, half: _Half) -> tuple[Remark, ...]:
    if half.tie is None:
        return ()
    ties = plane_ties_of(board)
    x, y = ties.centre[half.tie].tolist()
    place = Place(board.hole_location(int(ties.holes[half.tie])), x, y)
    return (Remark(f"the nearest tie of {half.name} is {half.away:.2f} mm away", place),)


def _way(near: str, far: str, transition: Transition) -> str:
    before, after = _layers(transition)
    return f"{near} and {far} go from {before} to {after},"


def _layers(transition: Transition) -> tuple[str, str]:
    return f"L{transition.before.layer}", f"L{transition.after.layer}"


def _place(board: Board, transition: Transition) -> Place:
    """At the hole, and in the files at the stroke that enters it."""
    x, y = board.holes.centre[transition.hole].tolist()
    artwork = board.copper[transition.before.layer - 1].artwork
    return Place(artwork.location(transition.before.feature), x, y)
