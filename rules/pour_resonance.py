"""Resonances of ground copper between its ties."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Annotated

import numpy as np
from msgspec import Meta

from fencepost.board.model import Board, NetKind
from fencepost.checking.copies import copies_pay
from fencepost.checking.finding import Figure, Finding, Remark, Severity, Unchecked
from fencepost.checking.places import at_copper, at_hole
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.checking.shapes import field_shape
from fencepost.fabrication.build import build_of
from fencepost.grounds.cavities import SMALL, Overlap, may_resonate, overlaps_of
from fencepost.grounds.frequency import GroundFrequency, ground_frequency
from fencepost.physics.cavity import Cavity, cavity_modes, frequency_with_tie
from fencepost.physics.waves import wavelength
from fencepost.placement.need import Need
from fencepost.placement.via import common_via
from fencepost.processes import in_processes
from fencepost.settings.model import Settings
from fencepost.units import Ratio, with_prefix

MODES = 3
"""Resonances that are worked out."""

TOGETHER = 256
"""Overlaps that are looked at between two looks at the clock, where several processes do so."""


class PourResonance(Rule):
    """Two layers of ground are a flat cavity, and too few ties let it ring at the frequency in use.

    What goes wrong. Between two sheets of copper a wave runs to the edge and back. Where it comes back in step, the
    sheets resonate: their edges radiate, and every via between them couples into every other. Ties short the sheets and
    push the resonances up, but only where they stand: a pour that is tied along one side rings where the rest of it is
    a quarter of a wave long, lower than without any tie.

    What is measured. For every two pieces of one ground net on neighbouring ground layers (no other ground between),
    that anything ties: each connected area in which they lie over one another. Its lowest resonances follow from the
    wave equation in its outline, with an open edge all around and with every plated hole that touches both pieces as a
    post where the field is zero, of the diameter that is drilled. It is solved on a grid of square cells, refined until
    the first frequency moves by less than 1 %. A bare rectangle of a x b gives f = c / (2 sqrt(er)) sqrt((m/a)² +
    (n/b)²) (D. M. Pozar, Microwave Engineering, ch. 6). Holes in the copper up to 1/40 of a wavelength are filled
    first, and lower the result by sqrt(1 + their share of the area) (J. C. Maxwell, Treatise, 1873, art. 314, from
    memory).

    Left out: the field that bulges from the edges (it lowers a frequency by about the height over the size of the
    copper), losses, copper of other nets between the two, and ground against power, which ties do not pin. Two pieces
    that nothing joins are for `pour-tie`. Areas less than 1/15 of a wavelength across are not looked at; the others are
    first solved on two coarse grids, and left alone where these show the resonance to be far above.

    Limit. The first resonance must lie above `margin` times the frequency under [board]. Without one the
    rule is unchecked: a frequency guessed from a net's name is no reason to solve fields.

    Worked example. 60 x 40 mm at er 4.5 without any tie: 299.8 mm GHz / (2 x 2.12 x 60 mm) = 1.18 GHz. Tied closely
    along one short side only: a quarter of a wave in 60 mm, 0.59 GHz, below 868 MHz. With one tie more where the field
    is strongest, the finding says what is then the first resonance.

    How to fix it. Set a ground via where the finding says that the field is strongest, or several around there, until
    the resonance lies above the frequency. Where none fits, join the copper to the next ground, or take it away.

    How to tune it. `frequency` under [board]; `margin`.
    """

    name = "pour-resonance"
    summary = "a tied pour that resonates at or below the frequency in use"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        margin: Annotated[
            Ratio, Meta(description="a pour must resonate above this many times the frequency in use")
        ] = Ratio(1)

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every overlap of ground copper whose first resonance lies too low."""
        if not len(board.nets_of(NetKind.GROUND)):
            yield self.unchecked("no ground net is known; name it under [nets] in the settings")
            return
        frequency = ground_frequency(settings) if settings.board.frequency is not None else None
        if frequency is None:
            yield self.unchecked("no frequency is given under [board]; the resonances of poured copper are not solved")
            return
        plating = build_of(settings.board).plating
        drill = settings.placement.drill or common_via(board)[0]
        limit = options.margin * frequency.value
        # The largest first: they take longest, and each is looked at by whichever process has nothing else to do.
        overlaps = sorted(overlaps_of(board, limit, plating), key=lambda overlap: -overlap.outline.area)
        judge = partial(self._judged, board, frequency, options.margin, drill + plating)
        for begin in range(0, len(overlaps), TOGETHER):
            some = overlaps[begin : begin + TOGETHER]
            said = in_processes(judge, some) if copies_pay(board) else map(judge, some)
            yield from (one for one in said if one is not None)

    def _judged(
        self, board: Board, frequency: GroundFrequency, margin: float, drilled: float, overlap: Overlap
    ) -> Finding | Unchecked | None:
        """What is to be said of an overlap, if anything is."""
        limit = margin * frequency.value
        try:
            if not may_resonate(overlap, limit):
                return None
            cavity = cavity_modes(overlap.outline, overlap.centres, overlap.diameters, overlap.permittivity, MODES)
            if cavity.frequencies[0] / overlap.slowing <= limit * (1 + 1e-9):
                return self._finding(board, overlap, cavity, frequency, margin, drilled)
        except (ValueError, ArithmeticError, np.linalg.LinAlgError) as error:
            x, y = overlap.outline.representative_point().coords[0]
            return self.unchecked(f"the ground between {_between(board, overlap)} about ({x:.2f}, {y:.2f}): {error}")
        return None

    def _finding(
        self, board: Board, overlap: Overlap, cavity: Cavity, frequency: GroundFrequency, margin: float, drilled: float
    ) -> Finding:
        limit = margin * frequency.value
        modes = cavity.frequencies / overlap.slowing
        x, y = cavity.spots[0].tolist()
        upper, lower = overlap.pair.upper, overlap.pair.lower
        place = at_copper(board, [upper], (x, y))
        at = frequency.words if margin == 1 else f"{margin:g} times {frequency.words}"
        low = modes[1:][modes[1:] <= limit]
        also = f", and again at {' and '.join(with_prefix(mode, 'Hz') for mode in low)}" if len(low) else ""
        remarks = [Remark(_tied(overlap), place), Remark(_with_tie(overlap, cavity, drilled), place)]
        if len(overlap.ties):
            away = np.hypot(*(overlap.centres - (x, y)).T)
            nearest = int(np.argmin(away))
            said = f"the nearest tie is {away[nearest]:.2f} mm from there in a straight line"
            remarks.append(Remark(said, at_hole(board, int(overlap.ties[nearest]))))
        around = wavelength(limit, overlap.permittivity) / SMALL
        return self.finding(
            f"{board.nets[int(board.pieces.net[upper])].name} between {_between(board, overlap)} resonates at "
            f"{with_prefix(modes[0], 'Hz')}{also}, not above {at}",
            place,
            layers=tuple(f"L{layer}" for layer in board.pieces.layer[[upper, lower]]),
            nets=(board.nets[int(board.pieces.net[upper])].name,),
            measured=Figure("frequency", float(modes[0]), "Hz"),
            limit=Figure("frequency", limit, "Hz"),
            remarks=tuple(remarks),
            mend=(Need((x, y), ((upper,), (lower,)), ((x, y, around),)),),
            evidence=(field_shape(cavity),),
        )


def _tied(overlap: Overlap) -> str:
    count = len(overlap.ties)
    ties = "no via ties it" if count == 0 else "1 via ties it" if count == 1 else f"{count} vias tie it"
    return f"here its field is strongest; {ties} over {overlap.outline.area:.0f} mm²"


def _with_tie(overlap: Overlap, cavity: Cavity, drilled: float) -> str:
    """What one tie more makes of it, where the field is strongest."""
    try:
        then = frequency_with_tie(cavity, cavity.spots[0], drilled) / overlap.slowing
    except ValueError as error:
        return f"what a ground via there would do could not be worked out: {error}"
    return f"with a ground via there the first resonance is at {with_prefix(then, 'Hz')}"


def _between(board: Board, overlap: Overlap) -> str:
    return f"L{board.pieces.layer[overlap.pair.upper]} and L{board.pieces.layer[overlap.pair.lower]}"
