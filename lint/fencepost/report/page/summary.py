"""The top of the page: the verdict, counts, the board and its stackup, what was assumed and what was not checked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import PurePath

from fencepost.checking.finding import Severity
from fencepost.report.page.drawing import Drawing
from fencepost.report.page.listing import SIGNS
from fencepost.report.page.markup import attribute, listed, table, text
from fencepost.report.result import Result, counts_of
from fencepost.report.text import counted, millimetres

WORST_FIRST = sorted(Severity, reverse=True)


def verdict(results: Sequence[Result]) -> str:
    """Pass or fail in words, and the counts."""
    failed = [result for result in results if result.failed]
    counts = counts_of(results)
    signs = "".join(
        f"<li>{SIGNS[severity]}<strong>{count}</strong> {severity.label if count == 1 else severity.label + 's'}</li>"
        for severity, count in counts.items()
    )
    unchecked = sum(len(result.unchecked) for result in results)
    if failed:
        level = failed[0].fail_level
        said = f"Not clean: findings at or above {level.label}" if level is not None else "Not clean"
    elif sum(counts.values()):
        said = "Findings, none of which fails the check"
    else:
        said = "No findings"
    if unchecked:
        said += f"; {counted(unchecked, 'part')} could not be checked"
    kind = "fails" if failed else "open" if unchecked else "passes"
    return f'<p class="verdict {kind}">{text(said)}.</p><ul class="counts">{signs}</ul>'


def facts(result: Result) -> str:
    """The board in one line."""
    board = result.board
    width, height = (millimetres(length) for length in board.size_mm)
    said = [
        f"{width} × {height} mm",
        counted(board.copper_layers, "copper layer"),
        counted(board.holes, "hole"),
        counted(board.nets, "net"),
        f"checked in {result.elapsed_s:.2f} s by fencepost {result.version}",
    ]
    return f'<p class="facts">{text(" · ".join(said))}</p>'


def cards(result: Result, board: int) -> str:
    """What belongs to one package."""
    return f'<div class="cards" data-board="{board}">{"".join(_cards(result))}</div>'


def _cards(result: Result) -> Iterator[str]:
    yield card("Findings by rule", _rules(result), "rules")
    if result.drawing is not None:
        yield card("Layers and stackup", stackup(result.drawing), "stackup")
    assumed = listed(map(text, result.assumptions)) if result.assumptions else "<p>Nothing.</p>"
    aside = [card("Assumed", assumed, "assumed"), card("Not checked", _unchecked(result), "unchecked")]
    if result.waived or result.known:
        aside.append(card("Set aside", _aside(result), "aside"))
    yield f'<div class="pile">{"".join(aside)}</div>'


def card(title: str, body: str, kind: str) -> str:
    """A part of the summary, which can be folded."""
    return f'<details class="card {kind}" open><summary><h2>{text(title)}</h2></summary>{body}</details>'


def _rules(result: Result) -> str:
    counts = Counter((finding.rule, finding.severity) for finding in result.findings)
    names = [info.name for info in result.rules]
    names += sorted({finding.rule for finding in result.findings} - set(names))
    names.sort(key=lambda name: [-counts[name, severity] for severity in WORST_FIRST])
    summaries = {info.name: info.summary for info in result.rules}
    found = [name for name in names if any(counts[name, severity] for severity in WORST_FIRST)]
    rows = [
        [
            f'<button type="button" class="only" data-rule={attribute(name)} '
            f"title={attribute(summaries.get(name, ''))}>{text(name)}</button>",
            *(str(counts[name, severity] or "–") for severity in WORST_FIRST),
        ]
        for name in found
    ]
    clean = [name for name in names if name not in found]
    said = f'<p class="quiet">Nothing found by {text(", ".join(clean))}.</p>' if clean else ""
    if not rows:
        return said or "<p>No rule found anything.</p>"
    head = ["rule", *(severity.label for severity in WORST_FIRST)]
    return table(head, rows, "Findings by rule and severity") + said


def stackup(drawing: Drawing) -> str:
    """The layers from the top, with what lies between them."""
    rows = []
    for layer, (name, thickness) in enumerate(zip(drawing.files, drawing.stackup.copper, strict=True), 1):
        swatch = f'<span class="swatch layer-{layer}" aria-hidden="true"></span>L{layer}'
        file = f"<span title={attribute(name)}>{text(PurePath(name).name)}</span>"
        rows.append([swatch, f"{millimetres(thickness)} mm", "copper", file])
        if layer <= len(drawing.stackup.gaps):
            gap = drawing.stackup.gaps[layer - 1]
            said = f"εr {gap.permittivity:g}{', assumed' if gap.assumed else ''}"
            rows.append(["", f"{millimetres(gap.thickness)} mm", "dielectric", text(said)])
    total = f'<p class="quiet">{millimetres(drawing.stackup.thickness)} mm in all.</p>'
    return table(["layer", "thickness", "what", "file or figure"], rows, "Stackup from the top") + total


def _unchecked(result: Result) -> str:
    said = [f"<strong>{text(one.rule)}</strong>: {text(one.reason)}" for one in result.unchecked]
    said += [f"<strong>settings</strong>: {text(warning)}" for warning in result.warnings]
    return listed(said) if said else "<p>All rules that were chosen ran on the whole board.</p>"


def _aside(result: Result) -> str:
    said = [
        f"{text(one.finding.message)} <span class='file'>{text(str(one.finding.place.location))}</span>: "
        f"{text(one.reason)}"
        for one in result.waived
    ]
    known = f"<p>{counted(result.known, 'finding')} of the baseline not shown.</p>" if result.known else ""
    return (listed(said) if said else "") + known
