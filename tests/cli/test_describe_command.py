"""`fencepost describe`, held against the board as its author wrote it down."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from fencepost.cli import main
from sketch import Sketch, write_package

SETTINGS = """
[nets]
ground = ["GND"]
power = ["VCC", "VIO"]
[[class]]
name = "fast"
nets = ["SIG", "/sheet/D*"]
frequency = "1 GHz"
impedance = "50 ohm"
"""


def board() -> Sketch:
    """Four layers, ground on L2, VCC on L3 but for its right end, and one transition of each kind that it allows."""
    board = Sketch(layers=4, size=(40.0, 30.0), gaps=[(0.2, 4.2), (1.06, 4.5), (0.21, 4.2)], name="tide")
    board.pour("GND", 2)
    board.pour("VCC", 3, (0, 0, 30, 30))
    board.trace("SIG", 1, [(5, 5), (10, 5)])
    board.trace("SIG", 4, [(10, 5), (15, 5)])
    board.via("SIG", (10, 5), drill=0.3, pad=0.6)
    board.trace("SAME", 1, [(5, 25), (10, 25)])
    board.trace("SAME", 3, [(10, 25), (15, 25)])
    board.via("SAME", (10, 25), drill=0.3, pad=0.6)
    for i in range(4):
        board.trace(f"/sheet/D{i}", 1, [(5, 8 + i), (15, 8 + i)])
    board.trace("/sheet/USB_DP", 4, [(5, 18), (15, 18)])
    board.trace("/sheet/USB_DM", 4, [(5, 19), (15, 19)])
    board.trace("BARE", 4, [(31, 2), (39, 2)])
    board.via("GND", (14, 7), drill=0.25, pad=0.5)
    board.via("GND", (20, 10), drill=0.2, pad=0.4, span=(1, 2))
    board.trace("VIO", 1, [(25, 20), (28, 20)])
    for x, name in ((18, "C10"), (20, "R1"), (22, "C2"), (24, "C3")):
        board.pad(name, "1", "GND", 1, (x, 15), size=0.5)
    return board


@pytest.fixture
def describe(tmp_path, monkeypatch, capsys):
    """The command in a folder with the board in `fab`, its settings beside it, and files that are not used."""
    monkeypatch.chdir(tmp_path)
    write_package(tmp_path / "fab", board().gerber())
    mask = (tmp_path / "fab/tide-L4.gbr").read_bytes().replace(b"Copper,L4,Bot", b"Soldermask,Top")
    (tmp_path / "fab/tide-mask.gbr").write_bytes(mask)
    (tmp_path / "fab/notes.txt").write_text("ask Ada about the \x1b[1mfinish\n")
    (tmp_path / "fencepost.toml").write_text(SETTINGS)

    def describe(*options: str) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as ended:
            main(["describe", "fab", *options])
        said = capsys.readouterr()
        return ended.value.code, said.out, said.err

    return describe


def sections_of(page: str) -> dict[str, list[list[str]]]:
    """Rows of cells by title."""
    blocks = [block.splitlines() for block in page.split("\n\n")]
    return {title: [re.split(r"\s{2,}", row.strip()) for row in rows] for title, *rows in blocks}


@pytest.fixture
def page(describe):
    code, out, err = describe()
    assert (code, err) == (0, "")
    return sections_of(out)


def test_the_board_s_size_and_settings_come_first(page):
    title, rows = next(iter(page.items()))
    assert title == "fab"
    assert dict(rows) == {
        "settings": "fencepost.toml",
        "size": "40.00 x 30.00 mm, lower left corner at (0.00, 0.00)",
        "thickness": "1.61 mm",
    }


def test_every_file_is_listed_with_what_it_was_used_for(page, tmp_path):
    used = {Path(row[0]).name: row[2] for row in page["files"]}
    assert set(used) == {path.name for path in (tmp_path / "fab").iterdir()}
    assert [used[f"tide-L{i}.gbr"] for i in (1, 2, 3, 4)] == [f"copper L{i}" for i in (1, 2, 3, 4)]
    assert used["notes.txt"] == "not used"
    assert used["tide-profile.gbr"] == "profile"
    assert [use for name, use in used.items() if name.endswith(".drl")] == ["plated holes"] * 2
    assert used["tide.gbrjob"] == "stackup and file functions"
    assert used["tide-mask.gbr"] == "not used: Soldermask,Top"


def test_layers_alternate_with_dielectrics_of_given_thickness_and_permittivity(page):
    rows = page["layers"]
    assert [row[:2] for row in rows if row[0] != "dielectric"] == [[f"L{i}", "copper"] for i in (1, 2, 3, 4)]
    gaps = [row[1:] for row in rows if row[0] == "dielectric"]
    assert gaps == [["0.20 mm", "er 4.2"], ["1.06 mm", "er 4.5"], ["0.21 mm", "er 4.2"]]


def test_nets_are_listed_by_what_they_are_for_without_their_sheets(page):
    assert page["nets"] == [
        ["ground", "1", "GND"],
        ["power", "2", "VCC, VIO"],
        ["signal", "9", "BARE, D0..3, SAME, SIG, USB_DM, USB_DP"],
    ]


def test_classes_and_pairs_are_listed_with_their_nets(page):
    assert page["classes"] == [["fast", "5", "1 GHz, 50 ohm", "D0..3, SIG"]]
    assert page["pairs"] == [["by name", "1", "USB_D"]]


def test_pairs_of_the_settings_are_told_from_those_by_name(describe, tmp_path):
    (tmp_path / "fencepost.toml").write_text(SETTINGS + '[[pair]]\nnets = ["SIG", "SAME"]\n')
    assert [row[:2] for row in sections_of(describe()[1])["pairs"]] == [["given", "1"], ["by name", "1"]]


def test_the_copper_that_traces_run_over_is_given_by_layer(page):
    """L1: 5 + 5 + 4 x 10 mm over ground, L3: 5 mm over ground, L4: 5 + 2 x 10 mm over VCC and 8 mm over ground.

    Of these the last half millimetre before each via is within its antipad: a pad of 0.6 mm and 0.2 mm around it.
    """
    assert page["signal traces, and the copper they run over"] == [
        ["L1", "50 mm", "GND on L2 98 %, none 2 %"],
        ["L3", "5 mm", "GND on L2 90 %, none 10 %"],
        ["L4", "33 mm", "VCC on L3 74 %, GND on L2 24 %, none 2 %"],
    ]


TRANSITIONS = "transitions; ties within 1.50 mm or 1/20 of a wavelength, capacitors within 3.00 mm"


def test_transitions_are_counted_by_what_the_return_current_finds(page):
    assert page[TRANSITIONS] == [
        ["same reference", "1"],
        ["tied", "0"],
        ["capacitor", "0"],
        ["untied", "1"],
        ["no reference", "0"],
    ]


def test_the_settings_of_the_rule_say_how_far_a_tie_is_looked_for(describe, tmp_path):
    more = '[rules.transition-return]\ndistance = "2 mm"\nfraction = 10\ncapacitor = "4 mm"\n'
    (tmp_path / "fencepost.toml").write_text(SETTINGS + more)
    assert "transitions; ties within 2.00 mm or 1/10 of a wavelength, capacitors within 4.00 mm" in describe()[1]


def test_holes_are_counted_by_kind_plating_and_span(page):
    assert page["holes"] == [
        ["1", "via", "plated", "L1 to L2", "0.20 mm"],
        ["3", "via", "plated", "L1 to L4", "0.25 to 0.30 mm"],
    ]


def test_components_are_listed_by_letter_and_single_ones_together(page):
    assert page["components"] == [["C", "3", "C2, C3, C10"], ["others", "1", "R1"]]


def test_what_is_absent_is_said(page):
    assert page["assumptions"] == [["none"]]


def test_what_was_recognised_is_said_once(describe, tmp_path):
    (tmp_path / "fencepost.toml").unlink()
    page = sections_of(describe()[1])
    assert page["classes, recognised by name"] == [["usb", "2", "700 MHz", "USB_DM, USB_DP"]]
    assert page["assumptions"] == [["ground nets by name: GND"], ["power nets by name: VCC, VIO"]]


def test_a_package_without_components_has_no_capacitors_and_that_is_said(tmp_path, capsys):
    sketch = board()
    sketch.remove(*[item for item in sketch.items if getattr(item, "component", "")])
    write_package(tmp_path / "fab", sketch.gerber())
    with pytest.raises(SystemExit):
        main(["describe", str(tmp_path / "fab")])
    page = sections_of(capsys.readouterr().out)
    assert page["components"] == [["none"]]
    assert ["the package names no components, so no capacitor is known"] in page[TRANSITIONS]


def test_a_long_list_is_cut_unless_everything_is_asked_for(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    sketch = Sketch(layers=2, size=(60.0, 90.0))
    sketch.pour("GND", 2)
    sketch.via("GND", (58, 88))
    names = [f"N{i}K{i * i}" for i in range(80)]
    for i, name in enumerate(names):
        sketch.trace(name, 1, [(2, 1 + i), (8, 1 + i)])
    write_package(tmp_path / "fab", sketch.gerber())
    shown = {}
    for options in ((), ("--verbose",)):
        with pytest.raises(SystemExit):
            main(["describe", "fab", *options])
        shown[options] = set(re.findall(r"\bN\d+K\d+\b", page := capsys.readouterr().out))
        assert bool(re.search(r"and \d+\s+more", page)) is (not options)
    assert shown["--verbose",] == set(names)
    assert 0 < len(shown[()]) < len(names)


def test_json_has_all_that_the_page_has_with_names_in_full(describe):
    code, out, err = describe("--format", "json")
    assert (code, err, len(out.splitlines())) == (0, "", 1)
    found = json.loads(out)
    assert found["schema"] == "fencepost/description/1"
    assert (found["package"], found["settings"]) == ("fab", "fencepost.toml")
    assert (found["size_mm"], found["corner_mm"], found["thickness_mm"]) == ([40, 30], [0, 0], 1.61)
    assert found["layers"][1]["below"] == {"thickness_mm": 1.06, "permittivity": 4.5, "assumed": False}
    assert found["layers"][3]["below"] is None
    assert found["nets"]["signal"] == sorted(
        ["BARE", "SAME", "SIG", *(f"/sheet/D{i}" for i in range(4)), "/sheet/USB_DM", "/sheet/USB_DP"]
    )
    assert found["pairs"] == [
        {"name": "/sheet/USB_D", "positive": "/sheet/USB_DP", "negative": "/sheet/USB_DM", "given": False},
    ]
    (fast,) = found["classes"]
    assert (fast["frequency_hz"], fast["impedance_ohm"], fast["fence"], len(fast["nets"])) == (1e9, 50, False, 5)
    assert found["references"][2]["layer"] == 4
    assert found["references"][2]["over"][0] == {"net": "VCC", "layer": 3, "share": pytest.approx(24.5 / 33, 1e-5)}
    assert found["transitions"] == {
        **{"same reference": 1, "tied": 0, "capacitor": 0, "untied": 1, "no reference": 0},
    }
    assert found["limits"] == {"distance_mm": 1.5, "fraction": 20, "capacitor_mm": 3}
    assert sorted(found["components"]) == ["C10", "C2", "C3", "R1"]
    assert (found["recognised"], found["assumptions"], found["warnings"]) == ([], [], [])


@pytest.mark.parametrize("kind", ["text", "json"])
def test_settings_that_name_nothing_are_a_warning(describe, tmp_path, kind):
    (tmp_path / "fencepost.toml").write_text(SETTINGS.replace('"VIO"', '"VOI"'))
    code, out, _ = describe("--format", kind)
    assert code == 0
    assert 'fencepost.toml: nets.power[1]: no net fits "VOI"' in out.replace("\\", "")


def test_a_net_in_two_classes_is_an_error(describe, tmp_path):
    other = '[[class]]\nname = "b"\nnets = ["BARE", "SIG"]\nrise_time = "1 ns"\n'
    (tmp_path / "fencepost.toml").write_text(SETTINGS + other)
    code, out, err = describe()
    assert (code, out) == (2, "")
    assert err.startswith('fencepost.toml: error: class[1].nets: net "SIG" is in class "fast"')


def test_names_from_a_file_cannot_speak_to_the_terminal(tmp_path, capsys):
    sketch = Sketch(layers=2)
    sketch.pour("GND", 2)
    sketch.trace("A\x1b[31m", 1, [(2, 2), (8, 2)])
    sketch.via("GND", (18, 18))
    write_package(tmp_path / "fab", sketch.gerber())
    for kind in ("text", "json"):
        with pytest.raises(SystemExit):
            main(["describe", str(tmp_path / "fab"), "--format", kind])
        out = capsys.readouterr().out
        assert [char for char in out if not char.isprintable() and char != "\n"] == []
        assert re.search(r"A\\(x1b|u001b)\[31m", out)
