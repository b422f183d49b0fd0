"""The report for programs: one JSON object for one package, a list of such objects for several.

Names are given as the files have them. All but ASCII is written as `\\u` escapes, so that the text is safe to print.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Any

from fencepost.checking.finding import Figure, Finding, Place, Remark, Suggestion
from fencepost.report.result import Result

SCHEMA = "fencepost/findings/1"


def render(results: Sequence[Result]) -> str:
    """One line. Numbers are rounded: positions to 1 µm, figures to six digits, seconds to 1 ms."""
    objects = [_result(result) for result in results]
    return one_line(objects[0] if len(objects) == 1 else objects)


def one_line(value: object) -> str:
    """A value as JSON that is safe to print."""
    text = json.dumps(value, ensure_ascii=True, allow_nan=False)
    # Both can stand in strings only: the one control character that JSON leaves, and what build logs take for orders.
    return re.sub(r"\x7f|#(?=#)", lambda match: f"\\u{ord(match[0]):04x}", text) + "\n"


def _result(result: Result) -> dict[str, Any]:
    board = result.board
    return {
        "schema": SCHEMA,
        "version": result.version,
        "package": result.package,
        "board": {
            "copper_layers": board.copper_layers,
            "holes": board.holes,
            "nets": board.nets,
            "size_mm": [micron(length) for length in board.size_mm],
        },
        "assumptions": list(result.assumptions),
        "findings": [_finding(finding) for finding in result.findings],
        "unchecked": [{"rule": one.rule, "reason": one.reason} for one in result.unchecked],
        "waived": [{**_finding(one.finding), "reason": one.reason} for one in result.waived],
        "known": result.known,
        "summary": {severity.label: count for severity, count in result.counts.items()},
        "elapsed_s": round(result.elapsed_s, 3),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "severity": finding.severity.label,
        "message": finding.message,
        **_place(finding.place),
        "layers": list(finding.layers),
        "nets": list(finding.nets),
        "measured": figure_json(finding.measured),
        "limit": figure_json(finding.limit),
        "notes": [_remark(remark) for remark in finding.remarks],
        "suggestion": suggestion_json(finding.suggestion),
        "fingerprint": finding.fingerprint,
    }


def _place(place: Place) -> dict[str, Any]:
    where = place.location
    position = {"x_mm": micron(place.x_mm), "y_mm": micron(place.y_mm)}
    return {"file": where.file, "line": where.line, "column": where.column, **position}


def _remark(remark: Remark) -> dict[str, Any]:
    return {"message": remark.message, **_place(remark.place)}


def figure_json(figure: Figure | None) -> dict[str, Any] | None:
    """A number with what it is, to six digits."""
    if figure is None:
        return None
    return {"quantity": figure.quantity, "value": float(f"{figure.value:.6g}"), "unit": figure.unit}


def suggestion_json(via: Suggestion | None) -> dict[str, Any] | None:
    """A via that fits."""
    if via is None:
        return None
    sizes = {"drill_mm": micron(via.drill_mm), "pad_mm": micron(via.pad_mm)}
    return {"x_mm": micron(via.x_mm), "y_mm": micron(via.y_mm), **sizes, "layers": list(via.layers)}


def micron(length: float) -> float:
    """A length to 1 µm."""
    return round(float(length), 3) + 0.0
