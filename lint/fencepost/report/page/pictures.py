"""A small picture of each finding, for comments and wikis: one SVG that holds its own style and needs nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from fencepost.board.model import NetKind
from fencepost.checking.evidence import Area, Circle, Heat, Line, Shape, Spot
from fencepost.checking.finding import Severity
from fencepost.report.page.drawing import Drawing
from fencepost.report.page.listing import Entry, entries_of
from fencepost.report.page.markup import attribute, text
from fencepost.report.page.palette import LIGHT, ramp
from fencepost.report.page.paths import STEP_MM, areas_of, strokes_of
from fencepost.report.result import Result

WIDTH, HEIGHT, FOOT = 640.0, 420.0, 30.0
SPOT = 7.0
FAINTEST = 0.02

Box = tuple[float, float, float, float]
"""Left, bottom, right, top in mm."""

SMALLEST_MM = 3.0
AROUND = 0.15
"""Of the evidence's box, left free on each side."""

SURROUNDINGS = frozenset({"before", "after", "fence", "reference before", "reference after"})
"""Roles that may reach beyond the picture."""

LABELS = 60
"""Characters of a label."""

STYLE = (
    "text{font:12px sans-serif;fill:#1c2024}.halo{stroke:#fff;stroke-width:5;stroke-opacity:.8;fill:none}"
    ".mark{fill:none;stroke:#1c2024;stroke-width:2;stroke-linecap:round}"
    ".tie,.proposed{stroke:#0d6157;stroke-width:2.5}.proposed{stroke-dasharray:3 3}.limit{stroke-dasharray:8 5}"
    ".after{stroke-dasharray:7 6}.remark{stroke-dasharray:2 3}.gap,.widest,.empty,.bare{stroke:#a3231b}"
    ".widest{stroke-width:4}.bare{fill:#a3231b;fill-opacity:.15;stroke-width:1}"
    ".reference-before,.reference-after{stroke:#555c63;stroke-width:1;stroke-dasharray:1 4}"
    ".label{paint-order:stroke;stroke:#fff;stroke-width:4;stroke-linejoin:round}"
)

FAINT = {NetKind.GROUND: 0.22, NetKind.POWER: 0.35, NetKind.SIGNAL: 0.9}


def pictures(results: Sequence[Result]) -> dict[str, str]:
    """File names, each of rule and fingerprint, and pictures. Packages without a drawing have none."""
    entries = entries_of(list(results))
    drawings = [result.drawing for result in results]
    return {
        f"{_plain(entry.finding.rule)}-{entry.name}.svg": picture(drawing, entry)
        for entry in entries
        if (drawing := drawings[entry.board]) is not None
    }


def _plain(name: str) -> str:
    """A name for files and styles, whatever a rule pack calls its rules and roles."""
    return re.sub(r"[^a-z0-9-]", "-", name)


def picture(drawing: Drawing, entry: Entry) -> str:
    """The board around a finding, what it was judged by, and its message."""
    finding = entry.finding
    box = _box(entry)
    scale = WIDTH / (box[2] - box[0])
    corner = drawing.box[:2]
    place = (
        f"translate({-(box[0] - corner[0]) * scale:.2f} {(box[3] - corner[1]) * scale:.2f}) "
        f"scale({scale * STEP_MM:.5f} {-scale * STEP_MM:.5f})"
    )
    said = f"{finding.severity.label}: {finding.message} [{finding.rule}]"
    return "".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT + FOOT:.0f}" '
            f'width="{WIDTH:.0f}" height="{HEIGHT + FOOT:.0f}" role="img" aria-label={attribute(said)}>',
            f"<title>{text(said)}</title><style>{STYLE}</style>",
            f'<clipPath id="c"><path d="M0 0h{WIDTH:.0f}v{HEIGHT:.0f}h-{WIDTH:.0f}z"/></clipPath>',
            f'<path fill="#fff" d="M0 0h{WIDTH:.0f}v{HEIGHT + FOOT:.0f}h-{WIDTH:.0f}z"/><g clip-path="url(#c)">',
            f'<g transform="{place}" stroke-linecap="round" stroke-linejoin="round" fill="none">',
            *_copper(drawing, box, set(finding.layers) | {shape.layer for shape in entry.shapes if shape.layer}),
            "</g>",
            *(line for shape in entry.shapes for line in _drawn(shape, box, scale)),
            _sign(finding.severity, (finding.place.x_mm - box[0]) * scale, (box[3] - finding.place.y_mm) * scale),
            *_labels(entry.shapes, box, scale),
            "</g>",
            *_caption(said),
            "</svg>\n",
        ]
    )


