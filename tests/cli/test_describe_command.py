"""`fencepost describe`, held against the board as its author wrote it down."""

from __future__ import annotations

import re

import pytest

from fencepost.cli import main
from sketch import Sketch, write_package


@pytest.fixture
def described(tmp_path, monkeypatch, capsys):
    """The page of a four-layer board, as lines of cells by section."""
    board = Sketch(layers=4, size=(30.0, 20.0), gaps=[(0.2, 4.2), (1.06, 4.5), (0.21, 4.2)], name="tide")
    board.pour("GND", 2)
    board.pour("VCC", 3)
    board.trace("SIG", 1, [(5, 5), (10, 5)])
    board.trace("SIG", 4, [(10, 5), (15, 5)])
    board.via("SIG", (10, 5), drill=0.3, pad=0.6)
    board.via("GND", (11, 5), drill=0.25, pad=0.5)
    board.via("GND", (20, 10), drill=0.2, pad=0.4, span=(1, 2))
    for x, name in ((18, "C10"), (20, "R1"), (22, "C2")):
        board.pad(name, "1", "GND", 1, (x, 15), size=0.5)
    monkeypatch.chdir(tmp_path)
    write_package(tmp_path / "fab", board.gerber())
    mask = (tmp_path / "fab/tide-L4.gbr").read_bytes().replace(b"Copper,L4,Bot", b"Soldermask,Top")
    (tmp_path / "fab/tide-mask.gbr").write_bytes(mask)
    (tmp_path / "fab/notes.txt").write_text("ask Ada about the \x1b[1mfinish\n")
    (tmp_path / "fencepost.toml").write_text('[nets]\nground = ["GND"]\npower = ["VCC"]\n')
    with pytest.raises(SystemExit) as ended:
        main(["describe", "fab"])
    said = capsys.readouterr()
    assert (ended.value.code, said.err) == (0, "")
    sections = {}
    for block in said.out.split("\n\n"):
        title, *rows = block.splitlines()
        sections[title] = [re.split(r"\s{2,}", row.strip()) for row in rows]
    return sections


def test_the_board_s_size_and_settings_come_first(described):
    title, rows = next(iter(described.items()))
    assert title == "fab"
    assert dict(rows) == {
        "settings": "fencepost.toml",
        "size": "30.00 x 20.00 mm, lower left corner at (0.00, 0.00)",
        "thickness": "1.61 mm",
    }


def test_every_file_is_listed_with_what_it_was_used_for(described, tmp_path):
    rows = {row[0]: row[2] for row in described["files"]}
    names = {path.name for path in (tmp_path / "fab").iterdir()}
    assert {name.replace("\\", "/").split("/")[-1] for name in rows} == names
    used = {name.replace("\\", "/").split("/")[-1]: use for name, use in rows.items()}
    assert [used[f"tide-L{i}.gbr"] for i in (1, 2, 3, 4)] == [f"copper L{i}" for i in (1, 2, 3, 4)]
    assert used["notes.txt"] == "not used"
    assert used["tide-profile.gbr"] == "profile"
    assert [use for name, use in used.items() if name.endswith(".drl")] == ["plated holes"] * 2
    assert used["tide.gbrjob"] == "stackup and file functions"
    assert used["tide-mask.gbr"] == "not used: Soldermask,Top"


def test_layers_alternate_with_dielectrics_of_given_thickness_and_permittivity(described):
    rows = described["layers"]
    assert [row[:2] for row in rows if row[0] != "dielectric"] == [[f"L{i}", "copper"] for i in (1, 2, 3, 4)]
    gaps = [row[1:] for row in rows if row[0] == "dielectric"]
    assert gaps == [["0.20 mm", "er 4.2"], ["1.06 mm", "er 4.5"], ["0.21 mm", "er 4.2"]]


def test_nets_are_listed_by_what_they_are_for(described):
    assert described["nets"] == [["ground", "1", "GND"], ["power", "1", "VCC"], ["signal", "1", "SIG"]]


def test_holes_are_counted_by_kind_plating_and_span(described):
    assert described["holes"] == [
        ["1", "via", "plated", "L1 to L2", "0.20 mm"],
        ["2", "via", "plated", "L1 to L4", "0.25 to 0.30 mm"],
    ]


def test_components_are_listed_by_letter_in_the_order_of_their_numbers(described):
    assert described["components"] == [["C", "2", "C2, C10"], ["R", "1", "R1"]]


def test_what_is_absent_is_said(described):
    assert described["assumptions"] == [["none"]]
