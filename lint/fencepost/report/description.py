"""What was read from a package, and how it was understood: a page of short tables.

A part of the page is a function from the board to a `Section`; a further one is a line in `description`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap

from fencepost.board.model import Board, HoleKind, NetKind
from fencepost.report.escape import escape
from fencepost.report.text import millimetres

PAGE_WIDTH = 110
NARROWEST = 30

Row = tuple[str, ...]


@dataclass(frozen=True)
class Section:
    """A title and rows of cells, which are set in columns."""

    title: str
    rows: Sequence[Row]


def description(board: Board, files: Iterable[Row], settings_file: str) -> str:
    """The page. `files` are rows for the package's files: name, what it is, what it was taken for."""
    sections = [
        _package(board, settings_file),
        Section("files", list(files)),
        _layers(board),
        _nets(board),
        _holes(board),
        _components(board),
        Section("assumptions", [(text,) for text in board.assumptions] or [("none",)]),
    ]
    return "\n".join("".join(f"{line}\n" for line in _lines(section)) for section in sections)


def _lines(section: Section) -> Iterator[str]:
    """The last cell of a row is broken into several lines where it is long."""
    yield section.title
    cells = [[escape(cell) for cell in row] for row in section.rows]
    columns = max((len(row) for row in cells), default=0)
    wide = [max((len(row[i]) for row in cells if i < len(row) - 1), default=0) for i in range(columns)]
    for row in cells:
        start = "  " + "".join(f"{cell:<{width}}  " for cell, width in zip(row[:-1], wide, strict=False))
        room = max(PAGE_WIDTH - len(start), NARROWEST)
        broken = wrap(row[-1], room, break_long_words=False, break_on_hyphens=False) or [""]
        yield (start + broken[0]).rstrip()
        yield from (" " * len(start) + line for line in broken[1:])


def _package(board: Board, settings_file: str) -> Section:
    left, bottom, right, top = board.profile.bounds if not board.profile.is_empty else (0.0, 0.0, 0.0, 0.0)
    size = f"{millimetres(right - left)} x {millimetres(top - bottom)} mm"
    corner = f"lower left corner at ({millimetres(left)}, {millimetres(bottom)})"
    rows = [
        ("settings", settings_file or "none"),
        ("size", f"{size}, {corner}"),
        ("thickness", f"{millimetres(board.stackup.thickness)} mm"),
    ]
    return Section(board.package, rows)


def _layers(board: Board) -> Section:
    rows: list[Row] = []
    for i, copper in enumerate(board.copper):
        rows.append((copper.name, "copper", f"{millimetres(board.stackup.copper[i])} mm", copper.artwork.source.name))
        if i < len(board.stackup.gaps):
            gap = board.stackup.gaps[i]
            assumed = ", assumed" if gap.assumed else ""
            rows.append(("", "dielectric", f"{millimetres(gap.thickness)} mm", f"er {gap.permittivity:g}{assumed}"))
    return Section("layers", rows)


def _nets(board: Board) -> Section:
    rows: list[Row] = []
    for kind in NetKind:
        names = [net.name for net in board.nets if net.kind is kind and net.named]
        rows.append((kind.value, str(len(names)), ", ".join(names)))
    unnamed = sum(not net.named for net in board.nets)
    if unnamed:
        rows.append(("no name", str(unnamed), "known from copper alone"))
    return Section("nets", rows)


def _holes(board: Board) -> Section:
    holes = board.holes
    groups: dict[tuple[int, bool, int, int], list[float]] = {}
    for kind, plated, first, last, diameter in zip(
        holes.kind, holes.plated, holes.first, holes.last, holes.diameter, strict=True
    ):
        groups.setdefault((int(kind), bool(plated), int(first), int(last)), []).append(float(diameter))
    rows = [
        (str(len(sizes)), HoleKind(kind).name.lower(), _plating(plated), _span(first, last), _sizes(sizes))
        for (kind, plated, first, last), sizes in sorted(groups.items())
    ]
    return Section("holes", rows or [("none",)])


def _components(board: Board) -> Section:
    """By the letters that their designators begin with, in the order of their numbers."""
    groups: dict[str, list[str]] = {}
    for name in sorted((part.name for part in board.components), key=_by_number):
        groups.setdefault(_letters(name), []).append(name)
    rows = [(letters, str(len(names)), ", ".join(names)) for letters, names in sorted(groups.items())]
    return Section("components", rows or [("none",)])


def _letters(name: str) -> str:
    return name.rstrip("0123456789")


def _by_number(name: str) -> tuple[str, int, str]:
    return _letters(name), len(name), name


def _plating(plated: bool) -> str:
    return "plated" if plated else "not plated"


def _span(first: int, last: int) -> str:
    return f"L{first} to L{last}"


def _sizes(sizes: Sequence[float]) -> str:
    low, high = millimetres(min(sizes)), millimetres(max(sizes))
    return f"{low} mm" if low == high else f"{low} to {high} mm"
