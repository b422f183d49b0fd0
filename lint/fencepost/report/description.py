"""The description of a package for people: a page of short tables.

A part of the page is a function from the survey to a `Section`; a further one is a line in `render`. Names stand
without their sheet paths, and long lists are cut unless everything is asked for.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from textwrap import wrap

from fencepost.frozen import dataclass
from fencepost.names import LONGEST, listed
from fencepost.report.escape import escape
from fencepost.report.survey import ClassNets, HoleGroup, References, Survey
from fencepost.report.text import millimetres
from fencepost.units import with_prefix

PAGE_WIDTH = 110
NARROWEST = 30
SMALLEST_SHARE = 0.02
"""Of a layer's traces over one copper, where not everything is asked for."""

FEWEST_PARTS = 3
"""Components of one letter that get a row of their own."""

Row = tuple[str, ...]

_AFTER_COMMA = re.compile(r"(?<=,) ")


@dataclass(frozen=True)
class Section:
    """A title and rows of cells, which are set in columns."""

    title: str
    rows: Sequence[Row]


def render(survey: Survey, verbose: bool = False) -> str:
    """The page. `verbose`: with all names and shares."""
    return "\n".join("".join(f"{line}\n" for line in _lines(section)) for section in sections(survey, verbose))


def sections(survey: Survey, verbose: bool = False) -> list[Section]:
    """The parts of the page; nothing in them is escaped."""
    longest = None if verbose else LONGEST
    return [
        _package(survey),
        Section("files", [(one.name, one.kind, one.use) for one in survey.files]),
        _layers(survey),
        _nets(survey, longest),
        _classes(survey, longest),
        _pairs(survey, longest),
        _references(survey, 0.0 if verbose else SMALLEST_SHARE),
        _transitions(survey),
        _holes(survey),
        _components(survey, longest),
        _assumptions(survey),
    ]


def _lines(section: Section) -> Iterator[str]:
    """The last cell of a row is broken into several lines where it is long."""
    yield escape(section.title)
    cells = [[escape(cell) for cell in row] for row in section.rows]
    columns = max((len(row) for row in cells), default=0)
    wide = [max((len(row[i]) for row in cells if i < len(row) - 1), default=0) for i in range(columns)]
    for row in cells:
        start = "  " + "".join(f"{cell:<{width}}  " for cell, width in zip(row[:-1], wide, strict=False))
        room = max(PAGE_WIDTH - len(start), NARROWEST)
        first, *others = _broken(row[-1], room)
        yield (start + first).rstrip()
        yield from (" " * len(start) + line for line in others)


def _broken(text: str, room: int) -> list[str]:
    """In lines, after a comma where there is one."""
    lines = [""]
    for item in _AFTER_COMMA.split(text):
        if lines[-1] and len(lines[-1]) + len(item) > room:
            lines.append("")
        *full, last = wrap(lines[-1] + item, room, break_long_words=False, break_on_hyphens=False) or [""]
        lines[-1:] = [*full, f"{last} "]
    return [line.rstrip() for line in lines]


def _package(survey: Survey) -> Section:
    size = " x ".join(millimetres(length) for length in survey.size_mm)
    corner = ", ".join(millimetres(length) for length in survey.corner_mm)
    rows = [
        ("settings", survey.settings or "none"),
        ("size", f"{size} mm, lower left corner at ({corner})"),
        ("thickness", f"{millimetres(survey.thickness_mm)} mm"),
    ]
    return Section(survey.package, rows + [("warning", warning) for warning in survey.warnings])


def _layers(survey: Survey) -> Section:
    rows: list[Row] = []
    for own in survey.layers:
        rows.append((f"L{own.layer}", "copper", f"{millimetres(own.thickness_mm)} mm", own.file))
        if own.below is not None:
            said = f"er {own.below.permittivity:g}{', assumed' if own.below.assumed else ''}"
            rows.append(("", "dielectric", f"{millimetres(own.below.thickness_mm)} mm", said))
    return Section("layers", rows)


