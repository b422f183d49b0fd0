"""The report as GitLab's code quality takes it: one list for all packages.

Source: GitLab Docs, "Code Quality", section on importing the results of other tools: description, check_name,
fingerprint, severity, location.path and location.lines.begin.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fencepost.checking.finding import Finding, Severity
from fencepost.report.escape import escape
from fencepost.report.json import one_line
from fencepost.report.result import Result
from fencepost.report.told_apart import numbered, unique

SEVERITIES = {Severity.ERROR: "critical", Severity.WARNING: "major", Severity.NOTE: "info"}


def render(results: Sequence[Result]) -> str:
    """One line. A finding is told apart by package and fingerprint, so that it stays the same when lines move."""
    return one_line(
        [
            _finding(finding, unique(result.package, finding, number))
            for result in results
            for finding, number in numbered(result.findings)
        ]
    )


def _finding(finding: Finding, fingerprint: str) -> dict[str, Any]:
    where = finding.place.location
    return {
        "description": escape(finding.message),
        "check_name": escape(finding.rule),
        "fingerprint": fingerprint,
        "severity": SEVERITIES[finding.severity],
        "location": {"path": escape(where.file), "lines": {"begin": max(where.line, 1)}},
    }
