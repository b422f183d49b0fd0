"""One set of ground vias for all findings that vias would mend: rules run, vias are placed, and rules run again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from fencepost.board.model import Board
from fencepost.checking.finding import Finding
from fencepost.checking.registry import Rules
from fencepost.checking.runner import Outcome, run
from fencepost.frozen import dataclass
from fencepost.placement.plan import plan, with_vias
from fencepost.placement.via import ViaModel
from fencepost.placement.window import Placed
from fencepost.settings.model import Settings

ROUNDS = 8
"""Of placing and looking again; each one closes what the ones before left open, as a gap beside a spot without room."""


@dataclass(frozen=True)
class Mending:
    """`served[i]` are the findings that via i was placed for; `left` is what the rules still find and vias would mend.

    `first` is what they found without any.
    """

    vias: tuple[Placed, ...]
    served: Mapping[int, tuple[Finding, ...]]
    first: tuple[Finding, ...]
    left: tuple[Finding, ...]


def mend(board: Board, model: ViaModel, rules: Rules, settings: Settings) -> Mending:
    """Place vias for all findings. Raises as `checking.runner.run` does."""
    vias: tuple[Placed, ...] = ()
    served: dict[int, tuple[Finding, ...]] = {}
    first = findings = _mendable(run(board, rules, settings))
    for _ in range(ROUNDS):
        needs = [(finding, need) for finding in sorted(findings, key=_urgency) for need in finding.mend]
        planned = plan(board, model, (need for _, need in needs), vias)
        for (finding, _), via in zip(needs, planned.by, strict=True):
            if via >= 0 and finding not in served.get(via, ()):
                served[via] = (*served.get(via, ()), finding)
        if len(planned.vias) == len(vias):
            break
        vias = planned.vias
        findings = _mendable(run(with_vias(board, model, vias), rules, settings))
        if not findings:
            break
    return _without_idle(Mending(vias, served, first, findings))


def _without_idle(mending: Mending) -> Mending:
    """Without vias that were placed for findings which are just as they were."""
    still = {(finding.fingerprint, finding.measured) for finding in mending.left}
    useful = [
        i
        for i in range(len(mending.vias))
        if any((finding.fingerprint, finding.measured) not in still for finding in mending.served[i])
    ]
    served = {row: mending.served[i] for row, i in enumerate(useful)}
    return replace(mending, vias=tuple(mending.vias[i] for i in useful), served=served)


def _mendable(outcome: Outcome) -> tuple[Finding, ...]:
    return tuple(finding for finding in outcome.findings if finding.mend)


def _urgency(finding: Finding) -> tuple[object, ...]:
    """The severe ones choose first, and of those the ones that have the least room to choose from."""
    radii = [disc[2] for need in finding.mend for disc in need.within]
    return (-finding.severity, min(radii, default=0.0), finding.order)


def purposes_of(findings: Iterable[Finding]) -> tuple[str, ...]:
    """`transition-return: QSPI_IO2`, once each."""
    return tuple(dict.fromkeys(purpose_of(finding) for finding in findings))


def purpose_of(finding: Finding) -> str:
    """A finding in a few words."""
    return f"{finding.rule}: {', '.join(finding.nets)}" if finding.nets else finding.rule
