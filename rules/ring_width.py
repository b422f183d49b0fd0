"""Annular rings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated

from msgspec import Meta

from fencepost.board.model import Board
from fencepost.checking.drilled import nets_of, others, place_of, several
from fencepost.checking.finding import Figure, Finding, Place, Remark, Severity, Unchecked
from fencepost.checking.rule import Rule, RuleOptions
from fencepost.fabrication.build import TOLERANCE_MM, build_of
from fencepost.fabrication.folding import SHOWN, folded
from fencepost.fabrication.holes import called, tool_of
from fencepost.fabrication.rings import Ring, thin_rings
from fencepost.frozen import dataclass
from fencepost.names import listed
from fencepost.settings.model import Settings
from fencepost.units import Length

NO_PAD, BROKEN, THIN = "no pad", "broken", "thin"


@dataclass(frozen=True)
class _Fault:
    """A hole, its rings of one kind, the one that misses its limit by most first, and that limit in mm."""

    hole: int
    kind: str
    rings: tuple[Ring, ...]
    limit: float

    @property
    def missing(self) -> float:
        return self.rings[0].width - self.limit

    @property
    def layers(self) -> tuple[str, ...]:
        return tuple(f"L{layer}" for layer in sorted(ring.layer for ring in self.rings))


class RingWidth(Rule):
    """A plated hole must keep copper all around it, however far drill and artwork shift.

    What goes wrong. Panels shrink and stretch, and drills wander: a hole ends up beside the middle of its pad. Where
    the ring of copper around it was too narrow, the hole breaks out of the pad; where it breaks out towards the trace,
    the connection to the barrel is thin and tears with heat, or is open from the start.

    What is measured. On every layer that a plated hole passes: the narrowest width of copper around it, from the edge
    of the finished hole to the nearest edge of whatever copper touches it, as it is drawn: a pad that is cut is as
    narrow as the cut leaves it, a teardrop or a trace adds what it covers. For a round pad in its place this is (pad -
    hole) / 2. On the layers where a hole begins and ends it must have a pad; on layers between them a hole that no
    copper touches needs none. Finished sizes are what the files tell, and what a land is reckoned from: the allowance
    below includes the plating, for which the hole is drilled wider.

    Limit. The ring that must be kept on the finished board and half the fabrication allowance: from land = finished
    hole + 2 x ring + allowance (IPC-2221B, 9.1.1, from memory). Allowance by `level`: A 0.4 mm, B 0.25 mm, C 0.2 mm
    (IPC-2221B, table 9-1, from memory). Ring kept by `build_class`: 3 keeps 0.05 mm on outer layers and 0.025 mm on
    inner ones; 2 accepts a quarter of the round broken out, so 0 is planned for (IPC-6012D, from memory). A length that
    misses a limit by 1 µm or less meets it.

    Worked example. Class 2, level C: 0 + 0.2 / 2 = 0.10 mm, a pad 0.2 mm wider than its hole, which is common practice
    as well. Class 3, level C: 0.15 mm outside, 0.125 mm inside. A pad of 0.35 mm on a hole of 0.25 mm has a ring of
    0.05 mm.

    How to fix it. Make the pad wider or the hole smaller; add a teardrop where only one side is short.

    How to tune it. `build_class` and `level` under [board]; `minimum` here overrides them on all layers, `inner` on
    inner ones. Your fabricator's own figures override all of this. More than three holes of one tool are one finding. A
    hole that breaks out of its copper, or has no pad where it begins or ends, is an error; the rest are warnings.
    """

    name = "ring-width"
    summary = "a plated hole with too little copper around it on a layer"
    severity = Severity.WARNING

    class Options(RuleOptions, frozen=True, kw_only=True):
        """Settings of the rule."""

        minimum: Annotated[
            Length | None, Meta(description="narrowest ring; from build_class and level where absent")
        ] = None
        inner: Annotated[Length | None, Meta(description="narrowest ring on inner layers, where it is another")] = None

    def check(self, board: Board, options: Options, settings: Settings) -> Iterable[Finding | Unchecked]:
        """Every hole with a thin ring on some layer."""
        build = build_of(settings.board)
        outer = options.minimum or build.ring_outer
        inner = options.inner or options.minimum or build.ring_inner
        faults = _faults(board, float(outer), float(inner))
        for group in folded(
            faults, lambda fault: (tool_of(board, fault.hole), fault.kind), lambda fault: fault.missing
        ):
            yield self._finding(board, group)

    def _finding(self, board: Board, group: list[_Fault]) -> Finding:
        worst = group[0]
        holes = [fault.hole for fault in group]
        layers = tuple(dict.fromkeys(layer for fault in group for layer in fault.layers))
        layers = tuple(sorted(layers, key=lambda layer: int(layer[1:])))
        who = called(board, worst.hole) if len(group) == 1 else several(board, holes)
        further = others(board, ((fault.hole, _of(board, fault)) for fault in group[1:SHOWN]))
        return self.finding(
            f"{who} {_said(worst, listed(layers), len(group))}",
            place_of(board, worst.hole),
            severity=None if worst.kind == THIN else Severity.ERROR,
            layers=layers,
            nets=nets_of(board, board.holes.net[holes].tolist()),
            measured=Figure("ring", worst.rings[0].width, "mm"),
            limit=Figure("ring", worst.limit, "mm"),
            remarks=further or _copper(board, worst),
        )


def _faults(board: Board, outer: float, inner: float) -> Iterator[_Fault]:
    limits = {layer: outer if layer in (1, board.layers) else inner for layer in range(1, board.layers + 1)}
    found: dict[tuple[int, str], list[Ring]] = {}
    for ring in thin_rings(board, outer, inner):
        kind = NO_PAD if ring.part < 0 else BROKEN if ring.width <= TOLERANCE_MM and ring.open > 0 else THIN
        found.setdefault((ring.hole, kind), []).append(ring)
    for (hole, kind), rings in sorted(found.items(), key=lambda item: item[0]):
        rings.sort(key=lambda ring: (ring.width - limits[ring.layer], -ring.open))
        yield _Fault(hole, kind, tuple(rings), limits[rings[0].layer])


def _said(worst: _Fault, layers: str, count: int) -> str:
    ring, many = worst.rings[0], count > 1
    if worst.kind == NO_PAD:
        return f"{'have' if many else 'has'} no pad on {layers}"
    if worst.kind == BROKEN:
        over = f"over {ring.open:.0f}°" + (" at worst" if many else "")
        return f"{'break out of their' if many else 'breaks out of its'} copper on {layers} {over}"
    rings = f"have rings of as little as {ring.width:.3f} mm" if many else f"has a ring of {ring.width:.3f} mm"
    return f"{rings} on {layers}, less than {worst.limit:.3f} mm"


def _of(board: Board, fault: _Fault) -> str:
    width = f"{fault.rings[0].width:.3f} mm" if fault.kind == THIN else fault.kind
    return f"{width} on {listed(fault.layers)}: {called(board, fault.hole)}"


def _copper(board: Board, fault: _Fault) -> tuple[Remark, ...]:
    ring = fault.rings[0]
    if ring.part < 0:
        return ()
    copper = board.copper[ring.layer - 1]
    x, y = board.holes.centre[fault.hole].tolist()
    return (Remark(f"the copper that it is in on L{ring.layer}", Place(copper.location_near(ring.part, x, y), x, y)),)