def _box(entry: Entry) -> Box:
    """What the picture shows, in mm, in its own proportions."""
    where = entry.finding.place
    xs, ys = [where.x_mm], [where.y_mm]
    for shape in entry.shapes:
        if shape.role in SURROUNDINGS:
            continue
        for x, y, reach in _extent(shape):
            xs += [x - reach, x + reach]
            ys += [y - reach, y + reach]
    middle = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    wide = max(max(xs) - min(xs), (max(ys) - min(ys)) * WIDTH / HEIGHT, SMALLEST_MM) * (1 + 2 * AROUND)
    high = wide * HEIGHT / WIDTH
    return middle[0] - wide / 2, middle[1] - high / 2, middle[0] + wide / 2, middle[1] + high / 2


def _extent(shape: Shape) -> Iterator[tuple[float, float, float]]:
    if isinstance(shape, Spot):
        yield shape.x, shape.y, 0.0
    elif isinstance(shape, Circle):
        yield shape.x, shape.y, shape.radius
    elif isinstance(shape, Line):
        yield from ((x, y, shape.width / 2) for x, y in shape.points)
    elif isinstance(shape, Area):
        yield from ((x, y, 0.0) for ring in shape.rings for x, y in ring)
    else:
        yield shape.x, shape.y, 0.0
        yield shape.x + shape.cell * max(map(len, shape.rows), default=0), shape.y + shape.cell * len(shape.rows), 0.0


def _copper(drawing: Drawing, box: Box, layers: set[str]) -> Iterator[str]:
    """The layers that the finding is about, all of them where it names none; the top one above the others."""
    corner = drawing.box[:2]
    profile = areas_of(drawing.profile.within(box), corner)
    yield f'<path fill="#f0eee6" d="{profile}"/>'
    colours = ramp(LIGHT, drawing.layers)
    order = {NetKind.GROUND: 0, NetKind.POWER: 1, NetKind.SIGNAL: 2}
    for sheet in sorted(drawing.sheets, key=lambda one: (-one.layer, order[one.kind])):
        if layers and f"L{sheet.layer}" not in layers:
            continue
        ink = sheet.ink.within(box)
        colour = colours[sheet.layer - 1]
        yield f'<g opacity="{FAINT[sheet.kind]}" stroke="{colour}">'
        if areas := areas_of(ink, corner):
            yield f'<path stroke="none" fill="{colour}" d="{areas}"/>'
        for width, path in strokes_of(ink, corner):
            yield f'<path stroke-width="{width / 10:g}" d="{path}"/>'
        yield "</g>"
    for width, path in strokes_of(drawing.holes.within(box), corner):
        yield f'<path stroke="#3a3d40" stroke-width="{width / 10:g}" d="{path}"/>'


