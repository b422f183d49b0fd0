"""Gaps in the copper that traces run over."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Annotated

import numpy as np
from msgspec import Meta

from fencepost.board.model import Board, NetKind
from fencepost.checking.finding import Figure, Finding, Place, Remark, Severity, Unchecked
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.placement.need import Need
from fencepost.placement.returns import groups_of
from fencepost.readers.artwork import Kind
from fencepost.settings.model import NetClass, Settings
from fencepost.settings.patterns import net_class_of
from fencepost.signals.bridges import bridged
from fencepost.signals.gaps import Gap, gaps_of, pieces_of
from fencepost.signals.limits import Limit, wave_limit
from fencepost.signals.nearest import nearest_parts
from fencepost.signals.runs import areas_beyond, areas_on, runs_of
from fencepost.signals.ties import plane_ties_of
from fencepost.signals.transitions import Reference
from fencepost.units import Length, Ratio

FIELD_MM = 2.0
"""Gaps of one trace in one piece of copper that follow one another no farther than this are told as one."""

AREA_MM = 1.0
"""Copper that is drawn as an area and reaches farther than this from its net's traces is a trace of another kind."""


class ReferenceGap(Rule):
    """A trace needs unbroken copper next to it, on which its return current flows back.

    What goes wrong. Where that copper has a slot, is split or ends, the return current cannot follow the trace. It
    goes around, and the loop between the two paths radiates, takes up noise and couples into every other trace that
    crosses at the same place. The edge of the signal is reflected and slowed down.

    What is measured. Every trace of a signal, in steps of 0.1 mm. Its references are found from geometry: on each
    side the nearest layer whose ground or power copper covers it; both sides share the current inversely to their
    height, and less than 20 % is no reference. A gap is a stretch that none of the references before it covers; its
    ends are found to 1 um. A stripline that keeps its reference on the other side has none. There are three kinds:
    a gap in one piece of copper, which comes back within 3 mm (a slot, a row of antipads);
    a change to other copper (a split, another layer) that the trace then runs over for 1 mm or more;
    the end of the copper, or a trace that has none.
    The length is measured along the trace, the width is the shortest way across. The current is spread to both
    sides about as far as the trace is high over its copper. So there is no gap where the copper goes on beside it
    within half the trace's width and that height, as past the edge of a single antipad. A gap of a piece that is
    narrower than this height is a note; for nets in no class it is nothing. What lies within 0.4 mm of the net's
    own pads and holes does not count.

    What makes a gap clean. A change is clean where a tie joins the two no farther than the limit from either end of
    the gap; between two nets, a two-pin capacitor both of whose connections are within `capacitor`. A gap in one
    piece is clean where other copper goes on under it and is tied to it on both sides.

    Limit. As for layer changes: min(c / (20 f sqrt(er)), distance), f being the frequency of the net's class or
    0.35 / t of its rise time t, er that of the dielectric between trace and copper. Fraction and distance are
    common practice, no source; so is the height as the measure of what is narrow. It is taken from the current
    density under a trace, i(x) = I / (pi h (1 + (x/h)^2)), of which half flows within the height h to either side
    (Johnson & Graham, High-Speed Digital Design, 1993, ch. 5).

    Worked example. A trace of 0.15 mm runs 0.20 mm above a plane, at 45 degrees across a slot 0.40 mm wide and 8 mm
    long. It is without its copper over 0.40 / sin 45 = 0.57 mm. The slot is wider than 0.20 mm and leaves no copper
    within 0.075 + 0.20 = 0.275 mm of the trace's middle: a warning. With a slot of 0.15 mm it would be a note.

    How to fix it. Route the trace around the gap. Or close it: move the vias of a row apart so that copper remains
    between their antipads. Where the copper must change, put a ground via (or a capacitor, where one of the two is
    a supply) beside the crossing.

    How to tune it. `distance`, `fraction` and `capacitor`; a class with a frequency for nets that are fast; a
    waiver for a place that is meant, as under the transformer of an Ethernet port. Nets in no class give notes
    only.
    """

    name = "reference-gap"
    summary = "a trace across a gap, a split or the end of its reference copper"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        distance: Annotated[Length, Meta(description="farthest tie from the gap, centre to trace")] = Length(1.5)
        fraction: Annotated[Ratio, Meta(description="a tie may be 1 / fraction of a wavelength away")] = Ratio(20)
        capacitor: Annotated[Length, Meta(description="farthest connection of a capacitor from the gap")] = Length(3.0)

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every gap that nothing bridges."""
        if all(net.kind is NetKind.SIGNAL for net in board.nets):
            yield self.unchecked("no ground or power net is known; name them under [nets] in the settings")
            return
        yield from self._areas(board, settings)
        blind = False
        fields = list(self._fields(board, options, settings))
        longest = [max(field, key=lambda one: round(one.length, 4)) for field in fields]
        for field, gap, ends in zip(fields, longest, _ends(board, longest), strict=True):
            net_class = net_class_of(settings, board.nets[field[0].run.net].name)
            unseen = not board.components and _needs_capacitor(board, field[0])
            mild = net_class is None or unseen or all(map(_narrow, field))
            limit = _limit(board, field[0], net_class, options)
            yield self._finding(board, field, gap, ends, limit, options, Severity.NOTE if mild else None)
            blind |= unseen
        if blind:
            yield self.unchecked(
                "the package names no components, so capacitors between planes could not be looked for; "
                "traces that change between two nets are notes"
            )

    def _fields(self, board: Board, options: Options, settings: Settings) -> Iterator[list[Gap]]:
        """Gaps that nothing bridges, those together that make one finding."""
        bare: dict[tuple[int, int], list[Gap]] = {}
        for run, gaps in groupby(gaps_of(board), key=lambda gap: gap.run):
            net_class = net_class_of(settings, board.nets[run.net].name)
            open_ = []
            for gap in gaps:
                limit = _limit(board, gap, net_class, options)
                if not gap.before and not gap.after:
                    bare.setdefault((run.net, run.layer), []).append(gap)
                elif (net_class or not _narrow(gap)) and not bridged(board, gap, limit.distance, options.capacitor):
                    open_.append(gap)
            yield from _close_together(open_)
        yield from bare.values()

    def _areas(self, board: Board, settings: Settings) -> Iterator[Unchecked]:
        """What of a net in a class is drawn as an area, so that it cannot be followed."""
        for copper in board.copper:
            parts, nets = areas_on(board, copper.layer)
            filled = copper.artwork.kind[copper.feature[parts]] == Kind.FILL
            for net in np.unique(nets[filled]).tolist():
                name = board.nets[net].name
                if board.nets[net].kind is not NetKind.SIGNAL or net_class_of(settings, name) is None:
                    continue
                runs = tuple(run for run in runs_of(board, net) if run.layer == copper.layer)
                for area in areas_beyond(board, net, copper.layer, runs, AREA_MM):
                    said = f"{name} is drawn as an area here, and what it runs over is not looked at"
                    yield self.unchecked(f"{copper.artwork.location(area)}: {said}")

    def _finding(
        self,
        board: Board,
        field: Sequence[Gap],
        gap: Gap,
        ends: tuple[Remark, ...],
        limit: Limit,
        options: Options,
        severity: Severity | None,
    ) -> Finding:
        """Of gaps that are told as one; `gap` is the longest, `ends` is where the copper about it ends."""
        run, middle = gap.run, (gap.begin + gap.end) / 2
        name = board.nets[run.net].name
        whole = not gap.before and not gap.after
        length = sum(one.length for one in field) if whole else gap.length
        measured: Figure | None = Figure("length", length, "mm")
        bound, remarks = None, ends
        if _changes(gap):
            allowed = options.capacitor if _needs_capacitor(board, gap) else limit.distance
            bound = Figure("distance", allowed, "mm")
            measured, nearest = _nearest_tie(board, gap)
            remarks = (*remarks, *nearest)
        x, y = run.at(middle).tolist()
        over = sorted({reference.layer for reference in (*gap.before, *gap.after)})
        return self.finding(
            f"{name} on L{run.layer} {_said(board, field, gap, limit, options)}",
            Place(board.copper[run.layer - 1].artwork.location(int(run.feature[run.leg(middle)])), x, y),
            severity=severity,
            layers=tuple(f"L{layer}" for layer in (run.layer, *over)),
            nets=(name,),
            measured=measured,
            limit=bound,
            remarks=remarks,
            mend=_mend(board, gap, limit),
        )


def _limit(board: Board, gap: Gap, net_class: NetClass | None, options: ReferenceGap.Options) -> Limit:
    """How far a tie may be from a gap."""
    frequency = net_class.highest_frequency if net_class else None
    layers = [reference.layer for reference in (*gap.before, *gap.after)] or [gap.run.layer]
    permittivity = max(board.stackup.permittivity(gap.run.layer, layer) for layer in layers)
    return wave_limit(frequency, permittivity, options.fraction, options.distance)


def _narrow(gap: Gap) -> bool:
    """Whether the field of the trace bridges a gap: it is narrower than the trace is high above its copper."""
    return gap.returns and gap.width is not None and gap.width <= gap.height


def _changes(gap: Gap) -> bool:
    """Whether other copper is behind the gap than before it."""
    return bool(gap.before and gap.after) and not gap.returns


def _close_together(gaps: Sequence[Gap]) -> Iterator[list[Gap]]:
    """The gaps of one run, those together that are close to one another in one piece of copper."""
    field: list[Gap] = []
    for gap in gaps:
        if field and (gap.begin - field[-1].end > FIELD_MM or not _same_copper(field[-1], gap)):
            yield field
            field = []
        field.append(gap)
    if field:
        yield field


def _same_copper(first: Gap, second: Gap) -> bool:
    """Whether both are gaps in the same piece."""
    back = [pieces_of(gap.before) & pieces_of(gap.after) for gap in (first, second)]
    return bool(back[0] & back[1])


def _main(board: Board, gap: Gap) -> tuple[Reference | None, Reference | None]:
    """The references before and behind that a finding speaks of: the same one, else ground, else the strongest."""
    back = pieces_of(gap.before) & pieces_of(gap.after)
    pairs = []
    for side in (gap.before, gap.after):
        ground = [one for one in side if board.nets[board.pieces.net[one.piece]].kind is NetKind.GROUND]
        pairs.append([one for one in side if one.piece in back] or ground or list(side))
    first, second = (side[0] if side else None for side in pairs)
    return first, second


def _net(board: Board, reference: Reference) -> str:
    return board.nets[int(board.pieces.net[reference.piece])].name


def _copper(board: Board, reference: Reference) -> str:
    return f"{_net(board, reference)} on L{reference.layer}"


def _needs_capacitor(board: Board, gap: Gap) -> bool:
    """Whether a gap divides copper of different nets, so that no tie can join it."""
    first, second = _main(board, gap)
    return first is not None and second is not None and _net(board, first) != _net(board, second)


def _said(board: Board, field: Sequence[Gap], gap: Gap, limit: Limit, options: ReferenceGap.Options) -> str:
    """What is wrong, after the name of the net and the layer."""
    first, second = _main(board, gap)
    known = first or second
    if known is None:
        said = f"runs {sum(one.length for one in field):.2f} mm without any reference copper"
        return f"{said}, in {len(field)} traces" if len(field) > 1 else said
    if first is None or second is None:
        return f"runs {gap.length:.2f} mm past the end of its reference, {_copper(board, known)}"
    if len(field) > 1:
        said = f"runs across {len(field)} gaps in its reference, {_copper(board, known)}"
        return f"{said}, one after another, the longest {gap.length:.2f} mm"
    if gap.returns:
        said = f"runs {gap.length:.2f} mm across a gap in its reference, {_copper(board, known)}"
        if gap.width is None:
            return said
        than = f"no more than its height of {gap.height:.2f} mm" if _narrow(gap) else "from edge to edge"
        return f"{said}; the gap is {gap.width:.2f} mm wide, {than}"
    way = f"crosses from {_copper(board, first)} to {_copper(board, second)}"
    if _needs_capacitor(board, gap):
        return f"{way}, and no capacitor joins the two within {options.capacitor:.2f} mm"
    if first.layer == second.layer:
        way = f"crosses from one piece of {_copper(board, first)} to another"
    kind = board.nets[board.pieces.net[first.piece]].kind
    word = "ground" if kind is NetKind.GROUND else _net(board, first)
    return f"{way}, and no {word} via ties the two within {limit.distance:.2f} mm"


def _ends(board: Board, gaps: Sequence[Gap]) -> list[tuple[Remark, ...]]:
    """For each of some gaps where the copper ends and begins again, and the feature of it that does so there."""
    rows = []
    for i, gap in enumerate(gaps):
        again = " again" if gap.returns else ""
        for reference, station, word in zip(
            _main(board, gap), (gap.begin, gap.end), ("ends", f"begins{again}"), strict=True
        ):
            if reference is not None:
                rows.append((i, reference, gap.run.at(station), f"{_copper(board, reference)} {word} here"))
    remarks: list[list[Remark]] = [[] for _ in gaps]
    pieces = np.array([reference.piece for _, reference, _, _ in rows], dtype=np.int64)
    parts = nearest_parts(board, pieces, np.array([spot for _, _, spot, _ in rows]).reshape(-1, 2))
    for (i, reference, spot, said), part in zip(rows, parts.tolist(), strict=True):
        x, y = spot.tolist()
        location = board.copper[reference.layer - 1].location_near(part, x, y)
        remarks[i].append(Remark(said, Place(location, x, y)))
    return [tuple(own) for own in remarks]


def _mend(board: Board, gap: Gap, limit: Limit) -> tuple[Need, ...]:
    """A ground via beside a place where a trace changes to ground of another layer; none can join what lies on one."""
    first, second = _main(board, gap)
    if first is None or second is None or first.layer == second.layer or not _changes(gap):
        return ()
    groups = groups_of(board, pieces_of(gap.before), pieces_of(gap.after))
    x, y = gap.run.at((gap.begin + gap.end) / 2).tolist()
    then = "with it the nearest tie is {:.2f} mm away"
    return (Need((x, y), groups, ((x, y, limit.distance),), anchors=((x, y),), then=then),) if groups else ()


def _nearest_tie(board: Board, gap: Gap) -> tuple[Figure | None, tuple[Remark, ...]]:
    """How far from the middle of a gap the nearest tie between its two sides is, and where."""
    ties, middle = plane_ties_of(board), gap.run.at((gap.begin + gap.end) / 2)
    nearest = ties.nearest_between(middle, pieces_of(gap.before), pieces_of(gap.after))
    if nearest is None:
        return None, ()
    tie, distance = nearest
    x, y = ties.centre[tie].tolist()
    place = Place(board.hole_location(int(ties.holes[tie])), x, y)
    return Figure("distance", distance, "mm"), (Remark(f"the nearest tie is {distance:.2f} mm away", place),)
