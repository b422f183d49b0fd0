"""The report as workflow commands of GitHub, which show each finding beside its line.

    ::warning file=fab/tide-L1.gbr,line=412,col=1,title=transition-return::message

Source: GitHub Docs, "Workflow commands for GitHub Actions"; `%`, CR and LF are written as in URLs, in properties the
colon and the comma as well. Only ten of each kind are shown for a step; the text below names them all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fencepost.checking.finding import Finding, Severity
from fencepost.report.escape import escape
from fencepost.report.result import Result
from fencepost.report.text import finding_lines, suggestion_text, summary_of_all

COMMANDS = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "notice"}


def render(results: Sequence[Result]) -> str:
    """A command for each finding, the worst first, since the first are shown; then what was not checked, and counts."""
    return "".join(f"{line}\n" for line in _lines(results))


def _lines(results: Sequence[Result]) -> Iterator[str]:
    findings = [finding for result in results for finding in result.findings]
    for finding in sorted(findings, key=lambda finding: -finding.severity):
        yield _command(finding)
    for result in results:
        said = [(one.rule, f"not checked: {one.reason}") for one in result.unchecked]
        said += [("settings", text) for text in result.warnings]
        for title, text in said:
            yield f"::notice title={_property(title)}::{_data(f'{result.package}: {text}')}"
    for finding in findings:
        for line in finding_lines(finding):
            yield escape("".join(piece for piece, _ in line))
    yield summary_of_all(results)


def _command(finding: Finding) -> str:
    where = finding.place.location
    place = f"file={_property(where.file)},line={max(where.line, 1)},col={max(where.column, 1)}"
    notes = [remark.message for remark in finding.remarks]
    if finding.suggestion is not None:
        notes.append(suggestion_text(finding, finding.suggestion))
    message = "%0A".join(_data(text) for text in (finding.message, *notes))
    return f"::{COMMANDS[finding.severity]} {place},title={_property(finding.rule)}::{message}"


def _data(text: str) -> str:
    return escape(text).replace("%", "%25")


def _property(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")
