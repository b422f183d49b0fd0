"""The findings as a list. Each is whole without any script: what is wrong, where, and what goes with it."""

from __future__ import annotations

from collections.abc import Iterator

from fencepost.checking.evidence import ROLES, Shape
from fencepost.checking.finding import Figure, Finding, Severity
from fencepost.frozen import dataclass
from fencepost.report.page.markup import attribute, listed, text
from fencepost.report.page.section import section_svg
from fencepost.report.page.shown import shown
from fencepost.report.result import Result
from fencepost.report.text import finding_lines, suggestion_place, suggestion_text
from fencepost.report.told_apart import numbered
from fencepost.source import Location
from fencepost.units import with_prefix

_SIGN = '<svg class="sign" viewBox="-8 -8 16 16" aria-hidden="true">{}</svg>'

SIGNS = {
    Severity.ERROR: _SIGN.format('<path class="error" d="M0-7L7 0L0 7L-7 0z"/>'),
    Severity.WARNING: _SIGN.format('<path class="warning" d="M0-6.5L7 6H-7z"/>'),
    Severity.NOTE: _SIGN.format('<circle class="note" r="5.5"/>'),
}
"""A shape for each severity, so that none is told by its colour alone."""


PREFIXED = frozenset({"Hz", "s", "H", "F"})
"""Units whose figures are read with a prefix, as in 868 MHz."""


@dataclass(frozen=True)
class Entry:
    """A finding of the page: its board's number, its name in links, and what is drawn of it."""

    board: int
    name: str
    finding: Finding
    shapes: tuple[Shape, ...]


def entries_of(results: list[Result]) -> list[Entry]:
    """All findings. Those that share a fingerprint are numbered from the second one on."""
    pairs = [(board, finding) for board, result in enumerate(results) for finding in result.findings]
    names = [
        finding.fingerprint if number == 1 else f"{finding.fingerprint}-{number}"
        for finding, number in numbered(finding for _, finding in pairs)
    ]
    return [Entry(board, name, finding, shown(finding)) for (board, finding), name in zip(pairs, names, strict=True)]


def item(entry: Entry, result: Result) -> str:
    """One finding: a button that shows it on the board, and all that is known of it."""
    finding = entry.finding
    word = finding.severity.label
    drawing = result.drawing
    section = section_svg(drawing, entry.shapes) if drawing is not None else ""
    figure = f"<figure>{section}</figure>" if section else ""
    plain = "\n".join("".join(piece for piece, _ in line) for line in finding_lines(finding))
    return (
        f'<li class="finding" id={attribute(entry.name)} data-board="{entry.board}">'
        f'<h3><button type="button" class="head" aria-expanded="false" aria-controls="b-{entry.name}">'
        f'{SIGNS[finding.severity]}<span class="message"><span class="severity">{word}</span> {text(finding.message)}'
        f'</span><span class="where"><span class="rule">{text(finding.rule)}</span> '
        f"<span>{text(str(finding.place.location))}</span></span></button></h3>"
        f'<div class="body" id="b-{entry.name}" hidden>{"".join(_body(entry))}{figure}'
        f'<p class="actions"><button type="button" class="copy">Copy as text</button> '
        f'<a href="#{entry.name}">Link to this finding</a></p>'
        f'<pre class="plain" hidden>{text_lines(plain)}</pre></div></li>'
    )


def text_lines(plain: str) -> str:
    """Several lines, each escaped by itself."""
    return "\n".join(text(line) for line in plain.split("\n"))


def _body(entry: Entry) -> Iterator[str]:
    finding = entry.finding
    where = finding.place
    yield "<dl>"
    if finding.measured is not None:
        against = f", limit {_figure(finding.limit)}" if finding.limit is not None else ""
        yield _pair(finding.measured.quantity, f"{_figure(finding.measured)}{against}")
    yield _pair("place", f"({where.x_mm:.3f}, {where.y_mm:.3f}) mm")
    if finding.layers:
        yield _pair("layers", ", ".join(finding.layers))
    if finding.nets:
        yield _pair("nets", ", ".join(finding.nets))
    yield "</dl>"
    said = [_note(remark.message, remark.place.location) for remark in finding.remarks]
    if finding.suggestion is not None:
        where_to = suggestion_place(finding, finding.suggestion)
        said.append(_note(suggestion_text(finding, finding.suggestion), where_to))
    if said:
        yield listed(said, "ul")
    drawn = list(dict.fromkeys(shape.role for shape in entry.shapes if shape.role in ROLES))
    if drawn:
        legend = ", ".join(f"{_mark(role)} {text(ROLES[role])}" for role in drawn)
        yield f'<p class="key">On the board: {legend}</p>'


def _mark(role: str) -> str:
    """A sample of how a role is drawn."""
    line = f'<path class="r-{role.replace(" ", "-")}" d="M2 6h20"/>'
    return f'<svg class="mark" viewBox="0 0 24 12" aria-hidden="true">{line}</svg>'


def _pair(word: str, value: str) -> str:
    return f"<div><dt>{text(word)}</dt><dd>{text(value)}</dd></div>"


def _figure(figure: Figure | None) -> str:
    if figure is None:
        return ""
    if figure.unit in PREFIXED:
        return with_prefix(figure.value, figure.unit)
    return f"{round(figure.value, 6) + 0.0:.4g} {figure.unit}".rstrip()


def _note(message: str, where: Location) -> str:
    return f'{text(message)} <span class="file">{text(str(where))}</span>'
