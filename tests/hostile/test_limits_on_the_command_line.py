"""Every limit is kept: lowered in the settings, it refuses what it is about, and says its own name."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest
from msgspec.structs import fields

from fencepost import limits
from fencepost.checking.rule import Rule
from fencepost.cli import judging
from fencepost.limits import DEFAULT_LIMITS
from hostile.gate import (
    DISC,
    FILES,
    Files,
    board,
    check,
    check_files,
    with_drill,
    with_layer,
)
from readers import ipc2581_files as ipc

MACRO = "%AMM*{}%\n%ADD11M*%\nD11*\nX0Y0D03*\n"
SQUARE = "21,1,1,1,0,0,0*\n"
CLEARED = "21,0,1,1,0,0,0*\n"
LONG_NAME = FILES["b.gbrjob"].replace(b'"b-L1.gbr"', b'"%s"' % (b"b" * 61))


def netlist(text: str) -> Files:
    """The board with a netlist beside it."""
    return {**FILES, "b.ipc": text.encode()}


def board_xml(top: str, content: str = "") -> Files:
    """A board as IPC-2581 whose top layer shows one feature."""
    return {"b.xml": ipc.file(ipc.board_of([ipc.features(top)]), content=content)}


TRIANGLE = ipc.polygon((1, 1), (2, 1), (2, 2))
CORNERS = ("X9000000Y9000000", "X9000000Y0", "X0Y9000000", "X5000000Y-1000000", "X0Y0")
STAR = f"G01*\nG36*\nX0Y0D02*\n{''.join(f'{corner}D01*' for corner in CORNERS)}\nG37*\n"

CASES: list[tuple[str, str, Callable[[], Files], str]] = [
    ("file_bytes", "200", lambda: FILES, "fab/b-L1.gbr: error: "),
    ("total_bytes", "2000", lambda: FILES, "fab: error: "),
    ("files", "3", lambda: FILES, "fab: error: "),
    ("path_length", "5", lambda: FILES, "fab: error: "),
    ("layers", "3", lambda: FILES, "fab: error: "),
    ("features", "20", lambda: FILES, "fab/b-L1.gbr:"),
    ("features", "3", lambda: with_layer(DISC + "%SRX2Y2I1J1*%\nX0Y0D03*\n%SR*%\n"), "fab/b-L1.gbr:6:2: "),
    ("features", "1", lambda: board_xml(TRIANGLE), "fab/b.xml:"),
    ("points", "20", lambda: FILES, "fab/b-L1.gbr:"),
    ("points", "100", lambda: with_layer(DISC + "G75*\nG03*\nX0Y0D02*\nX0Y0I5000000D01*\n"), "fab/b-L1.gbr:9:1: "),
    ("points", "19", lambda: with_layer(MACRO.format(SQUARE) + "X0Y0D03*\n" * 3), "fab/b-L1.gbr:11:1: "),
    ("points", "4", lambda: board_xml(TRIANGLE), "fab/b.xml:"),
    ("hits", "5", lambda: FILES, "fab/b-PTH.drl:"),
    ("hits", "15", lambda: with_drill("R9X0.1\n"), "fab/b-PTH.drl:"),
    ("overlaps", "100", lambda: with_layer(DISC + "X0Y0D03*\n" * 20), "fab/b-L1.gbr:"),
    ("overlaps", "20", lambda: with_layer(DISC + "X0Y0D03*\n%LPC*%\nX0Y0D03*\n%LPD*%\n" * 9), "fab/b-L1.gbr:"),
    ("overlaps", "1", lambda: board_xml(TRIANGLE * 3), "fab/b.xml:"),
    ("crossings", "4", lambda: with_layer(STAR), "fab/b-L1.gbr:"),
    ("crossings", "2", lambda: FILES, "fab/b-profile.gbr:"),
    ("shape_points", "20", lambda: with_layer(MACRO.format(SQUARE * 5)), "fab/b-L1.gbr:8:1: "),
    ("shape_points", "30", lambda: with_layer(MACRO.format((SQUARE + CLEARED) * 5)), "fab/b-L1.gbr:"),
    ("nesting", "1", lambda: with_layer("%ABD11*%\n%ABD12*%\n%AB*%\n%AB*%\n"), "fab/b-L1.gbr:5:2: "),
    ("nesting", "4", lambda: board_xml(TRIANGLE), "fab/b.xml:"),
    ("expression_depth", "3", lambda: with_layer(MACRO.format("1,1,1+(1+(1+1)),0,0*\n")), "fab/b-L1.gbr:"),
    ("coordinate_digits", "4", lambda: with_layer(DISC + "X12345Y0D03*\n"), "fab/b-L1.gbr:6:1: "),
    ("coordinate_digits", "4", lambda: with_drill("X12.345Y0.0\n"), "fab/b-PTH.drl:"),
    ("number_characters", "4", lambda: with_layer("%ADD10C,0.125*%\n"), "fab/b-L1.gbr:4:9: "),
    ("number_characters", "6", lambda: with_drill("T9C0.12500\n"), "fab/b-PTH.drl:"),
    ("reach", "10", lambda: with_layer(DISC + "X10000001Y0D03*\n"), "fab/b-L1.gbr:6:1: "),
    ("reach", "30", lambda: with_drill("X30.01Y0.0\n"), "fab/b-PTH.drl:"),
    ("reach", "2", lambda: board_xml(TRIANGLE), "fab/b.xml:"),
    ("name_length", "60", lambda: with_layer(DISC + f"%TO.N,{'N' * 60}*%\nX0Y0D03*\n"), "fab/b-L1.gbr:6:4: "),
    ("name_length", "60", lambda: with_drill(f";#@! TO.N,{'N' * 60}\n"), "fab/b-PTH.drl:"),
    ("name_length", "60", lambda: netlist(f"P  UNITS CUST 0\nP  NNAME1 {'N' * 61}\n999\n"), "fab/b.ipc:2:1: "),
    ("name_length", "60", lambda: board_xml(TRIANGLE, f'<StepRef name="{"N" * 61}"/>'), "fab/b.xml:"),
    ("name_length", "60", lambda: {**FILES, "b.gbrjob": LONG_NAME}, "fab/b.gbrjob: "),
    ("words", "10", lambda: FILES, "fab/b-L1.gbr:"),
    ("words", "20", lambda: {**board().gerber(drill="gerber"), "b-PTH.gbr": FILES["b-PTH.drl"]}, "fab/b-L1.gbr:"),
    ("words", "5", lambda: netlist("P  JOB X\nP  JOB X\nP  JOB X\nP  JOB X\n999\n"), "words (limit words)"),
    ("tag_bytes", "100", lambda: board_xml(TRIANGLE + "<!--" + "x" * 2_200_000 + "-->"), "fab/b.xml:"),
    ("seconds", "0.000000002", lambda: FILES, "fab: error: "),
    ("seconds", "0.000000002", lambda: board_xml(TRIANGLE), "fab: error: "),
]  # fmt: skip


@pytest.mark.parametrize(
    ("limit", "value", "files", "said"), CASES, ids=[f"{case[0]} {i}" for i, case in enumerate(CASES)]
)
def test_a_limit_that_is_passed_is_named_with_the_place(
    limit: str, value: str, files: Callable[[], Files], said: str
) -> None:
    outcome = check_files(files(), f"[limits]\n{limit} = {value}\n")
    outcome.assert_harmless()
    assert (outcome.code, outcome.out) == (2, "")
    assert said in outcome.err
    assert all(line.endswith(f"(limit {limit})") for line in outcome.errors), outcome.err


ARCHIVED: list[tuple[str, dict[str, str], str]] = [
    ("files", {"files": "3"}, "fab.zip: error: "),
    ("file_bytes", {"file_bytes": "200"}, "fab.zip: error: "),
    ("ratio", {"ratio": "2", "ratio_free_bytes": "100"}, "fab.zip/b-"),
    ("ratio", {"ratio": "2", "ratio_free_bytes": "1"}, "fab.zip/b-"),
    ("depth", {"depth": "0"}, "fab.zip: error: "),
]


@pytest.mark.parametrize(("limit", "settings", "said"), ARCHIVED)
def test_limits_of_an_archive(limit: str, settings: dict[str, str], said: str) -> None:
    archive(FILES if limit != "depth" else {f"out/{name}": data for name, data in FILES.items()})
    Path("fencepost.toml").write_text("[limits]\n" + "".join(f"{key} = {value}\n" for key, value in settings.items()))
    outcome = check("fab.zip", "--quiet")
    outcome.assert_refused(said)
    assert all(line.endswith(f"(limit {limit})") for line in outcome.errors), outcome.err


def archive(files: Files) -> None:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as zipped:
        for name, content in files.items():
            zipped.writestr(name, content)
    Path("fab.zip").write_bytes(data.getvalue())


def test_small_files_may_be_packed_as_small_as_they_can_be() -> None:
    archive(FILES)
    Path("fencepost.toml").write_text("[limits]\nratio = 2\nratio_free_bytes = 100_000\n")
    assert check("fab.zip", "--quiet", "--fail-on", "never").code == 0


def test_there_is_a_case_for_every_limit() -> None:
    tried = {case[0] for case in CASES} | {key for case in ARCHIVED for key in case[1]}
    assert tried == {field.name for field in fields(DEFAULT_LIMITS)}


def test_the_clock_is_looked_at_between_findings_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """A rule that yields and yields is left when the time is over. The clock is the test's own."""
    now = 0.0

    def check_forever(self, board, options, settings):
        nonlocal now
        while True:
            now += 100.0
            yield self.unchecked(f"it is {now}")

    rule = type("Endless", (Rule,), {"name": "endless", "summary": "x", "check": check_forever})
    monkeypatch.setattr(judging, "installed_rules", lambda: {"endless": rule})
    monkeypatch.setattr(limits, "time", SimpleNamespace(monotonic=lambda: now))
    outcome = check_files(FILES, "[limits]\nseconds = 150\n", "--no-cache")
    assert now == 200.0
    outcome.assert_refused("fab: error: the check took more than 150 s (limit seconds)")
