"""The report for people: a line a finding, as compilers print them, and one line at the end.

    file:line:column: severity: message [rule]
    file:line:column: note: what goes with it

What had to be assumed, what was not checked and what is odd in the settings comes after the findings, a line each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fencepost.checking.finding import Finding, Severity, Suggestion
from fencepost.report.escape import escape
from fencepost.report.result import Result, counts_of
from fencepost.source import Location

Line = list[tuple[str, str]]
"""Pieces of a line, each with the name of its style, "" for plain."""

QUIET = "quiet"


def render(results: Sequence[Result], quiet: bool = False) -> str:
    """The report without colours."""
    return "".join("".join(piece for piece, _ in line) + "\n" for line in lines(results, quiet))


def lines(results: Sequence[Result], quiet: bool = False) -> Iterator[Line]:
    """The report line by line; everything in it is escaped. `quiet`: without what was assumed and the summary."""
    for result in results:
        for finding in result.findings:
            yield from finding_lines(finding)
    for result in results:
        yield from _asides(result, quiet)
    if not quiet:
        yield [(summary_of_all(results), "")]


def finding_lines(finding: Finding) -> Iterator[Line]:
    """A finding and what goes with it."""
    yield [*_line(finding.place.location, finding.severity, finding.message), (f" [{escape(finding.rule)}]", "rule")]
    for remark in finding.remarks:
        yield _line(remark.place.location, Severity.NOTE, remark.message)
    if finding.suggestion is not None:
        via = finding.suggestion
        yield _line(suggestion_place(finding, via), Severity.NOTE, suggestion_text(finding, via))


def _line(where: Location, severity: Severity, message: str) -> Line:
    return [
        (escape(f"{where.file}:{where.line}:{where.column}: "), "place"),
        (f"{severity.label}: ", severity.label),
        (escape(message), ""),
    ]


def suggestion_place(finding: Finding, via: Suggestion) -> Location:
    """The line that a suggestion stands beside."""
    return via.location or finding.place.location


def suggestion_text(finding: Finding, via: Suggestion) -> str:
    """A suggestion in one line."""
    where = finding.place
    away = ((via.x_mm - where.x_mm) ** 2 + (via.y_mm - where.y_mm) ** 2) ** 0.5
    size = f"{millimetres(via.drill_mm)}/{millimetres(via.pad_mm)} mm"
    at = f"({millimetres(via.x_mm)}, {millimetres(via.y_mm)})"
    return f"a {size} ground via fits at {at}, {away:.2f} mm away"


def _asides(result: Result, quiet: bool) -> Iterator[Line]:
    said = [
        *(f"warning: {text}" for text in result.warnings),
        *(f"assumed: {text}" for text in result.assumptions if not quiet),
        *(f"unchecked: {one.reason} [{one.rule}]" for one in result.unchecked),
    ]
    for text in said:
        yield [(escape(f"{result.package}: {text}"), QUIET)]


def summary_of_all(results: Sequence[Result]) -> str:
    """One line of counts, escaped."""
    unchecked = sum(len(result.unchecked) for result in results)
    counts = [counted(count, severity.label) for severity, count in counts_of(results).items() if count]
    found = ", ".join(counts) or "no findings"
    asides = {
        "unchecked": unchecked,
        "waived": sum(len(result.waived) for result in results),
        "in the baseline": sum(result.known for result in results),
    }
    found += "".join(f", {count} {what}" for what, count in asides.items() if count)
    elapsed = f"{sum(result.elapsed_s for result in results):.2f} s"
    if len(results) != 1:
        return f"{counted(len(results), 'package')}: {found}; {elapsed}"
    board = results[0].board
    width, height = (millimetres(length) for length in board.size_mm)
    size = f"{counted(board.copper_layers, 'copper layer')}, {width} x {height} mm"
    has = f"{counted(board.holes, 'hole')}, {counted(board.nets, 'net')}"
    return escape(f"{results[0].package}: {found}; {size}, {has}; {elapsed}")


def counted(count: int, word: str) -> str:
    """`1 hole`, `2 holes`."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def millimetres(value: float) -> str:
    """To 1 µm, with two decimals where that is enough: 31.95, 31.955."""
    text = f"{round(value, 3) + 0.0:.3f}"
    return text.removesuffix("0")
