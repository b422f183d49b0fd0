"""Does a fault of a board stay reported when its files are damaged? Unless the damage took it off the board.

A finding that is gone must be gone for a reason that can be seen in the board as it was read: the copper, the labels,
the holes, the profile or the stackup about its place are others than before.
"""

from __future__ import annotations

import contextlib
import io
import json
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import shapely

import tide_gauge
from fencepost.board.load import load_board
from fencepost.board.model import Board
from fencepost.cli import main
from fencepost.intake import open_package
from fencepost.settings.load import load_settings
from fuzz import faulty
from fuzz.mutation import Files, mutated_near, mutated_package

CLEAN, FOUND, NOT_CHECKED = 0, 1, 2
AGAIN_MM = 1.5
"""A finding of the same rule so near is taken for the same fault."""

WIDE = frozenset({"pour-tie", "pour-resonance", "rim-pitch"})
"""These stand where a whole pour is worst, and a change anywhere on it may move or mend them."""

EVERYWHERE_MM = 1e4

ABOUT_MM = 4.0
"""What is further from a finding than this, and than twice what it measures, has nothing to do with it."""

LEAST_MM2 = 1e-5
FORMATS = ("text", "sarif", "junit", "github", "gitlab", "html", "svg")

Finding = dict[str, Any]
Shapes = Mapping[object, shapely.Geometry]


@dataclass(frozen=True)
class Verdict:
    """What the whole check says: the exit code, the report where there is one, and what stands on stderr."""

    code: int
    report: dict[str, Any] | None
    said: str

    @property
    def findings(self) -> list[Finding]:
        """Of the report."""
        return self.report["findings"] if self.report else []

    @property
    def unchecked(self) -> set[str]:
        """The rules that say that they could not look at everything."""
        return {entry["rule"] for entry in self.report["unchecked"]} if self.report else set()


@dataclass(frozen=True)
class Seen:
    """A board as it was read, and what was said of it."""

    verdict: Verdict
    board: Board | None


def look_at(files: Files, other_format: str = "text", settings: str = faulty.SETTINGS) -> Seen:
    """Check a package, as from the command line, and read it. Fails where either ends in a fault of the program."""
    with tempfile.TemporaryDirectory() as folder:
        package = Path(folder) / "fab"
        package.mkdir()
        for name, data in files.items():
            file = package / name
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(data)
        written = Path(folder) / "fencepost.toml"
        written.write_text(settings, encoding="utf-8")
        verdict = _checked(package, written, Path(folder) / "other", other_format)
        if verdict.report is None:
            return Seen(verdict, None)
        return Seen(verdict, load_board(open_package(package), load_settings(written)))


def _checked(package: Path, settings: Path, other: Path, other_format: str) -> Verdict:
    out, err = io.StringIO(), io.StringIO()
    arguments = ["check", str(package), "--config", str(settings), "--no-cache", "--quiet", "--format", "json"]
    arguments += ["--output", f"{other_format}={other}"]
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            main(arguments)
        except SystemExit as ended:
            code = ended.code
    said = err.getvalue()
    assert code in (CLEAN, FOUND, NOT_CHECKED), f"exit {code}: {said}"
    if code == NOT_CHECKED:
        assert "error" in said and not out.getvalue() and not other.exists(), said
        return Verdict(code, None, said)
    report = json.loads(out.getvalue(), parse_constant=_no_number)
    assert other.exists() and (code == FOUND) == bool(report["findings"])
    return Verdict(code, report, said)


def _no_number(name: str) -> float:
    raise AssertionError(f"{name} in the report")


@cache
def original(number: int) -> Seen:
    """A faulty board as it is."""
    seen = look_at(faulty.packages()[number])
    assert seen.board is not None and seen.verdict.findings
    return seen


@cache
def demo() -> tuple[Files, str]:
    """The demo board with all its faults, and its settings."""
    place = Path(tide_gauge.__file__).parent / "tide-gauge"
    files = {file.name: file.read_bytes() for file in sorted((place / "fab").iterdir())}
    return files, (place / tide_gauge.SETTINGS).read_text(encoding="utf-8")


@cache
def original_demo() -> Seen:
    """The demo board as it is."""
    files, settings = demo()
    return look_at(files, settings=settings)


def judge(seed: int) -> str:
    """One damaged board: what came of it, in one word. Fails where a fault was lost for no reason that can be seen."""
    number = seed % len(faulty.packages())
    return _judge(seed, faulty.packages()[number], original(number), faulty.SETTINGS)


def judge_demo(seed: int) -> str:
    """Likewise the demo board, which is larger."""
    files, settings = demo()
    return _judge(seed, files, original_demo(), settings)


