"""A cut through the stackup at a transition: layers and holes to scale, and the way of the return current.

The cut goes through the signal's via and the nearest tie, so that the copper in it is what lies between the two. What
is drawn beyond the board's own copper is the way that the current takes: under the trace to the tie, through it, and
back, and beside the signal's barrel the place where it cannot cross.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import shapely

from fencepost.board.model import NetKind
from fencepost.checking.evidence import Circle, Shape, Spot
from fencepost.frozen import dataclass
from fencepost.report.page.drawing import Drawing
from fencepost.report.page.markup import attribute, text

WIDTH = 440.0
LABELS = 104.0
"""Room for the names of the layers, on the left."""

MARGIN_MM = 1.0
LONGEST_MM = 9.0
"""Of board that is drawn; a tie farther away is named and not drawn."""

TOP = 40.0
FOOT = 62.0
PLATING_MM = 0.025


@dataclass(frozen=True)
class _Cut:
    """The cut, in mm along it and from the top of the board down; the signal's via stands at `via`."""

    drawing: Drawing
    line: shapely.LineString
    via: float
    tie: float | None

    @property
    def scale(self) -> float:
        return (WIDTH - LABELS) / float(self.line.length)

    def x(self, along: float) -> float:
        return LABELS + along * self.scale

    def top(self, layer: int) -> float:
        """The upper side of a copper layer, in px."""
        stack = self.drawing.stackup
        above = sum(stack.copper[: layer - 1]) + sum(gap.thickness for gap in stack.gaps[: layer - 1])
        return TOP + self.scale * above

    def thick(self, layer: int) -> float:
        return max(self.scale * self.drawing.stackup.copper[layer - 1], 2.0)


def section_svg(drawing: Drawing, shapes: tuple[Shape, ...]) -> str:
    """The picture, or "" where the shapes are not those of a transition."""
    via = _first(shapes, "signal via")
    before, after = _references(shapes, "reference before"), _references(shapes, "reference after")
    if via is None or not before or not after or not drawing.stackup.gaps:
        return ""
    tie = _first(shapes, "tie")
    cut = _cut(drawing, via, tie)
    limit = next((one.radius for one in shapes if isinstance(one, Circle) and one.role == "limit"), None)
    bottom = cut.top(drawing.layers) + cut.thick(drawing.layers)
    height = bottom + FOOT
    said = f"Cut through the stackup: {_words(before)} before the via, {_words(after)} after it"
    body = "".join(
        [
            *_board(cut, bottom),
            *_names(cut, shapes),
            *_holes(cut),
            *_limit(cut, limit, bottom),
            *_return(cut, before[0], after[0], bottom, tie is not None),
        ]
    )
    return (
        f'<svg class="section" viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="img" aria-label={attribute(said)}>'
        f"{body}</svg>"
    )


def _first(shapes: tuple[Shape, ...], role: str) -> Spot | None:
    return next((shape for shape in shapes if isinstance(shape, Spot) and shape.role == role), None)


def _references(shapes: tuple[Shape, ...], role: str) -> list[tuple[int, str]]:
    """Layer and net of each, the one that counts most first."""
    found = [shape for shape in shapes if isinstance(shape, Circle) and shape.role == role]
    return [(int(shape.layer[1:]), shape.label) for shape in found if shape.layer[1:].isdigit()]


def _words(references: list[tuple[int, str]]) -> str:
    return " and ".join(f"{net} on L{layer}" for layer, net in references)


def _cut(drawing: Drawing, via: Spot, tie: Spot | None) -> _Cut:
    dx, dy = (tie.x - via.x, tie.y - via.y) if tie is not None else (1.0, 0.0)
    away = math.hypot(dx, dy)
    far = tie is None or away + 2 * MARGIN_MM > LONGEST_MM
    reach = LONGEST_MM / 2 - MARGIN_MM if far else away
    ux, uy = (dx / away, dy / away) if away else (1.0, 0.0)
    before = MARGIN_MM if tie is not None else reach
    line = shapely.LineString(
        [
            (via.x - before * ux, via.y - before * uy),
            (via.x + (reach + MARGIN_MM) * ux, via.y + (reach + MARGIN_MM) * uy),
        ]
    )
    return _Cut(drawing, line, before, None if far else before + away)


def _rect(kind: str, x: float, y: float, width: float, height: float) -> str:
    size = f'width="{max(width, 0.1):.1f}" height="{max(height, 0.1):.1f}"'
    return f'<rect class="{kind}" x="{x:.1f}" y="{y:.1f}" {size}/>'


def _board(cut: _Cut, bottom: float) -> Iterator[str]:
    """Dielectric, and the copper of every layer where the cut meets it."""
    yield _rect("dielectric", LABELS, TOP, WIDTH - LABELS, bottom - TOP)
    for sheet in cut.drawing.sheets:
        for begin, end in sheet.ink.along(cut.line):
            yield _rect(
                f"copper {sheet.kind.value}",
                cut.x(begin),
                cut.top(sheet.layer),
                (end - begin) * cut.scale,
                cut.thick(sheet.layer),
            )


