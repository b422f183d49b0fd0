"""The description of a package for programs: one JSON object, whose keys are the fields of `Survey`."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from fencepost.report.json import one_line
from fencepost.report.survey import Survey


def render(survey: Survey) -> str:
    """One line. Numbers are rounded to six digits; all names are given in full."""
    return one_line(_rounded(asdict(survey)))


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(item) for item in value]
    return float(f"{value:.6g}") if isinstance(value, float) else value
