"""Findings that the settings waive, and waivers that have nothing to do any more."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Iterable, Sequence

from fencepost.checking.finding import Finding
from fencepost.frozen import dataclass
from fencepost.settings.model import Waiver
from fencepost.settings.patterns import matches


@dataclass(frozen=True)
class Waived:
    """A finding that does not count, and the reason that the settings give."""

    finding: Finding
    reason: str


@dataclass(frozen=True)
class Weighed:
    """Findings that count, those that do not, and a line for each waiver that ran out or waives nothing.

    A line begins with the waiver's key, as in `waive[0]: ...`.
    """

    findings: tuple[Finding, ...]
    waived: tuple[Waived, ...]
    remarks: tuple[str, ...]


def weigh(
    findings: Iterable[Finding], waivers: Sequence[Waiver], today: datetime.date, ran: Collection[str]
) -> Weighed:
    """Set aside what is waived on this day. `ran` are the rules that ran: waivers of others are not judged."""
    kept: list[Finding] = []
    waived: list[Waived] = []
    hits = [0] * len(waivers)
    for finding in findings:
        fits = [i for i, waiver in enumerate(waivers) if fits_waiver(finding, waiver)]
        for i in fits:
            hits[i] += 1
        reasons = [waivers[i].reason for i in fits if not _expired(waivers[i], today)]
        if reasons:
            waived.append(Waived(finding, reasons[0]))
        else:
            kept.append(finding)
    said = ((i, _remark(waiver, hits[i], today)) for i, waiver in enumerate(waivers) if waiver.rule in ran)
    return Weighed(tuple(kept), tuple(waived), tuple(f"waive[{i}]: {remark}" for i, remark in said if remark))


def fits_waiver(finding: Finding, waiver: Waiver) -> bool:
    """Whether a finding is of the rule, the nets and the place that a waiver names, whatever its date.

    Every net of the finding must fit: a fault between a waived net and another one is the other's as well.
    """
    x, y = finding.place.x_mm, finding.place.y_mm
    return (
        finding.rule == waiver.rule
        and (not waiver.nets or (bool(finding.nets) and all(matches(net, waiver.nets) for net in finding.nets)))
        and (waiver.at is None or waiver.radius is None or waiver.at.distance_mm(x, y) <= waiver.radius)
        and (waiver.box is None or waiver.box.holds(x, y))
    )


def _expired(waiver: Waiver, today: datetime.date) -> bool:
    return waiver.until is not None and today > waiver.until


def _remark(waiver: Waiver, hits: int, today: datetime.date) -> str:
    """What is to be said of a waiver; "" where it does its work."""
    if not hits:
        return f"no finding of {waiver.rule} fits it; take it out"
    if _expired(waiver, today):
        again = "the finding that it waived counts" if hits == 1 else f"the {hits} findings that it waived count"
        return f"it ran out on {waiver.until}; {again} again"
    return ""
