"""`fencepost suggest`: tables, overlays, exit codes, and what it refuses."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from fencepost.board.load import load_board
from fencepost.cli import main
from fencepost.intake import open_package
from fencepost.settings.model import Settings
from sketch import Sketch, write_package

CLASS = '[[class]]\nname = "fast"\nnets = ["*SIG"]\nrise_time = "1 ns"\n[board]\nfrequency = "9 GHz"\n'


def sketch(blocked: bool = False) -> Sketch:
    """A signal that changes layer, without a ground via near; where it is blocked, a pad covers all there is."""
    board = Sketch(layers=4, size=(20.0, 16.0), name="board")
    board.pour("=GND", 2)
    board.pour("=GND", 3)
    board.via("=SIG", (10, 8), drill=0.3, pad=0.6)
    board.trace("=SIG", 1, [(4, 8), (10, 8)])
    board.trace("=SIG", 4, [(16, 8), (10, 8)])
    board.via("=GND", (18, 14), drill=0.25, pad=0.5)
    if blocked:
        board.pad("U1", "1", "OTHER", 1, (10, 5), (8, 5.2))
        board.pad("U2", "1", "OTHER2", 4, (10, 11), (8, 5.2))
    return board


@pytest.fixture
def run(tmp_path: Path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    write_package(tmp_path / "fab", sketch().gerber())
    (tmp_path / "fencepost.toml").write_text('[nets]\nground = ["=GND"]\n' + CLASS, encoding="utf-8")

    def run(*arguments: str) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as ended:
            main(["suggest", "fab", *arguments])
        said = capsys.readouterr()
        return ended.value.code or 0, said.out, said.err

    return run


ONLY = ("--rules", "transition-return")


def test_the_table_names_places_and_what_they_are_for(run) -> None:
    code, out, err = run(*ONLY)
    lines = out.splitlines()
    assert (code, err) == (0, "")
    assert lines[0] == "fab: 1 ground via of 0.25/0.50 mm, L1-L4"
    assert lines[2].endswith("  =GND  transition-return: =SIG")
    assert lines[-1] == "fab: 1 ground via proposed, 1 of 1 finding mended"


def test_json_and_csv_say_the_same(run) -> None:
    via = json.loads(run(*ONLY, "--format", "json")[1])["vias"][0]
    (row,) = csv.DictReader(io.StringIO(run(*ONLY, "--format", "csv")[1]))
    assert (float(row["x_mm"]), float(row["y_mm"])) == (via["x_mm"], via["y_mm"])
    assert (float(row["drill_mm"]), float(row["pad_mm"])) == (via["drill_mm"], via["pad_mm"]) == (0.25, 0.5)
    assert [row["from"], row["to"]] == via["layers"] == ["L1", "L4"]
    assert via["net"] == "=GND"
    assert row["net"] == "'=GND", "a spreadsheet would take it for a formula"


def test_the_overlay_is_a_package_that_the_board_can_be_read_with(run, tmp_path) -> None:
    assert run(*ONLY, "--overlay", "more/vias")[0] == 0
    names = sorted(path.name for path in (tmp_path / "more/vias").iterdir())
    assert names == [*(f"suggested-L{layer}.gbr" for layer in range(1, 5)), "suggested-PTH.drl"]
    base, more = open_package(Path("fab")), open_package(Path("more/vias"))
    before, after = load_board(base, Settings()), load_board(base, Settings(), more)
    assert len(after.holes) == len(before.holes) + 1
    assert after.nets[after.holes.net[-1]].name == "=GND"


def test_where_there_is_no_room_it_says_what_is_in_the_way_and_exits_with_1(run, tmp_path) -> None:
    write_package(tmp_path / "fab", sketch(blocked=True).gerber())
    code, out, _ = run(*ONLY, "--overlay", "none")
    assert code == 1
    assert "skipped: transition-return: =SIG at (10.00, 8.00): " in out
    assert "in the way" in out
    assert out.endswith("0 ground vias proposed, 0 of 1 finding mended; a 0.25/0.50 mm ground via fits nowhere "
                        "where one is asked for\n")  # fmt: skip
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize(
    "options", [("--rim",), ("--pour",), ("--fence", "=SIG"), ("--rim", "--pour", "--pitch", "4 mm")]
)
def test_rows_and_grids_are_planned(run, options) -> None:
    code, out, err = run(*options, "--format", "json")
    found = json.loads(out)
    assert code in (0, 1)
    assert err == ""
    assert found["summary"]["vias"] > 3
    assert found["summary"]["asked"] == found["summary"]["mended"] + len(found["skipped"])


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--fence", "=SIGG"), 'no net is called "=SIGG"; did you mean "=SIG"?'),
        (("--fence", "=GND"), '"=GND" is a ground net; a fence stands along a signal'),
        (("--pitch", "3 mm"), "--pitch goes with --fence, --rim or --pour"),
        (("--rim", "--pitch", "3"), "is not a length with a unit"),
        (("--rules", "transition-retrun"), 'did you mean "transition-return"'),
    ],
)
def test_bad_use_is_one_line_and_exit_code_2(run, options, said) -> None:
    code, out, err = run(*options)
    assert (code, out) == (2, "")
    assert said in err.splitlines()[0]


def test_limits_that_contradict_one_another_are_an_error_with_the_file(run, tmp_path) -> None:
    with (tmp_path / "fencepost.toml").open("a", encoding="utf-8") as file:
        file.write('[placement]\ndrill = "0.5 mm"\npad = "0.4 mm"\n')
    code, _, err = run()
    assert code == 2
    assert err == "fencepost.toml: error: placement.pad: a pad of 0.4 mm leaves no ring around a hole of 0.5 mm\n"


def test_a_via_larger_than_any_gap_is_said_to_fit_nowhere(run, tmp_path) -> None:
    with (tmp_path / "fencepost.toml").open("a", encoding="utf-8") as file:
        file.write('[placement]\ndrill = "0.5 mm"\npad = "6 mm"\n')
    code, out, _ = run(*ONLY)
    assert code == 1
    assert "the ground copper has no room for a pad of 6.00 mm there" in out
    assert "a 0.50/6.00 mm ground via fits nowhere where one is asked for" in out
