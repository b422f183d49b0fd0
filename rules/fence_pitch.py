"""Fences of ground vias along traces."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product
from typing import Annotated

import numpy as np
from msgspec import Meta

from fencepost.board.model import Board, NetKind
from fencepost.checking.finding import Figure, Finding, Place, Remark, Severity, Unchecked
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.checking.shapes import fence_shapes
from fencepost.frozen import dataclass
from fencepost.placement.need import Need
from fencepost.placement.rows import gap_needs
from fencepost.settings.model import NetClass, Settings
from fencepost.settings.patterns import net_class_of
from fencepost.signals.compass import direction_of
from fencepost.signals.fences import END, Fence, Opening, fence_along
from fencepost.signals.isolation import MOST_POSTS, shielding_at
from fencepost.signals.limits import Limit, wave_limit
from fencepost.signals.runs import Run, areas_beyond, runs_of
from fencepost.signals.samples import permittivity_along
from fencepost.signals.sides import sides_of
from fencepost.units import Length, Ratio, with_prefix

MOST_REFUSED = 3
"""Holes that are no posts, named with a finding."""

MOST_SOLVED = 1000
"""Posts of all fences whose isolation is worked out, twice for each opening, the widest openings first."""


@dataclass(frozen=True, eq=False)
class Faulty:
    """An opening of a fence, and what it is judged by; frequency in Hz."""

    fence: Fence
    opening: Opening
    limit: Limit
    frequency: float
    permittivity: float


class FencePitch(Rule):
    """A fence of ground vias holds only as well as its widest gap.

    What goes wrong. A fast trace sends part of its field sideways, between the planes or into the ground copper beside
    it. A row of ground vias on each side stops it. A gap between two vias is a slot in that wall: one of width s holds
    back 20 log10(wavelength / 2 s) dB (H. Ott, Electromagnetic Compatibility Engineering, 2009, ch. 6), which is 12 dB
    at an eighth of a wavelength and nothing at half of one.

    What is measured. Every trace of a net in a class with `fence = true`, on each of its two sides. A post of the fence
    is a plated hole that passes the trace's layer, stands no farther than `reach` from the edge of the trace with no
    other trace between, and touches the ground copper that the trace runs over: the nearest above and below, each where
    it carries 20 % of the return current or more. Where ground copper lies beside the trace on its own layer, the
    post must touch that too. A hole that is labelled as ground but touches none of it is no post. The gap at any point
    of the trace is the shortest distance, centre to centre, from a post before it to a post after it; at an end of the
    trace, as at a pad, it is the way along the trace from its end to the first post. At a junction the fence goes
    around the corner. Gaps that follow one another are one finding.

    Limit. The wavelength in the dielectric at the frequency of the net's class, divided by 8, and never more than a
    plain distance: min(c / (8 f sqrt(er)), distance). Both are common practice, no source. er is the highest between
    the trace and the ground that it runs over. A rise time t stands for the frequency 0.35 / t (10 to 90 %, single-pole
    response).

    What needs no fence. Dead ends and whole traces no longer than the limit, as the stub to a shunt part. The space
    between two traces of one class, or between two stretches of a meander, that run closer together than `together`:
    no via fits there, and the fence goes around both, as around a differential pair.

    Worked example. At 9.37 GHz and er 4 the wavelength is 16.0 mm, and an eighth of it 2.0 mm. Vias every 1.8 mm are a
    fence; with one of them missing there is a gap of 3.6 mm, which is more than 2.0 mm and good up to 5.2 GHz only. At
    868 MHz and er 4.2 an eighth of the wavelength is 21 mm, and the plain distance of 5 mm is the limit.

    A remark says what the fence isolates at the class's frequency as it stands, and what it would with the gap closed
    by the fewest vias that keep to the limit: the coupling of the trace to a line as far behind the fence as the trace
    is before it, without the fence over with it, in dB. The field between two plates is solved for its posts as they
    are drilled, half a wavelength to both sides or more (V. Twersky, Journal of the Acoustical Society of America 24,
    1952). A short fence isolates less than a long one, since the wave goes round its ends. Losses, and what passes
    above and below the planes, are left out.

    How to fix it. Put ground vias into the gap, tied to the copper above, below and beside the trace. Where something
    is in the way, a second row behind it closes the gap as well, as long as it is within reach.

    How to tune it. `distance`, `fraction`, `reach` and `together`; the class's frequency. Nets in no class with
    `fence = true` are not looked at.
    """

    name = "fence-pitch"
    summary = "a gap in a fence of ground vias too wide for the frequency, or a side without a fence"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        distance: Annotated[Length, Meta(description="widest gap at any frequency, centre to centre")] = Length(5.0)
        fraction: Annotated[Ratio, Meta(description="part of a wavelength that a gap may be: 1 / fraction")] = Ratio(8)
        reach: Annotated[Length, Meta(description="farthest post from the edge of the trace")] = Length(3.0)
        together: Annotated[
            Length, Meta(description="traces of one class that run closer than this, edge to edge, share a fence")
        ] = Length(1.0)

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every gap along the traces of fenced nets."""
        fenced: dict[str, list[int]] = {}
        classes = {entry.name: entry for entry in settings.classes if entry.fence}
        for net in board.nets_of(NetKind.SIGNAL).tolist() if classes else ():
            entry = net_class_of(settings, board.nets[net].name)
            if entry is not None and entry.fence:
                fenced.setdefault(entry.name, []).append(net)
        if fenced and not len(board.nets_of(NetKind.GROUND)):
            yield self.unchecked("no ground net is known; name it under [nets] in the settings")
            return
        found = [
            one for name, nets in fenced.items() for one in self._class(board, classes[name], nets, options, settings)
        ]
        yield from (one for one in found if isinstance(one, Unchecked))
        faulty = [one for one in found if isinstance(one, Faulty)]
        widest = sorted(faulty, key=lambda one: -one.opening.widest.width / one.limit.distance)
        posts = np.cumsum([2 * min(len(one.fence.posts), MOST_POSTS) for one in widest])
        solved = widest[: int(np.searchsorted(posts, MOST_SOLVED, side="right"))]
        yield from (self._finding(board, one, options, one in solved) for one in faulty)
        if len(solved) < len(faulty):
            said = f"isolation was worked out for the {len(solved)} widest of {len(faulty)} openings only"
            yield self.unchecked(said)

    def _class(
        self, board: Board, entry: NetClass, nets: list[int], options: Options, settings: Settings
    ) -> Iterator[Faulty | Unchecked]:
        frequency = entry.highest_frequency or settings.board.frequency
        if frequency is None:
            said = "has no frequency and no rise time, and the board has no frequency"
            yield self.unchecked(f'class "{entry.name}" {said}')
            return
        for net, copper in product(nets, board.copper):
            runs = tuple(run for run in runs_of(board, net) if run.layer == copper.layer)
            permittivity = permittivity_along(board, copper.layer, runs)
            limit = wave_limit(frequency, permittivity, options.fraction, options.distance)
            for side in sides_of(runs, limit.distance):
                fence = fence_along(board, side, limit.distance, options.reach, options.together, nets)
                yield from (Faulty(fence, opening, limit, frequency, permittivity) for opening in fence.openings)
            for area in areas_beyond(board, net, copper.layer, runs, limit.distance):
                said = f"{board.nets[net].name} is drawn as an area here, and no fence can be measured along it"
                yield self.unchecked(f"{copper.artwork.location(area)}: {said}")

    def _finding(self, board: Board, one: Faulty, options: Options, solved: bool) -> Finding:
        fence, opening, limit = one.fence, one.opening, one.limit
        path, gap = fence.path, opening.widest
        name = board.nets[path.net].name
        return self.finding(
            f"{name} on L{path.layer} {_said(fence, opening)}, more than {limit.distance:.2f} mm ({limit.reason})",
            _place(board, path, gap.middle),
            layers=(f"L{path.layer}",),
            nets=(name,),
            measured=Figure("gap", gap.width, "mm"),
            limit=Figure("gap", limit.distance, "mm"),
            remarks=(*_remarks(board, fence, opening), *([_isolation(board, one)] if solved else [])),
            mend=tuple(_needs(board, one, options.reach)),
            evidence=fence_shapes(path, fence.posts.centre, opening.gaps, gap),
        )


