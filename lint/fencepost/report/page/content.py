"""What the page's script needs of boards and findings, as values for JSON.

Boards are in steps of 10 µm from their lower left corner, y upwards; evidence in mm from the same corner.
"""

from __future__ import annotations

from typing import Any

from fencepost.board.model import NetKind
from fencepost.checking.evidence import Area, Circle, Heat, Line, Shape, Spot
from fencepost.checking.finding import Finding
from fencepost.report.escape import escape
from fencepost.report.page.drawing import Drawing, Ink
from fencepost.report.page.palette import DARK, LIGHT, ramp
from fencepost.report.page.paths import STEP_MM, Corner, areas_of, strokes_of

STRENGTHS = 99
"""Steps of a field's strength."""


def board_content(drawing: Drawing) -> dict[str, Any]:
    """A board: size, colours, and what is drawn on each layer."""
    left, bottom, right, top = drawing.box
    corner = (left, bottom)
    return {
        "corner": [round(left, 3), round(bottom, 3)],
        "size": [round((right - left) / STEP_MM), round((top - bottom) / STEP_MM)],
        "layers": drawing.layers,
        "light": ramp(LIGHT, drawing.layers),
        "dark": ramp(DARK, drawing.layers),
        "profile": areas_of(drawing.profile, corner),
        "sheets": [
            {"layer": sheet.layer, "kind": sheet.kind.value, **_ink(sheet.ink, corner)} for sheet in drawing.sheets
        ],
        "ties": strokes_of(Ink(drawing.holes.geometry[drawing.ties], drawing.holes.width[drawing.ties]), corner),
        "holes": strokes_of(Ink(drawing.holes.geometry[~drawing.ties], drawing.holes.width[~drawing.ties]), corner),
        "kinds": {
            escape(name): kind.value
            for name, kind in zip(drawing.nets, drawing.kinds, strict=True)
            if kind is not NetKind.SIGNAL
        },
    }


def _ink(ink: Ink, corner: Corner) -> dict[str, Any]:
    return {"areas": areas_of(ink, corner), "strokes": strokes_of(ink, corner)}


def finding_content(finding: Finding, corner: Corner, shapes: tuple[Shape, ...]) -> dict[str, Any]:
    """Where a finding is and what is drawn of it."""
    x, y = finding.place.x_mm - corner[0], finding.place.y_mm - corner[1]
    return {
        "at": [round(x, 3), round(y, 3)],
        "severity": finding.severity.label,
        "rule": escape(finding.rule),
        "layers": [escape(layer) for layer in finding.layers],
        "nets": [escape(net) for net in finding.nets],
        "worst": round(ratio(finding), 4),
        "shapes": [_shape(shape, corner) for shape in shapes],
    }


def ratio(finding: Finding) -> float:
    """By what factor a limit was missed, whichever side of it is the bad one; 0 where there is none."""
    measured, limit = finding.measured, finding.limit
    if measured is None or limit is None or measured.value <= 0 or limit.value <= 0:
        return 0.0
    return max(measured.value / limit.value, limit.value / measured.value)


def _shape(shape: Shape, corner: Corner) -> dict[str, Any]:
    said = {"role": shape.role, "layer": escape(shape.layer), "label": escape(shape.label)}
    if isinstance(shape, Spot):
        return {"type": "spot", **said, "at": _point((shape.x, shape.y), corner)}
    if isinstance(shape, Circle):
        return {"type": "circle", **said, "at": _point((shape.x, shape.y), corner), "radius": round(shape.radius, 3)}
    if isinstance(shape, Line):
        points = [_point(point, corner) for point in shape.points]
        return {"type": "line", **said, "points": points, "width": round(shape.width, 3)}
    if isinstance(shape, Area):
        rings = [[_point(point, corner) for point in ring] for ring in shape.rings]
        return {"type": "area", **said, "rings": rings}
    return {"type": "heat", **said, **_heat(shape, corner)}


def _point(point: tuple[float, float], corner: Corner) -> list[float]:
    return [round(point[0] - corner[0], 3), round(point[1] - corner[1], 3)]


def _heat(shape: Heat, corner: Corner) -> dict[str, Any]:
    rows = [[round(STRENGTHS * min(max(value, 0.0), 1.0)) for value in row] for row in shape.rows]
    return {"at": _point((shape.x, shape.y), corner), "cell": round(shape.cell, 4), "rows": rows}