def _judge(seed: int, whole: Files, before: Seen, settings: str) -> str:
    if seed % 3:
        damaged = mutated_near(seed, whole, places_of(before.verdict))
    else:
        damaged = mutated_package(seed, [whole], gently=True)
    now = look_at(damaged, FORMATS[seed % len(FORMATS)], settings)
    if now.board is None or before.board is None:
        return "refused"
    gone = [finding for finding in before.verdict.findings if not reported(finding, now.verdict)]
    unexplained = [finding for finding in gone if not changed(before.board, now.board, finding)]
    assert not unexplained, [(one["rule"], one["message"], one["x_mm"], one["y_mm"]) for one in unexplained]
    if now.verdict.code == CLEAN:
        return "clean, the faults taken away"
    return "fewer faults" if gone else "the same faults"


def places_of(verdict: Verdict) -> list[tuple[str, int]]:
    """File and line of all findings, and of what goes with them."""
    said = [(entry["file"], entry["line"]) for one in verdict.findings for entry in (one, *one["notes"])]
    return [(Path(file).name, line) for file, line in said if line]


def reported(finding: Finding, verdict: Verdict) -> bool:
    """Whether a fault is reported still, or its rule says that it could not look; for a pass that is not enough."""
    if finding["rule"] in verdict.unchecked and verdict.code != CLEAN:
        return True
    return any(_is_again(finding, other) for other in verdict.findings)


def _is_again(finding: Finding, other: Finding) -> bool:
    if finding["rule"] != other["rule"]:
        return False
    if finding["rule"] in WIDE:
        return bool(finding["nets"] == other["nets"] and finding["layers"] == other["layers"])
    return bool(np.hypot(finding["x_mm"] - other["x_mm"], finding["y_mm"] - other["y_mm"]) <= AGAIN_MM)


def changed(before: Board, now: Board, finding: Finding) -> bool:
    """Whether what a finding was judged by is another on the board as it is read now."""
    measured = finding["measured"] or {}
    far = 2 * measured["value"] if measured.get("unit") == "mm" else 0.0
    reach = EVERYWHERE_MM if finding["rule"] in WIDE else max(ABOUT_MM, far)
    x, y = finding["x_mm"], finding["y_mm"]
    window = shapely.box(x - reach, y - reach, x + reach, y + reach)
    return surroundings_differ(before, now, window)


def surroundings_differ(before: Board, now: Board, window: shapely.Geometry) -> bool:
    """Whether two boards differ inside a window, or in what holds for all of a board."""
    if before.layers != now.layers or before.stackup != now.stackup or before.pairs != now.pairs:
        return True
    if _holes(before, window) != _holes(now, window) or _pins(before, window) != _pins(now, window):
        return True
    if _differ(before.profile.intersection(window), now.profile.intersection(window)):
        return True
    return any(_copper_differs(_copper(before, i, window), _copper(now, i, window)) for i in range(before.layers))


def _holes(board: Board, window: shapely.Geometry) -> list[object]:
    holes = board.holes
    near = np.flatnonzero(shapely.intersects(window, holes.geometry))
    return sorted(
        (*np.round([*holes.start[i], *holes.end[i], holes.diameter[i]], 4).tolist(), bool(holes.plated[i]),
         int(holes.first[i]), int(holes.last[i]), int(holes.kind[i]), _net(board, int(holes.net[i])))
        for i in near
    )  # fmt: skip


def _pins(board: Board, window: shapely.Geometry) -> list[object]:
    """Of parts, and of a netlist."""
    found: list[object] = [
        (part.name, pin.number, pin.layer, _net(board, pin.net), sorted(part.attributes.items()))
        for part in board.components
        for pin in part.pins
        if window.intersects(shapely.Point(pin.x, pin.y))
    ]
    if board.points is not None:
        netlist = board.points.netlist
        near = np.flatnonzero(shapely.intersects(window, shapely.points(netlist.xy)))
        names = [netlist.nets[netlist.net[i]] if netlist.net[i] >= 0 else "" for i in near]
        found += [(name, *np.round(netlist.xy[i], 4).tolist()) for name, i in zip(names, near, strict=True)]
    return sorted(found, key=repr)


def _copper(board: Board, index: int, window: shapely.Geometry) -> Shapes:
    """The copper of a layer in the window, by its net and the one that it is labelled with."""
    copper = board.copper[index]
    near = copper.tree.query(window)
    outlines = copper.outlines(near)
    groups: dict[object, list[shapely.Geometry]] = {}
    for part, outline in zip(near, outlines, strict=True):
        key = (_net(board, int(board.pieces.net[copper.piece[part]])), _net(board, int(copper.label[part])))
        groups.setdefault(key, []).append(outline)
    clipped = {key: shapely.union_all(shapes).intersection(window) for key, shapes in groups.items()}
    return {key: shape for key, shape in clipped.items() if shape.area > LEAST_MM2}


def _copper_differs(one: Shapes, other: Shapes) -> bool:
    return one.keys() != other.keys() or any(_differ(one[key], other[key]) for key in one)


def _differ(one: shapely.Geometry, other: shapely.Geometry) -> bool:
    return bool(one.symmetric_difference(other).area > LEAST_MM2)


def _net(board: Board, net: int) -> object:
    """Name and kind; a name that was made up counts as none."""
    if net < 0:
        return ("", "")
    said = board.nets[net]
    return (said.name if said.named else "", said.kind.value)