def _drawn(shape: Shape, box: Box, scale: float) -> Iterator[str]:
    def at(x: float, y: float) -> str:
        return f"{(x - box[0]) * scale:.1f} {(box[3] - y) * scale:.1f}"

    if isinstance(shape, Heat):
        yield from _heat(shape, box, scale)
        return
    if isinstance(shape, Spot | Circle):
        r = shape.radius * scale if isinstance(shape, Circle) else SPOT
        left, y = (shape.x - box[0]) * scale - r, (box[3] - shape.y) * scale
        half = f"a{r:.1f} {r:.1f} 0 1 1"
        d = f"M{left:.1f} {y:.1f}{half} {2 * r:.1f} 0{half} {-2 * r:.1f} 0z"
    elif isinstance(shape, Line):
        d = f"M{'L'.join(at(*point) for point in shape.points)}"
    else:
        d = "".join(f"M{'L'.join(at(*point) for point in ring)}z" for ring in shape.rings)
    if not isinstance(shape, Area) and not shape.role.startswith("reference"):
        yield f'<path class="halo" d="{d}"/>'
    yield f'<path class="mark {_plain(shape.role)}" fill-rule="evenodd" d="{d}"/>'


def _labels(shapes: Sequence[Shape], box: Box, scale: float) -> Iterator[str]:
    """Above what they belong to, moved up where they would lie on one another."""
    taken: list[tuple[float, float, float]] = []
    for shape in shapes:
        if not shape.label or shape.role.startswith("reference"):
            continue
        words = shape.label if len(shape.label) <= LABELS else f"{shape.label[: LABELS - 1]}…"
        extent = list(_extent(shape))
        left, right = min(x for x, _, _ in extent), max(x for x, _, _ in extent)
        bottom, top = min(y - r for _, y, r in extent), max(y + r for _, y, r in extent)
        high = (bottom + top) / 2 if isinstance(shape, Line) else top
        half = len(words) * 3.3 + 4
        x = min(max(((left + right) / 2 - box[0]) * scale, half), WIDTH - half)
        y = (box[3] - high) * scale - (SPOT + 5 if isinstance(shape, Spot) else 5)
        while any(abs(y - b) < 15 and abs(x - a) < half + c for a, b, c in taken):
            y -= 15
        taken.append((x, y, half))
        yield f'<text class="label" text-anchor="middle" x="{x:.1f}" y="{max(y, 14):.1f}">{text(words)}</text>'


def _heat(shape: Heat, box: Box, scale: float) -> Iterator[str]:
    size = shape.cell * scale + 0.3
    for j, row in enumerate(shape.rows):
        for i, value in enumerate(row):
            if value > FAINTEST:
                x = (shape.x + i * shape.cell - box[0]) * scale
                y = (box[3] - shape.y - (j + 1) * shape.cell) * scale
                yield (
                    f'<path fill="#7d1034" fill-opacity="{0.12 + 0.7 * min(value, 1.0):.2f}" '
                    f'd="M{x:.1f} {y:.1f}h{size:.1f}v{size:.1f}h{-size:.1f}z"/>'
                )


def _sign(severity: Severity, x: float, y: float) -> str:
    d, colour = {
        Severity.ERROR: ("M0-7L7 0L0 7L-7 0z", "#a3231b"),
        Severity.WARNING: ("M0-6.5L7 6H-7z", "#7d5200"),
        Severity.NOTE: ("M-5.5 0a5.5 5.5 0 1 1 11 0a5.5 5.5 0 1 1-11 0z", "#2a5b86"),
    }[severity]
    return f'<path transform="translate({x:.1f} {y:.1f})" stroke="#fff" stroke-width="1.5" fill="{colour}" d="{d}"/>'


def _caption(said: str) -> Iterator[str]:
    """Two lines at the foot, the second one cut where it is too long."""
    room = 96
    first = said if len(said) <= room else said[:room].rsplit(" ", 1)[0]
    rest = said[len(first) :].strip()
    rest = rest if len(rest) <= room else f"{rest[: room - 1]}…"
    yield f'<text x="6" y="{HEIGHT + 13:.0f}">{text(first)}</text>'
    if rest:
        yield f'<text x="6" y="{HEIGHT + 27:.0f}">{text(rest)}</text>'
