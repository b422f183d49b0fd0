"""Unused lengths of vias."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

import numpy as np
from msgspec import Meta

from fencepost.board.model import Board, HoleKind, NetKind
from fencepost.checking.finding import Figure, Finding, Remark, Severity, Unchecked
from fencepost.checking.places import at_hole
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.physics.stub import stub_length, stub_resonance
from fencepost.settings.model import NetClass, Settings
from fencepost.settings.patterns import net_class_of
from fencepost.signals.barrels import Stub, stubs_of
from fencepost.units import Ratio, with_prefix


class BarrelStub(Rule):
    """The part of a via that no trace uses is a stub, and a stub shorts the signal where it is a quarter wave long.

    What goes wrong. A signal that enters a via on L1 and leaves it on L2 of four layers leaves the rest of the barrel
    hanging on it. A wave runs to the open end and back; where the way is half a wavelength it comes back reversed and
    takes the signal away. Long before that it costs: on a line of its own impedance the stub loses 10 log10(1 +
    tan²(90° f / F) / 4) dB at the frequency f, F being its resonance: 1 dB at half of F, 0.3 dB at a third, 0.1 dB at a
    fifth.

    What is measured. For every via of a signal net in a class: the length from the last layer on which anything of its
    net meets it, to the end of the barrel, dielectrics and copper together; and likewise above its first such layer.
    What uses a layer is a trace, an area, a component's pad or another via; a land that nothing but the barrel meets
    uses none. Where a hole without plating, at least as wide, stands over the end of the barrel and the package gives
    its layers, the via is drilled back: the barrel is taken to end at the inner one of these layers, which is as long
    as it can be. Holes that take a component's pin are left out: there the pin is part of the conductor.

    Limit. The resonance c / (4 L sqrt(er)) must lie above `margin` times the frequency of the net's class: the
    quarter-wave open line, D. M. Pozar, Microwave Engineering, ch. 2. er is the mean of the dielectrics along the stub.
    A rise time t stands for 0.35 / t (10 to 90 %, single-pole response); a class without either has the frequency of
    the board. Lands on the stub and planes about it add capacitance and lower the true resonance, by a tenth to a third
    (common practice, no source): give `margin` room for that.

    Worked example. A via through 1.6 mm of board that is used from L1 to L2 hangs unused over 1.33 mm; at er 4.5 that
    is a quarter of a wave at 299.8 mm GHz / (4 x 1.33 mm x 2.12) = 26.6 GHz. For a class of 868 MHz it does not matter;
    at 28 GHz it does. At 10 GHz and er 4 a stub may be 3.75 mm long, and with a margin of 3 1.25 mm.

    How to fix it. Leave the via on a layer nearer to its far end, so that more of it is used. Have it drilled back from
    the unused side, or take a blind via.

    How to tune it. `margin`: 1 finds what resonates at or below the frequency itself, 3 what costs 0.3 dB and more
    there. The frequency or rise time of the class. Nets in no class are not looked at.
    """

    name = "barrel-stub"
    summary = "an unused via length that resonates at or below the frequency in use"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        margin: Annotated[
            Ratio, Meta(description="a stub must resonate above this many times the frequency of its class")
        ] = Ratio(1)

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every stub of every via of a classed signal."""
        holes = board.holes
        vias = np.flatnonzero(holes.plated & (holes.kind == HoleKind.VIA))
        vias = vias[np.isin(holes.net[vias], board.nets_of(NetKind.SIGNAL))]
        vias = vias[np.argsort(holes.net[vias], kind="stable")]
        nets, first = np.unique(holes.net[vias], return_index=True)
        silent: dict[str, None] = {}
        for net, own in zip(nets.tolist(), np.split(vias, first[1:]), strict=False):
            entry = net_class_of(settings, board.nets[net].name)
            if entry is None:
                continue
            frequency = entry.highest_frequency or settings.board.frequency
            if frequency is None:
                silent[entry.name] = None
                continue
            for hole in own.tolist():
                for stub in stubs_of(board, hole):
                    yield from self._findings(board, stub, entry, float(frequency), options.margin)
        for name in silent:
            yield self.unchecked(f'class "{name}" has no frequency and no rise time, and the board has no frequency')
        if len(vias) and not settings.classes:
            yield self.unchecked("no net is in a class, whose frequency a stub could be held against")

    def _findings(
        self, board: Board, stub: Stub, entry: NetClass, frequency: float, margin: float
    ) -> Iterable[Finding | Unchecked]:
        name, place = board.nets[int(board.holes.net[stub.hole])].name, at_hole(board, stub.hole)
        limit = margin * frequency
        try:
            resonance = stub_resonance(stub.length, stub.permittivity)
            longest = stub_length(limit, stub.permittivity)
        except ValueError as error:
            yield self.unchecked(f"{place.location}: the via of {name}: {error}")
            return
        if resonance > limit * (1 + 1e-9):
            return
        in_use = f'{with_prefix(frequency, "Hz")} of class "{entry.name}"'
        at = f"the {in_use}" if margin == 1 else f"{margin:g} times the {in_use}"
        remarks = [Remark(f"at this frequency no more than {longest:.2f} mm may hang unused", place)]
        if stub.drill >= 0:
            said = f"the barrel is drilled back to L{stub.end} here, and may be left up to there"
            remarks.append(Remark(said, at_hole(board, stub.drill)))
        yield self.finding(
            f"{name} leaves its via on L{stub.used}, and {stub.length:.2f} mm of barrel hang unused from there to "
            f"L{stub.end}: a quarter of a wave at {with_prefix(resonance, 'Hz')}, not above {at}",
            place,
            layers=(f"L{stub.used}", f"L{stub.end}"),
            nets=(name,),
            measured=Figure("frequency", resonance, "Hz"),
            limit=Figure("frequency", limit, "Hz"),
            remarks=tuple(remarks),
        )
