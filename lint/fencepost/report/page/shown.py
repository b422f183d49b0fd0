"""What is drawn of a finding: the shapes that its rule gave, and those that follow from what every finding has."""

from __future__ import annotations

import math

from fencepost.checking.evidence import Circle, Line, Shape, Spot
from fencepost.checking.finding import Finding

SAME_MM = 0.02
"""Two figures that mean the same distance."""

CIRCLED = frozenset({"distance", "radius"})
"""Quantities whose limit is a circle around the finding's place."""


def shown(finding: Finding) -> tuple[Shape, ...]:
    """All shapes of a finding, those at the bottom first."""
    roles = {shape.role for shape in finding.evidence}
    shapes: list[Shape] = [*finding.evidence]
    where, limit, measured = finding.place, finding.limit, finding.measured
    if limit is not None and limit.unit == "mm" and limit.quantity in CIRCLED and not roles & {"limit", "empty"}:
        shapes.append(Circle(where.x_mm, where.y_mm, limit.value, "limit", label=f"limit {limit.value:.2f} mm"))
    for remark in finding.remarks:
        there = remark.place
        away = math.hypot(there.x_mm - where.x_mm, there.y_mm - where.y_mm)
        drawn = any(_near(shape, there.x_mm, there.y_mm) for shape in shapes)
        if away > SAME_MM and not drawn and not _proposed(finding, there.x_mm, there.y_mm):
            shapes.append(Spot(there.x_mm, there.y_mm, "remark", label=remark.message))
        if measured is not None and measured.unit == "mm" and abs(away - measured.value) <= SAME_MM < away:
            if "distance" not in roles:
                ends = ((where.x_mm, where.y_mm), (there.x_mm, there.y_mm))
                shapes.append(Line(ends, "distance", label=f"{measured.value:.2f} mm"))
            roles.add("distance")
    via = finding.suggestion
    if via is not None:
        label = f"{via.drill_mm:.2f}/{via.pad_mm:.2f} mm ground via fits"
        shapes.append(Circle(via.x_mm, via.y_mm, via.pad_mm / 2, "proposed", label=label))
        shapes.append(Circle(via.x_mm, via.y_mm, via.drill_mm / 2, "proposed"))
    return tuple(shapes)


def _near(shape: Shape, x: float, y: float) -> bool:
    return isinstance(shape, Spot | Circle) and math.hypot(shape.x - x, shape.y - y) <= SAME_MM


def _proposed(finding: Finding, x: float, y: float) -> bool:
    via = finding.suggestion
    return via is not None and math.hypot(via.x_mm - x, via.y_mm - y) <= SAME_MM
