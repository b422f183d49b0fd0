"""The impedance of vias."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from typing import Annotated

from msgspec import Meta

from fencepost.board.model import Board, HoleKind
from fencepost.checking.finding import Figure, Finding, Place, Remark, Severity, Unchecked
from fencepost.checking.places import at_hole, both
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.fabrication.build import build_of
from fencepost.settings.model import NetClass, Settings
from fencepost.settings.patterns import net_class_of
from fencepost.signals.pairs import pairs_of
from fencepost.signals.passages import BarrelPassage, Surroundings, passage_through, reflection, surroundings_of
from fencepost.signals.transitions import Transition, transitions_of
from fencepost.units import Length, Ratio, with_prefix

WIDEST = 4.0
"""Times the gap between land and antipad: a wider one is not proposed."""

WALL_MM = 0.2
"""Between walls as drilled: nearer ties are not proposed."""


class BarrelImpedance(Rule):
    """A via is a piece of line, and seldom one of the impedance that the trace was drawn for.

    What goes wrong. Where the impedance changes, a part of the wave is sent back. A via among close lands and narrow
    antipads has too much capacitance and is low; one whose ground vias stand far away has too much inductance and is
    high. Over a hundredth of a wavelength nobody notices; over a tenth it spoils the match.

    What is measured. Every via through which a signal of a class with an impedance changes layer. Between neighbouring
    layers, the barrel makes a line with the ground vias within `reach` that pass there, each where it stands and as
    wide as it is drilled: Z = (60 / sqrt(er)) g, where g is that of the two-dimensional field of round conductors, with
    acosh((4 s² - d² - D²) / (2 d D)) for a single tie as its simplest case. In every plane the barrel, or its land, is
    the inside of a short coaxial line, and the field that bulges from the gap adds the capacitance 4 e r [ln(32 r / w)
    - 2], r being the mean radius of the gap and w its width (H. G. Booker, J. IEE 93 IIIA, 1946; F. W. Grover,
    Inductance Calculations, 1946; both from memory). An antipad of any shape counts as the round one with the same mean
    of the logarithm of its radius. Between two such openings close together there is no more than in a coaxial line of
    that height. A land on a layer without copper around it has the capacitance that it would have in the antipad of the
    nearest plane. Unused lengths of the barrel add their capacitance. The impedance of the whole is sqrt(sum of L / sum
    of C): that of a line in short sections, good to a few percent up to an eighth of a wavelength; the lands are known
    less well (an estimate, without a source: 10 %).

    Limit. No more than `tolerance` off the impedance of the class (15 %; common practice, no source). What it does is
    judged by the part of a wave that it sends back at the frequency of the class, |S11| = |x| / sqrt(1 + x²) with x =
    (z - 1/z) sin(2 pi f T) / 2, z = Z / Z0 and T its delay (D. M. Pozar, Microwave Engineering, ch. 4). Where that is
    below `reflection` (5 %, a return loss of 26 dB; common practice, no source) the finding is a note. A rise time t
    stands for 0.35 / t; a class without either has the frequency of the board; without that a finding is a warning.

    Worked example. A barrel drilled 0.35 mm with one tie alike 1 mm away at er 4.5: 56.5 ohm x acosh(1 / 0.35) = 96.7
    ohm. Four ties at 1 mm: (60 / sqrt(4.5)) [ln(1 / 0.175) + ln(1 / (4 x 0.175)) / 4] = 51.8 ohm as thin wires. A land
    of 0.5 mm in an antipad of 0.9 mm at er 4.4: r = 0.335 mm and w = 0.2 mm give 0.104 pF; two of them on 1.3 mm of
    that line, which itself has 0.18 pF, bring it down to some 35 ohm. Over 13 ps that sends back 2.7 % at 868 MHz, and
    17 % at 6 GHz.

    How to fix it. Too low: a wider antipad, smaller lands, none on layers where no trace meets the via, a thinner
    drill, no unused length. Too high: ground vias nearer or more of them, a narrower antipad. The finding says what
    antipad, or what distance of the ties, would meet the target.

    How to tune it. `impedance` of the class, `tolerance`, `reflection`, `reach`. Left out are nets without such a
    class, halves of differential pairs, whose impedance is that of both together, and holes that take a pin.
    """

    name = "barrel-impedance"
    summary = "a layer change whose via misses the impedance of its class"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        tolerance: Annotated[Ratio, Meta(description="how far off the target a via may be, as a share of it")] = Ratio(
            0.15
        )
        reflection: Annotated[
            Ratio, Meta(description="a via that sends back a smaller share of the wave is a note")
        ] = Ratio(0.05)
        reach: Annotated[Length, Meta(description="farthest ground via that counts, centre to centre")] = Length(3.0)

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every layer change of a net whose class has an impedance."""
        if not any(entry.impedance for entry in settings.classes):
            return
        pairs = {name: one.name for one in pairs_of(board, settings) for name in (one.positive, one.negative)}
        plating = build_of(settings.board).plating
        said: set[str] = set()
        for transition in transitions_of(board):
            name = board.nets[transition.net].name
            entry = net_class_of(settings, name)
            if entry is None or entry.impedance is None or board.holes.kind[transition.hole] != HoleKind.VIA:
                continue
            if name in pairs:
                if pairs[name] not in said:
                    yield self.unchecked(f"{name} is half of a differential pair, whose impedance is not computed")
                said.add(pairs[name])
                continue
            yield from self._found(board, transition, entry, options, plating, settings)

    def _found(
        self,
        board: Board,
        transition: Transition,
        entry: NetClass,
        options: Options,
        plating: float,
        settings: Settings,
    ) -> Iterator[Finding | Unchecked]:
        hole, first, last = transition.hole, transition.before.layer, transition.after.layer
        name, place = board.nets[transition.net].name, at_hole(board, hole)
        around = surroundings_of(board, hole, first, last, plating, options.reach)
        if not all(len(one.ties) for one in around.stretches):
            yield self.unchecked(
                f"{place.location}: beside the via of {name} no ground via within {options.reach:g} mm passes from "
                f"L{first} to L{last}, against which it would have an impedance"
            )
            return
        target = float(entry.impedance or 0.0)
        frequency = entry.highest_frequency or settings.board.frequency
        try:
            passage = passage_through(around)
            off = passage.whole.ohms / target - 1
            if abs(off) <= options.tolerance * (1 + 1e-9):
                return
            mend = _lower(around, target) if off > 0 else _higher(around, target)
        except ValueError as error:
            yield self.unchecked(f"{place.location}: the via of {name} from L{first} to L{last}: {error}")
            return
        back = None if frequency is None else reflection(passage.whole.ohms, passage.whole.delay, target, frequency)
        remarks = [Remark(mend, place), *_what_it_is_made_of(board, hole, around, passage, place)]
        if frequency is not None and back is not None:
            remarks.insert(0, Remark(_sent_back(back, frequency), place))
        yield self.finding(
            f"{name} goes from L{first} to L{last} through a via of {passage.whole.ohms:.1f} ohm, {abs(off):.0%} "
            f'{"above" if off > 0 else "below"} the {target:g} ohm of class "{entry.name}"',
            place,
            severity=Severity.NOTE if back is not None and back < options.reflection else None,
            layers=(f"L{first}", f"L{last}"),
            nets=(name,),
            measured=Figure("impedance", passage.whole.ohms, "ohm"),
            limit=Figure("impedance", target * (1 + math.copysign(options.tolerance, off)), "ohm"),
            remarks=tuple(remarks),
        )