def _needs(board: Board, one: Faulty, reach: float) -> Iterator[Need]:
    """Vias that would close an opening, its widest gap first."""
    for gap in sorted(one.opening.gaps, key=lambda gap: gap is not one.opening.widest):
        yield from gap_needs(board, one.fence, gap, one.limit.distance, reach)


def _isolation(board: Board, one: Faulty) -> Remark:
    """What the fence isolates as it stands, and what it would."""
    place = _place(board, one.fence.path, one.opening.widest.middle)
    try:
        found = shielding_at(board, one.fence, one.opening, one.limit.distance, one.frequency, one.permittivity)
    except ValueError as error:
        return Remark(f"what the fence here isolates was not worked out: {error}", place)
    vias = f"{found.added} via{'s' if found.added > 1 else ''}"
    standing, closed = max(found.standing, 0.0), max(found.closed, 0.0)
    said = f"the fence here isolates by {standing:.1f} dB at {with_prefix(one.frequency, 'Hz')}"
    return Remark(f"{said}; with the gap closed by {vias}, by {closed:.1f} dB", place)


def _said(fence: Fence, opening: Opening) -> str:
    gap = opening.widest
    side = f"its {_direction(fence.path, gap.middle)} side"
    if gap.before == END and gap.after == END:
        return f"has no fence on {side} over {gap.width:.2f} mm"
    if len(opening.gaps) > 1:
        return f"has {len(opening.gaps)} gaps in a row in the fence on {side}, the widest {gap.width:.2f} mm"
    if END in (gap.before, gap.after):
        return f"has {gap.width:.2f} mm without a fence on {side}"
    return f"has a gap of {gap.width:.2f} mm in the fence on {side}"