def _nets(survey: Survey, longest: int | None) -> Section:
    rows: list[Row] = [(kind, str(len(names)), listed(names, longest)) for kind, names in survey.nets.items()]
    if survey.unnamed:
        rows.append(("no name", str(survey.unnamed), "known from copper alone"))
    return Section("nets", rows)


def _classes(survey: Survey, longest: int | None) -> Section:
    title = "classes, recognised by name" if survey.recognised else "classes"
    rows = [(own.name, str(len(own.nets)), _asks(own), listed(own.nets, longest)) for own in survey.classes]
    return Section(title, rows or [("none",)])


def _asks(own: ClassNets) -> str:
    fence = ", fences" if own.fence else ""
    impedance = f", {own.impedance_ohm:g} ohm" if own.impedance_ohm else ""
    return f"{with_prefix(own.frequency_hz, 'Hz')}{fence}{impedance}"


def _pairs(survey: Survey, longest: int | None) -> Section:
    kinds = {"given": [pair.name for pair in survey.pairs if pair.given]}
    kinds["by name"] = [pair.name for pair in survey.pairs if not pair.given]
    rows = [(kind, str(len(names)), listed(names, longest)) for kind, names in kinds.items() if names]
    return Section("pairs", rows or [("none",)])


def _references(survey: Survey, smallest: float) -> Section:
    rows = [(f"L{own.layer}", f"{own.length_mm:.0f} mm", _over(own, smallest)) for own in survey.references]
    return Section("signal traces, and the copper they run over", rows or [("none",)])


def _over(own: References, smallest: float) -> str:
    shown = [f"{one.net} on L{one.layer} {_percent(one.share)}" for one in own.over if one.share >= smallest]
    less = len(own.over) - len(shown)
    rest = [f"{less} more below {_percent(smallest)} each"] if less else []
    return ", ".join([*shown, *rest, f"none {_percent(own.none)}"])


def _transitions(survey: Survey) -> Section:
    limits = survey.limits
    ties = f"ties within {limits['distance_mm']:.2f} mm or 1/{limits['fraction']:g} of a wavelength"
    rows: list[Row] = [(kind, str(count)) for kind, count in survey.transitions.items()]
    if not survey.components:
        rows.append(("the package names no components, so no capacitor is known",))
    return Section(f"transitions; {ties}, capacitors within {limits['capacitor_mm']:.2f} mm", rows)


def _holes(survey: Survey) -> Section:
    rows = [
        (str(own.count), own.kind, _plating(own), f"L{own.first} to L{own.last}", _sizes(own)) for own in survey.holes
    ]
    return Section("holes", rows or [("none",)])


def _plating(own: HoleGroup) -> str:
    return "plated" if own.plated else "not plated"


def _sizes(own: HoleGroup) -> str:
    low, high = millimetres(own.smallest_mm), millimetres(own.largest_mm)
    return f"{low} mm" if low == high else f"{low} to {high} mm"


def _components(survey: Survey, longest: int | None) -> Section:
    """By the letters that their designators begin with; letters with few parts share the last row."""
    groups: dict[str, list[str]] = {}
    for name in sorted(survey.components):
        groups.setdefault(name.rstrip("0123456789"), []).append(name)
    rows = [
        (letters, str(len(names)), listed(names, longest))
        for letters, names in groups.items()
        if len(names) >= FEWEST_PARTS
    ]
    others = [name for names in groups.values() if len(names) < FEWEST_PARTS for name in names]
    if others:
        rows.append(("others" if rows else "all", str(len(others)), listed(others, longest)))
    return Section("components", rows or [("none",)])


def _assumptions(survey: Survey) -> Section:
    """But for the classes, which have a section of their own."""
    return Section(
        "assumptions", [(text,) for text in survey.assumptions if text not in survey.recognised] or [("none",)]
    )


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.01 or not share else f"{100 * share:.1f} %"
