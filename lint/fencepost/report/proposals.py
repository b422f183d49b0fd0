"""Ground vias that are proposed together: as a table, as CSV, as JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from typing import Any

from fencepost._version import VERSION
from fencepost.frozen import dataclass
from fencepost.report.escape import escape
from fencepost.report.text import counted, millimetres

SCHEMA = "fencepost/suggestions/1"

FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the beginning of a formula."""


@dataclass(frozen=True)
class Proposal:
    """A via, the name of its net, and what it is for: `transition-return: QSPI_IO2`, `rim`."""

    x_mm: float
    y_mm: float
    net: str
    purposes: tuple[str, ...]


@dataclass(frozen=True)
class Skipped:
    """A place where none fits, what it would have been for, and why."""

    x_mm: float
    y_mm: float
    purpose: str
    reason: str


@dataclass(frozen=True)
class Proposals:
    """All for one package. `mended` of `asked` needs are met, as the rules see it; lengths in mm."""

    package: str
    drill_mm: float
    pad_mm: float
    layers: tuple[str, str]
    vias: tuple[Proposal, ...]
    skipped: tuple[Skipped, ...]
    asked: int
    mended: int
    word: str = "finding"


def text(found: Proposals) -> str:
    """A table for people, and a line for each place that was skipped."""
    size = f"{millimetres(found.drill_mm)}/{millimetres(found.pad_mm)} mm"
    rows = [("x mm", "y mm", "net", "for")]
    rows += [
        (f"{via.x_mm:.3f}", f"{via.y_mm:.3f}", escape(via.net), escape(", ".join(via.purposes))) for via in found.vias
    ]
    wide = [max(len(row[i]) for row in rows) for i in range(3)]
    lines = []
    if found.vias:
        span = "-".join(found.layers)
        lines.append(f"{escape(found.package)}: {counted(len(found.vias), 'ground via')} of {size}, {span}")
        lines += [f"{x:>{wide[0]}}  {y:>{wide[1]}}  {net:<{wide[2]}}  {use}".rstrip() for x, y, net, use in rows]
    for skip in found.skipped:
        at = f"({millimetres(skip.x_mm)}, {millimetres(skip.y_mm)})"
        lines.append(escape(f"skipped: {skip.purpose} at {at}: {skip.reason}"))
    lines.append(f"{escape(found.package)}: {_summary(found, size)}")
    return "".join(f"{line}\n" for line in lines)


def _summary(found: Proposals, size: str) -> str:
    if not found.asked:
        return f"no {found.word} asks for a ground via"
    met = "mended" if found.word == "finding" else "met"
    said = (
        f"{counted(len(found.vias), 'ground via')} proposed, {found.mended} of {counted(found.asked, found.word)} {met}"
    )
    if not found.vias:
        said += f"; a {size} ground via fits nowhere where one is asked for"
    return said


def as_csv(found: Proposals) -> str:
    """A row for each via."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["x_mm", "y_mm", "drill_mm", "pad_mm", "from", "to", "net", "for"])
    for via in found.vias:
        place = [f"{via.x_mm:.3f}", f"{via.y_mm:.3f}", millimetres(found.drill_mm), millimetres(found.pad_mm)]
        writer.writerow([*place, *found.layers, _cell(via.net), _cell("; ".join(via.purposes))])
    return stream.getvalue()


def _cell(value: str) -> str:
    shown = escape(value)
    return f"'{shown}" if shown.startswith(FORMULA) else shown


def as_json(found: Proposals) -> str:
    """One object on a line."""
    size = {"drill_mm": round(found.drill_mm, 3), "pad_mm": round(found.pad_mm, 3), "layers": list(found.layers)}
    document: dict[str, Any] = {
        "schema": SCHEMA,
        "version": VERSION,
        "package": found.package,
        "vias": [
            {"x_mm": via.x_mm, "y_mm": via.y_mm, **size, "net": via.net, "for": list(via.purposes)}
            for via in found.vias
        ],
        "skipped": [
            {"x_mm": round(skip.x_mm, 3), "y_mm": round(skip.y_mm, 3), "for": skip.purpose, "reason": skip.reason}
            for skip in found.skipped
        ],
        "summary": {"vias": len(found.vias), "asked": found.asked, "mended": found.mended},
    }
    return json.dumps(document) + "\n"


FORMATS: dict[str, Callable[[Proposals], str]] = {"text": text, "csv": as_csv, "json": as_json}
