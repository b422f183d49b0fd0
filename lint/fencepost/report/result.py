"""What a report is made from: one package after its check."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from fencepost._version import VERSION
from fencepost.checking.finding import Finding, Severity, Unchecked
from fencepost.checking.waivers import Waived
from fencepost.frozen import dataclass

if TYPE_CHECKING:
    from fencepost.board.model import Board
    from fencepost.report.page.drawing import Drawing


@dataclass(frozen=True)
class BoardSummary:
    """Enough to see that the right board was read. The size is that of the profile's box, in mm."""

    copper_layers: int
    holes: int
    nets: int
    size_mm: tuple[float, float]


@dataclass(frozen=True)
class RuleInfo:
    """A rule that ran. `page` is its documentation, `severity` its own or the one in the settings."""

    name: str
    summary: str
    page: str
    severity: Severity
    seconds: float = 0.0


@dataclass(frozen=True)
class Judgement:
    """What rules say of a package under its settings, whatever the day it is and whatever the report asked for.

    `warnings` concern the settings and not the board; each is one line. `drawing` is there where it was asked for.
    """

    board: BoardSummary
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    warnings: tuple[str, ...]
    rules: tuple[RuleInfo, ...]
    drawing: Drawing | None = None


@dataclass(frozen=True)
class Result:
    """`warnings` concern the settings and not the board; each is one line.

    `waived` are findings that the settings set aside, `known` counts those of the baseline; neither are among the
    findings. A finding at or above `fail_level` fails the package, none does where it is None. `drawing` is there
    for formats that draw the board, and None for all others.
    """

    package: str
    board: BoardSummary
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    warnings: tuple[str, ...]
    elapsed_s: float
    version: str = VERSION
    rules: tuple[RuleInfo, ...] = ()
    waived: tuple[Waived, ...] = ()
    known: int = 0
    fail_level: Severity | None = Severity.WARNING
    drawing: Drawing | None = None

    @property
    def rules_named(self) -> tuple[str, ...]:
        """The rules that findings and what was not checked are of, each once."""
        named = [finding.rule for finding in self.findings] + [one.rule for one in self.unchecked]
        return tuple(dict.fromkeys(named))

    @property
    def failed(self) -> bool:
        """Whether there is a finding at or above the fail level."""
        return any(self.fails(finding) for finding in self.findings)

    def fails(self, finding: Finding) -> bool:
        """Whether a finding is at or above the fail level."""
        return self.fail_level is not None and finding.severity >= self.fail_level

    @property
    def counts(self) -> dict[Severity, int]:
        """How many findings there are of each severity, the worst first."""
        return counts_of([self])


def summary_of(board: Board) -> BoardSummary:
    """Layers, holes, nets and size of a board."""
    if board.profile.is_empty:
        size = (0.0, 0.0)
    else:
        left, bottom, right, top = board.profile.bounds
        size = (right - left, top - bottom)
    return BoardSummary(board.layers, len(board.holes), len(board.nets), size)


def counts_of(results: Iterable[Result]) -> dict[Severity, int]:
    """How many findings of each severity all these have, the worst first."""
    counts = dict.fromkeys(sorted(Severity, reverse=True), 0)
    for result in results:
        for finding in result.findings:
            counts[finding.severity] += 1
    return counts