def _sent_back(share: float, frequency: float) -> str:
    size = f" ({20 * math.log10(share):.0f} dB)" if share > 0 else ""
    return f"it sends back {share:.1%} of a wave{size} at {with_prefix(frequency, 'Hz')}"


def _what_it_is_made_of(
    board: Board, hole: int, around: Surroundings, passage: BarrelPassage, place: Place
) -> Iterator[Remark]:
    longest = max(around.stretches, key=lambda one: one.length)
    count, line = len(longest.ties), passage.line
    antipads = [one.antipad for one in around.openings if one.thickness > 0]
    shares = f"lands and antipads add {passage.openings:.0%} of its capacitance" if antipads else "no antipads are near"
    unused = f", unused lengths {passage.unused:.0%}" if passage.unused > 0 else ""
    vias = "1 ground via" if count == 1 else f"{count} ground vias"
    yield Remark(
        f"among its {vias} alone it is a line of {line.ohms:.1f} ohm ({line.thin_ohms:.1f} ohm as thin wires); "
        f"{shares}{unused}",
        place,
    )
    nearest = int(longest.ties[0])
    away = math.dist(board.holes.centre[nearest], board.holes.centre[hole])
    yield Remark(f"the nearest ground via is {away:.2f} mm away", at_hole(board, nearest))