def _names(cut: _Cut, shapes: tuple[Shape, ...]) -> Iterator[str]:
    """The layers, each with what it is to this transition."""
    part = {
        "before": "signal in",
        "after": "signal out",
        "reference before": "its reference",
        "reference after": "its reference",
    }
    said: dict[str, list[str]] = {}
    for shape in shapes:
        if shape.layer and shape.role in part and part[shape.role] not in said.setdefault(shape.layer, []):
            said[shape.layer].append(part[shape.role])
    last = -math.inf
    for layer in range(1, cut.drawing.layers + 1):
        y = max(cut.top(layer) + cut.thick(layer) / 2 + 4, last + 13)
        last = y
        words = f"L{layer} {', '.join(said.get(f'L{layer}', []))}"
        yield f'<text class="name" x="0" y="{y:.1f}">{text(words.strip())}</text>'


def _holes(cut: _Cut) -> Iterator[str]:
    """Every hole that the cut goes through, with its plating."""
    drawing = cut.drawing
    near = drawing.holes.geometry
    away = shapely.distance(near, cut.line)
    for i in (away < drawing.holes.width / 2).nonzero()[0].tolist():
        half = math.sqrt(max((drawing.holes.width[i] / 2) ** 2 - float(away[i]) ** 2, 0.0))
        middle = float(cut.line.project(shapely.centroid(near[i])))
        left, right = max(middle - half, 0.0), min(middle + half, float(cut.line.length))
        top = cut.top(int(drawing.first[i]))
        bottom = cut.top(int(drawing.last[i])) + cut.thick(int(drawing.last[i]))
        yield _rect("drilled", cut.x(left), top, (right - left) * cut.scale, bottom - top)
        if drawing.plated[i]:
            net = int(drawing.hole_net[i])
            kind = drawing.kinds[net] if net >= 0 else NetKind.SIGNAL
            wall = max(PLATING_MM * cut.scale, 2.0)
            for x in (cut.x(left) - wall / 2, cut.x(right) - wall / 2):
                yield _rect(f"copper {kind.value}", x, top, wall, bottom - top)


def _limit(cut: _Cut, limit: float | None, bottom: float) -> Iterator[str]:
    if limit is None or cut.via + limit > cut.line.length:
        return
    x = cut.x(cut.via + limit)
    yield f'<line class="limit" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP - 8:.1f}" y2="{bottom + 8:.1f}"/>'
    yield f'<text class="small" text-anchor="middle" x="{x:.1f}" y="{bottom + 20:.1f}">limit {limit:.2f} mm</text>'


def _return(cut: _Cut, before: tuple[int, str], after: tuple[int, str], bottom: float, tied: bool) -> Iterator[str]:
    """The way by the tie, and the break beside the signal's barrel."""
    upper, lower = before[0], after[0]
    high = cut.top(upper) + cut.thick(upper) / 2
    low = cut.top(lower) + cut.thick(lower) / 2
    via = cut.x(cut.via)
    yield f'<text class="strong" text-anchor="middle" x="{via:.1f}" y="{TOP - 22:.1f}">signal via</text>'
    beside = via - 0.45 * cut.scale
    middle = (high + low) / 2
    yield f'<path class="broken" d="M{beside:.1f} {high:.1f}V{low:.1f}"/>'
    yield f'<path class="cross" d="M{beside - 6:.1f} {middle - 6:.1f}l12 12m0 -12l-12 12"/>'
    if cut.tie is not None:
        tie = cut.x(cut.tie)
        away = cut.tie - cut.via
        start = via + 0.3 * cut.scale if tie > via + 0.6 * cut.scale else via
        yield f'<path class="way" d="M{start:.1f} {high:.1f}H{tie:.1f}V{low:.1f}H{start:.1f}"/>'
        direction = -1 if low >= high else 1
        for x, y, turn in ((start + (tie - start) / 2, high, 0), (start + (tie - start) / 2, low, 180)):
            yield f'<path class="arrow" transform="translate({x:.1f} {y:.1f}) rotate({turn})" d="M-5 -5L5 0L-5 5z"/>'
        yield (
            f'<path class="arrow" transform="translate({tie:.1f} {middle:.1f}) rotate({-90 * direction})" '
            'd="M-5 -5L5 0L-5 5z"/>'
        )
        yield f'<text class="strong" text-anchor="middle" x="{tie:.1f}" y="{TOP - 22:.1f}">nearest tie</text>'
        y = TOP - 12
        yield f'<path class="measure" d="M{via:.1f} {y - 4:.1f}v8m0 -4H{tie:.1f}m0 -4v8"/>'
        yield (
            f'<text class="small" text-anchor="middle" x="{(via + tie) / 2:.1f}" y="{y - 4:.1f}">{away:.2f} mm</text>'
        )
    names = f"{before[1]} on L{upper}", f"{after[1]} on L{lower}"
    if cut.tie is not None:
        said = [f"The return current crosses from {names[0]} to {names[1]}", "at the tie, and not here (×)."]
    elif tied:
        said = [f"The nearest tie from {names[0]} to {names[1]}", "lies outside this picture; here there is none (×)."]
    else:
        said = ["Nothing takes the return current here (×)", f"from {names[0]} to {names[1]}."]
    for i, line in enumerate(said):
        yield f'<text class="small" x="0" y="{bottom + 40 + 15 * i:.1f}">{text(line)}</text>'
