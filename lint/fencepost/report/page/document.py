"""The page as one file. Style and script are in it, by their hashes the only ones that the browser will take."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Sequence
from importlib.resources import files

from fencepost.report.description import sections
from fencepost.report.page.content import board_content, finding_content
from fencepost.report.page.drawing import Drawing
from fencepost.report.page.listing import Entry, entries_of, item
from fencepost.report.page.markup import data, table, text
from fencepost.report.page.palette import DARK, LIGHT, ramp
from fencepost.report.page.summary import card, cards, facts, stackup, verdict
from fencepost.report.result import Result
from fencepost.report.survey import Survey

STYLES = ("page.css", "board.css")
SCRIPTS = ("view.js", "evidence.js", "list.js", "page.js")
SORTS = {
    "severity": "severity",
    "file": "place in the files",
    "rule": "rule",
    "net": "net",
    "worst": "farthest from its limit",
}
"""What the list can be sorted by, and the words for it."""


def page(results: Sequence[Result]) -> str:
    """The report of one or more packages."""
    every = list(results)
    entries = entries_of(every)
    top = [_title(", ".join(result.package for result in every)), verdict(every)]
    if len(every) == 1:
        top.append(facts(every[0]))
    parts = [
        f'<header class="top">{"".join(top)}{_packages(every)}</header>',
        *(cards(result, i) for i, result in enumerate(every)),
        '<main class="work">',
        _board("Board and findings" if entries else "Board"),
        _findings(every, entries),
        "</main>",
    ]
    drawings = [result.drawing for result in every]
    found = {entry.name: {"board": entry.board, **_content(entry, drawings[entry.board])} for entry in entries}
    return _file(", ".join(result.package for result in every), parts, drawings, found)


def inventory(survey: Survey, drawing: Drawing) -> str:
    """The page of a board that was not checked: what there is of its ground, and how the package was understood."""
    kinds = {"layers", "files"}
    tables = [card("Layers and stackup", stackup(drawing), "stackup")]
    tables += [
        card(_heading(section.title, survey), _rows(section.title, section.rows), "plain")
        for section in sections(survey)
        if section.title not in kinds
    ]
    parts = [
        f'<header class="top">{_title(survey.package)}<p class="verdict open">Inventory of the ground system; '
        "nothing was checked.</p></header>",
        f'<div class="cards packed" data-board="0">{"".join(tables)}</div>',
        f'<main class="work alone">{_board("Board")}</main>',
    ]
    return _file(survey.package, parts, [drawing], {})


def _heading(title: str, survey: Survey) -> str:
    said = "package" if title == survey.package else title
    return said[:1].upper() + said[1:]


def _rows(title: str, rows: Iterable[tuple[str, ...]]) -> str:
    return table([], [[text(cell) for cell in row] for row in rows], title)


def _content(entry: Entry, drawing: Drawing | None) -> dict[str, object]:
    corner = drawing.box[:2] if drawing is not None else (0.0, 0.0)
    return finding_content(entry.finding, corner, entry.shapes)


def _title(package: str) -> str:
    return f'<p class="product">fencepost</p><h1>{text(package)}</h1>'


def _packages(results: Sequence[Result]) -> str:
    if len(results) < 2:
        return ""
    options = "".join(
        f'<option value="{i}">{text(result.package)}: {len(result.findings)}</option>'
        for i, result in enumerate(results)
    )
    return f'<p><label for="package">Package</label> <select id="package">{options}</select></p>'


def _board(label: str) -> str:
    buttons = "".join(
        f'<button type="button" id="{name}" aria-label="{said}" title="{said}">{sign}</button>'
        for name, said, sign in (("zoom-in", "Zoom in", "+"), ("zoom-out", "Zoom out", "−"), ("fit", "Show all", "⤢"))
    )
    return (
        f'<section class="board" aria-label="{label}">'
        '<div class="tools"><fieldset id="layers"><legend>Layers</legend></fieldset>'
        '<fieldset id="kinds"><legend>Copper</legend></fieldset>'
        '<p class="quiet">Ground vias have a bright core.</p>'
        "</div>"
        '<div class="view" id="view" tabindex="0" role="group" aria-roledescription="board" '
        'aria-label="Picture of the board. Arrow keys move it, plus and minus zoom, 0 shows all.">'
        '<canvas id="copper" aria-hidden="true"></canvas>'
        '<svg id="overlay" aria-hidden="true"><g id="shapes"></g><g id="markers"></g><g id="labels"></g></svg>'
        f'<div class="zoom">{buttons}</div>'
        '<output id="cursor" aria-hidden="true"></output>'
        '<button type="button" id="back" hidden>Back to where I was</button>'
        "</div></section>"
    )


def _findings(results: Sequence[Result], entries: Sequence[Entry]) -> str:
    items = "".join(item(entry, results[entry.board]) for entry in entries)
    filters = "".join(
        f'<label>{name}<select id="by-{name}"><option value="">all</option></select></label>'
        for name in ("rule", "severity", "net", "layer")
    )
    sorts = "".join(f'<option value="{key}">{said}</option>' for key, said in SORTS.items())
    return (
        '<section class="list" aria-label="Findings" id="findings"><form class="filters" id="filters" role="search">'
        '<label class="search">search<input type="search" id="search" autocomplete="off" spellcheck="false"></label>'
        f'{filters}<label>sort by<select id="sort">{sorts}</select></label>'
        '<p class="shown"><output id="shown" aria-live="polite"></output> '
        '<button type="reset" id="unfilter" hidden>Show all findings</button></p></form>'
        f'<ol class="findings">{items}</ol><p class="quiet" id="none" hidden>No finding fits.</p>'
        '<p class="quiet keys">Keys: / search, n and p next and previous finding, arrow keys in the list and on the '
        "board, Esc back.</p></section>"
    )


def _file(
    title: str, parts: Sequence[str], drawings: Sequence[Drawing | None], found: dict[str, dict[str, object]]
) -> str:
    style = _asset(STYLES) + _layer_colours(max((own.layers for own in drawings if own is not None), default=0))
    script = f'(() => {{\n"use strict";\n{_asset(SCRIPTS)}\n}})();'
    boards = [board_content(drawing) if drawing is not None else None for drawing in drawings]
    policy = (
        f"default-src 'none'; style-src {_hash(style)}; script-src {_hash(script)}; base-uri 'none'; form-action 'none'"
    )
    return "".join(
        [
            '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n',
            '<meta name="viewport" content="width=device-width, initial-scale=1">\n',
            '<meta name="color-scheme" content="light dark">\n<meta name="referrer" content="no-referrer">\n',
            f"<title>{text(title)} – fencepost</title>\n<style>{style}</style>\n</head>\n<body>\n",
            '<a class="skip" href="#findings">Skip to the findings</a>\n' if found else "",
            "\n".join(parts),
            f'\n<script type="application/json" id="data">{data({"boards": boards, "findings": found})}</script>\n',
            f"<script>{script}</script>\n</body>\n</html>\n",
        ]
    )


def _asset(names: Sequence[str]) -> str:
    folder = files("fencepost.report.page") / "assets"
    return "\n".join((folder / name).read_text(encoding="utf-8") for name in names)


def _layer_colours(count: int) -> str:
    """Swatches in the colours of the layers. Of several boards the one with most layers has them."""
    light = "".join(f".layer-{i}{{--own:{colour}}}" for i, colour in enumerate(ramp(LIGHT, count), 1))
    dark = "".join(f".layer-{i}{{--own:{colour}}}" for i, colour in enumerate(ramp(DARK, count), 1))
    return f"{light}@media screen and (prefers-color-scheme: dark){{{dark}}}"


def _hash(content: str) -> str:
    """As in Content Security Policy Level 3, section 2.3.1: a source by its hash."""
    digest = hashlib.sha256(content.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"