def _higher(around: Surroundings, target: float) -> str:
    """What wider antipads, and no lands where no trace needs them, would do for a via that is too low."""
    idle = around.idle_lands()
    layers = both(f"L{layer}" for layer in idle) if idle else ""
    bare = f"without its lands on {layers} {_ohms(around.without_lands(idle))}" if idle else ""
    antipads = [one.antipad for one in around.openings if one.thickness > 0]
    if not antipads:
        return f"too much capacitance{': ' if bare else ''}{bare}; leave no length unused, move the ground vias away"
    scale = _scale(lambda by: passage_through(around.with_antipads(by)).whole.ohms - target, 1.0, WIDEST)
    bare = f"; {bare}" if bare else ""
    if scale is None:
        most = _ohms(around.with_antipads(WIDEST))
        return f"too much capacitance: wider antipads alone bring no more than {most}{bare}; leave no length unused"
    wider = [one.antipad for one in around.with_antipads(scale).openings if one.thickness > 0]
    return (
        f"too much capacitance: antipads of {_spread(wider)} instead of {_spread(antipads)} would meet the target{bare}"
    )


def _ohms(around: Surroundings) -> str:
    return f"{passage_through(around).whole.ohms:.1f} ohm"


def _lower(around: Surroundings, target: float) -> str:
    """How much nearer ground vias would have to stand for a via that is too high."""
    longest = max(around.stretches, key=lambda one: one.length)
    away = [math.hypot(x, y) for x, y in longest.ties_xy]
    near = min((around.diameter + size) / 2 + WALL_MM for size in longest.tie_diameters)
    least = max(near / away[0], 0.05)
    more = "set more ground vias around it, or narrow its antipads"
    scale = None
    if least < 1:
        scale = _scale(lambda by: passage_through(around.with_ties(by)).whole.ohms - target, least, 1.0)
    if scale is None:
        return f"too much inductance, and nearer ground vias alone do not help: {more}"
    return (
        f"too much inductance: with the nearest ground via at {away[0] * scale:.2f} mm instead of {away[0]:.2f} mm, "
        f"and the others nearer likewise, it would meet the target; or {more}"
    )


def _scale(off: Callable[[float], float], low: float, high: float) -> float | None:
    """Where an error is zero, None where it is of one sign at both ends, or where the ends cannot be computed."""
    try:
        if off(low) * off(high) > 0:
            return None
        from scipy.optimize import brentq  # Slow to import, and seldom asked for.

        return float(brentq(off, low, high, xtol=1e-3))
    except ValueError:
        return None


def _spread(lengths: list[float]) -> str:
    """`0.90 mm`, `0.90 to 1.00 mm`."""
    low, high = f"{min(lengths):.2f}", f"{max(lengths):.2f}"
    return f"{low} mm" if low == high else f"{low} to {high} mm"