def _direction(path: Run, station: float) -> str:
    """Where the left-hand side of a path lies at a point of it, as one sees it with y upwards."""
    leg = int(path.leg(station))
    x, y = path.xy[leg + 1] - path.xy[leg]
    return direction_of(-y, x)


def _place(board: Board, path: Run, station: float) -> Place:
    x, y = path.at(station).tolist()
    feature = int(path.feature[path.leg(station)])
    return Place(board.copper[path.layer - 1].artwork.location(feature), x, y)


def _remarks(board: Board, fence: Fence, opening: Opening) -> tuple[Remark, ...]:
    """The two ends of the widest gap, and holes in the opening that might have been taken for posts."""
    gap = opening.widest
    ends = [_end(board, fence, post, where) for post, where in ((gap.before, gap.begin), (gap.after, gap.end))]
    first, last = opening.gaps[0].begin, opening.gaps[-1].end
    near = [hole for hole in fence.refused if first <= hole.station <= last][:MOST_REFUSED]
    return (*ends, *(Remark(f"no post: this hole {hole.reason}", _hole(board, hole.hole)) for hole in near))


def _end(board: Board, fence: Fence, post: int, station: float) -> Remark:
    """One end of a gap: the post there, or where the trace ends."""
    if post != END:
        return Remark("a post at one end of the gap", _hole(board, int(fence.posts.hole[post])))
    ends = station in (0.0, fence.path.length)
    said = "the trace ends here" if ends else "from here on it shares its fence with the trace beside it"
    return Remark(said, _place(board, fence.path, station))


def _hole(board: Board, hole: int) -> Place:
    x, y = board.holes.centre[hole].tolist()
    return Place(board.hole_location(hole), x, y)
