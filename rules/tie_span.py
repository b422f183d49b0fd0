"""Blind and buried ties that stop short."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

from msgspec import Meta

from fencepost.board.model import Board, NetKind
from fencepost.checking.drilled import place_of
from fencepost.checking.finding import Figure, Finding, Remark, Severity, Unchecked
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.fabrication.folding import SHOWN
from fencepost.fabrication.holes import called
from fencepost.placement.returns import transition_need
from fencepost.settings.model import Settings
from fencepost.signals.kinds import Reach, Return, ReturnKind, returns_of
from fencepost.signals.short_ties import ShortTie, short_ties
from fencepost.units import Length, Ratio


class TieSpan(Rule):
    """A blind or buried via beside a layer change helps only where it reaches both of the references.

    What goes wrong. A ground via stands beside the signal's via, as it should, but it is blind or buried and ends
    before the plane that the signal runs on afterwards. Seen from above all is well; the return current finds no way.

    What is measured. The layer changes that nothing makes clean: no reference before and after in common, and no tie
    and no capacitor within the limit, as in transition-return. At each of them, the plated holes within the limit that
    do not go through the whole board, touch a reference of one side, and end before one of the other side that is of
    the same net and covers the place where the hole would come through. The figure is what is missing: dielectric and
    copper from where the tie ends to the reference that it does not reach.

    Limit. Nothing may be missing. Near enough is the wavelength in the dielectric at the frequency of the net's class,
    divided by 20, and never more than a plain distance: min(c / (20 f sqrt(er)), distance), both common practice, no
    source. A rise time t stands for the frequency 0.35 / t (10 to 90 %, single-pole response).

    Worked example. A signal goes from L1 over L2 to L4 over L3, with a ground via beside it from L1 to L2: it touches
    L2 and ends 1.06 mm before L3, the thickness of the dielectric between the two.

    How to fix it. Give the tie a span that holds both references, or put a through via in its place.

    How to tune it. `distance`, `fraction` and `capacitor` mean what they mean in transition-return and are set here for
    this rule alone. Nets in no class give notes only.
    """

    name = "tie-span"
    summary = "a blind or buried tie that stops short of a reference that it should tie"
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
        """Every unclean layer change with a short tie beside it."""
        holes = board.holes
        if not (holes.plated & ((holes.first > 1) | (holes.last < board.layers))).any():
            return
        if not len(board.nets_of(NetKind.GROUND)):
            yield self.unchecked("no ground net is known; name it under [nets] in the settings")
            return
        for one in returns_of(board, settings, Reach(options.distance, options.fraction, options.capacitor)):
            if one.kind is ReturnKind.UNTIED and (short := short_ties(board, one.transition, one.limit.distance)):
                yield self._finding(board, one, short)

    def _finding(self, board: Board, one: Return, short: tuple[ShortTie, ...]) -> Finding:
        tie, transition = short[0], one.transition
        name = board.nets[transition.net].name
        before, after = transition.before.layer, transition.after.layer
        rest = tuple(Remark(_remark(other), place_of(board, other.hole)) for other in short[1:SHOWN])
        return self.finding(
            f"{called(board, tie.hole)} beside {name} touches its reference on L{tie.touches} and ends on L{tie.ends}, "
            f"{tie.short:.2f} mm before its reference on L{tie.missed}",
            place_of(board, tie.hole),
            severity=None if one.net_class else Severity.NOTE,
            layers=tuple(f"L{layer}" for layer in sorted((tie.touches, tie.missed))),
            nets=(name,),
            measured=Figure("shortfall", tie.short, "mm"),
            limit=Figure("shortfall", 0.0, "mm"),
            remarks=(
                Remark(
                    f"{name} goes from L{before} to L{after} here, {tie.away:.2f} mm away",
                    place_of(board, transition.hole),
                ),
                *rest,
            ),
            mend=transition_need(
                board, transition.hole, transition.before.pieces, transition.after.pieces, one.limit.distance
            ),
        )


def _remark(tie: ShortTie) -> str:
    return f"{tie.away:.2f} mm away, this one ends on L{tie.ends}, {tie.short:.2f} mm before L{tie.missed}"
