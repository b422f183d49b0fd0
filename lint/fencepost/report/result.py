"""What a report is made from: one package after its check."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fencepost._version import VERSION
from fencepost.board.model import Board
from fencepost.checking.finding import Finding, Severity, Unchecked
from fencepost.checking.runner import Outcome


@dataclass(frozen=True)
class BoardSummary:
    """Enough to see that the right board was read. The size is that of the profile's box, in mm."""

    copper_layers: int
    holes: int
    nets: int
    size_mm: tuple[float, float]


@dataclass(frozen=True)
class Result:
    """`warnings` concern the settings and not the board; each is one line."""

    package: str
    board: BoardSummary
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    warnings: tuple[str, ...]
    elapsed_s: float
    version: str = VERSION

    @property
    def counts(self) -> dict[Severity, int]:
        """How many findings there are of each severity, the worst first."""
        return counts_of([self])


def result_of(board: Board, outcome: Outcome, warnings: Iterable[str], elapsed_s: float) -> Result:
    """Put together what was found on a board."""
    return Result(
        package=board.package,
        board=summary_of(board),
        assumptions=board.assumptions,
        findings=outcome.findings,
        unchecked=outcome.unchecked,
        warnings=tuple(warnings),
        elapsed_s=elapsed_s,
    )


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
