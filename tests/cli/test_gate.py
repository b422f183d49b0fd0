"""The check as a gate: exit codes, waivers, baselines and settings, on boards with known faults."""

from __future__ import annotations

import datetime
import json
import random
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from fencepost.cli import main
from sketch import Sketch, write_package
from sketch.items import Pour
from tide_gauge import SETTINGS, tide_gauge

DEMO = Path(__file__).parents[2] / "fixtures/tide-gauge"
FAULTS = ("qspi-untied", "fence-gap", "aux-bare-side")
ONE_MORE = "net-open"


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)

    def run(*arguments: str) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as ended:
            main(arguments)
        said = capsys.readouterr()
        return ended.value.code, said.out, said.err

    return run


def small() -> Sketch:
    """A trace that changes layer far from any tie: a note, since its net is in no class."""
    board = Sketch(layers=4, size=(30.0, 20.0), name="tide")
    for layer in (2, 3):
        board.pour("GND", layer)
    board.via("GND", (2, 2))
    board.trace("SIG", 1, [(5, 10), (15, 10)])
    board.via("SIG", (15, 10))
    board.trace("SIG", 4, [(15, 10), (25, 10)])
    return board


CLASS = "[[class]]\nname = 'fast'\nnets = ['SIG']\nrise_time = '1 ns'\n"
SEVERE = "[rules.transition-return]\nseverity = 'error'\n"
SITUATIONS = {
    "clean": (None, "--rules net-agreement", [0, 0, 0, 0]),
    "a note": ("", "--rules transition-return", [0, 0, 0, 1]),
    "a warning": (CLASS, "--rules transition-return", [0, 0, 1, 1]),
    "an error": (CLASS + SEVERE, "--rules transition-return", [0, 1, 1, 1]),
    "waived": (CLASS + "[[waive]]\nrule = 'transition-return'\nreason = 'x'\n", "--rules transition-return", [0] * 4),
    "bad settings": ("[bord]", "", [2] * 4),
    "bad usage": ("", "--rules transition-retrun", [2] * 4),
    "no such package": ("", "nowhere", [2] * 4),
    "a broken baseline": ("", "--baseline fencepost.toml", [2] * 4),
}


@pytest.mark.parametrize("situation", SITUATIONS)
def test_exit_codes_by_what_is_found_and_the_fail_level(run, situation):
    text, options, codes = SITUATIONS[situation]
    write_package("fab", small().gerber())
    if text is not None:
        Path("fencepost.toml").write_text(text)
    for level, code in zip(("never", "error", "warning", "note"), codes, strict=True):
        paths = ["nowhere"] if options == "nowhere" else ["fab", *options.split()]
        assert run("check", *paths, "--fail-on", level)[0] == code, level


def test_input_that_cannot_be_read_ends_in_2_whatever_the_level(run):
    files = small().gerber()
    write_package("fab", {**files, "tide-L1.gbr": files["tide-L1.gbr"][:-40]})
    for level in ("never", "note"):
        code, out, _ = run("check", "fab", "--fail-on", level, "--output", "sarif=out.sarif")
        assert (code, out, Path("out.sarif").exists()) == (2, "", False)


def test_the_level_may_stand_in_the_settings_and_the_command_line_goes_over_it(run):
    write_package("fab", small().gerber())
    Path("fencepost.toml").write_text("[check]\nfail_on = 'note'\nrules = ['transition-return']\n")
    assert run("check", "fab")[0] == 1
    assert run("check", "fab", "--fail-on", "warning")[0] == 0
    assert run("check", "fab", "--set", "check.fail_on=never")[0] == 0


def demo(folder: str, faults, change=lambda board: None, **options) -> None:
    board = tide_gauge(faults)
    change(board)
    write_package(folder, board.gerber(**options))
    shutil.copy(DEMO / SETTINGS, SETTINGS)


def reordered(board: Sketch) -> None:
    """Other file names, and what is drawn in another order; pours stay where they are, since their order counts."""
    board.name = "release_7"
    places = [i for i, item in enumerate(board.items) if not isinstance(item, Pour)]
    items = [board.items[i] for i in places]
    random.Random(7).shuffle(items)
    for i, item in zip(places, items, strict=True):
        board.items[i] = item


def keys(out: str) -> list[tuple[str, tuple[str, ...]]]:
    return sorted((one["rule"], tuple(one["nets"])) for one in json.loads(out)["findings"])


RE_EXPORTS = {
    "drill files as Gerber": {"drill": "gerber", "drill_nets": True},
    "in inches, attributes in comments": {"units": "inch", "attributes": "comments"},
}


def test_a_re_export_brings_nothing_back_and_one_more_fault_brings_that_one(run):
    demo("fab", FAULTS)
    code, out, err = run("check", "fab", "--write-baseline", "known.json", "--format", "json")
    known = json.loads(out)["known"]
    assert (code, known >= len(FAULTS), "known.json: note: " in err) == (0, True, True)
    for name, options in RE_EXPORTS.items():
        shutil.rmtree("fab")
        demo("fab", FAULTS, reordered, **options)
        code, out, _ = run("check", "fab", "--baseline", "known.json", "--format", "json")
        assert (code, keys(out), json.loads(out)["known"]) == (0, [], known), name
    shutil.rmtree("fab")
    demo("release-8", (*FAULTS, ONE_MORE), reordered)
    code, out, _ = run("check", "release-8", "--baseline", "known.json", "--format", "json")
    assert code == 1
    assert keys(out) == [("net-agreement", ("QSPI_CS",))]


def test_what_the_baseline_knows_and_is_mended_is_said(run):
    demo("fab", FAULTS)
    run("check", "fab", "--write-baseline", "known.json")
    demo("fab", FAULTS[1:])
    code, out, _ = run("check", "fab", "--baseline", "known.json")
    assert code == 0
    assert "the baseline knows 1 finding more" in out
    _, out, _ = run("check", "fab", "--baseline", "known.json", "--rules", "pour-tie")
    assert "the baseline knows" not in out


def test_the_baseline_is_the_same_from_whatever_folder_it_is_used(run, monkeypatch):
    write_package("boards/fab", small().gerber())
    run("check", "boards/fab", "--write-baseline", "boards/known.json")
    assert list(json.loads(Path("boards/known.json").read_text())["packages"]) == ["fab"]
    monkeypatch.chdir("boards")
    assert run("check", "fab", "--baseline", "known.json", "--fail-on", "note", "--rules", "transition-return")[0] == 0


def test_one_baseline_is_read_or_written_and_not_both(run):
    assert run("check", "fab", "--baseline", "a", "--write-baseline", "b")[0] == 2


def test_waivers_that_ran_out_or_waive_nothing_are_named_with_file_and_key(run):
    write_package("boards/fab", small().gerber())
    rule = "[[waive]]\nrule = 'transition-return'\nreason = 'static'\n"
    Path("company.toml").write_text(rule + "nets = ['LED_*']\n")
    past = datetime.date.today() - datetime.timedelta(days=1)
    Path("boards/fencepost.toml").write_text(
        f"extends = '../company.toml'\n{CLASS}{rule}until = {past}\n{rule}box = '0, 0, 1, 1 mm'\n"
    )
    code, out, _ = run("check", "boards/fab", "--rules", "transition-return")
    assert code == 1
    assert "boards/fab: warning: boards/fencepost.toml: waive[0]: it ran out on " in out
    assert "boards/fab: warning: boards/fencepost.toml: waive[1]: no finding of transition-return fits it" in out
    assert "company.toml" not in out


def test_a_waived_finding_is_counted_and_keeps_its_reason_in_the_json(run):
    write_package("fab", small().gerber())
    waiver = "[[waive]]\nrule = 'transition-return'\nreason = 'static'\nat = '15, 10 mm'\nradius = '0.5 mm'\n"
    Path("fencepost.toml").write_text(CLASS + waiver)
    code, out, _ = run("check", "fab", "--rules", "transition-return")
    assert (code, "1 waived" in out.splitlines()[-1]) == (0, True)
    _, out, _ = run("check", "fab", "--rules", "transition-return", "--format", "json")
    assert [one["reason"] for one in json.loads(out)["waived"]] == ["static"]


def test_settings_are_shown_with_where_each_value_comes_from(run):
    write_package("fab", small().gerber())
    Path("company.toml").write_text("[board]\nthickness = '1.6 mm'\n")
    Path("fencepost.toml").write_text("extends = 'company.toml'\n[rules.fence-pitch]\nfraction = 10\n")
    code, out, _ = run(
        *("check", "fab", "--show-settings", "--fail-on", "error"),
        *("--set", "rules.fence-pitch.distance=3 mm", "--set", "rules.pour-tie.severity=note"),
    )
    assert code == 0
    for line in (
        'board.thickness = "1.6 mm"  # company.toml',
        "rules.fence-pitch.fraction = 10  # fencepost.toml",
        'rules.fence-pitch.distance = "3 mm"  # command line',
        'rules.pour-tie.severity = "note"  # command line',
        'check.fail_on = "error"  # command line',
        "# board.frequency is not set",
    ):
        assert line in out.splitlines()
    assert any(line.endswith("  # default") for line in out.splitlines())


@pytest.mark.parametrize(
    ("given", "word"),
    [
        ("rules.fence-pitch.distanse=3 mm", 'command line: error: rules.fence-pitch.distanse: .*"distance"'),
        ("board.thickness=3", "command line: error: board.thickness: .*unit"),
        ("board.thickness", "KEY=VALUE"),
        ("=3", "KEY=VALUE"),
        ("a b c=3", "path of a key"),
        ("board.thickness=1\nx=2", "KEY=VALUE"),
    ],
)
def test_a_key_on_the_command_line_that_is_wrong_ends_in_2(run, given, word):
    write_package("fab", small().gerber())
    code, out, err = run("check", "fab", "--set", given)
    assert (code, out) == (2, "")
    assert re.search(word, err)


def test_quiet_leaves_findings_and_what_was_not_checked_and_verbose_says_how_long_each_stage_took(run):
    write_package("fab", small().gerber())
    _, out, _ = run("check", "fab", "--rules", "transition-return", "--quiet")
    assert [line for line in out.splitlines() if "assumed" in line or "copper layers" in line] == []
    assert "[transition-return]" in out
    _, _, err = run("check", "fab", "--rules", "transition-return", "--verbose", "--no-cache")
    assert [line.split()[-1] for line in err.splitlines()] == [
        "reading",
        "assembling",
        "transition-return",
        "suggesting",
    ]
    assert run("check", "fab", "--quiet", "--verbose")[0] == 2


def test_the_list_of_rules_says_what_came_of_each_on_a_package(run):
    write_package("fab", small().gerber())
    Path("fencepost.toml").write_text("[rules.transition-return]\nseverity = 'error'\n")
    code, out, _ = run("rules", "fab")
    assert code == 0
    block = out[out.index("transition-return  ") :].splitlines()
    assert block[0].split()[1] == "error"
    assert any(line.strip().startswith("ran: 1 finding") for line in block[:6])
    assert run("rules", "nowhere")[0] == 2


def test_reports_of_several_formats_come_from_one_run(run):
    write_package("fab", small().gerber())
    outputs = [
        part for kind in ("json", "sarif", "junit", "github", "gitlab") for part in ("--output", f"{kind}=o.{kind}")
    ]
    _, out, _ = run("check", "fab", "--rules", "transition-return", *outputs)
    assert "[transition-return]" in out
    for kind in ("json", "sarif", "junit", "github", "gitlab"):
        assert "transition-return" in Path(f"o.{kind}").read_text("utf-8")
    assert run("check", "fab", "--output", "json=a", "--output", "sarif=a")[0] == 2


def test_a_report_is_written_whole_or_not_at_all(run, monkeypatch):
    """A file that stands there stays where the new one cannot be written; nothing else is left in the folder."""
    write_package("fab", small().gerber())
    Path("out.json").write_text("old")
    monkeypatch.setattr(Path, "replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left")))
    code, out, _ = run("check", "fab", "--rules", "net-agreement", "--output", "json=out.json")
    assert (code, out, Path("out.json").read_text()) == (2, "", "old")
    assert sorted(path.name for path in Path().iterdir()) == ["fab", "out.json"]


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_a_terminal_that_is_not_utf_8_gets_numbers_for_what_it_cannot_show(tmp_path, encoding):
    board = small()
    write_package(tmp_path / "fab", board.gerber())
    (tmp_path / "fencepost.toml").write_text("[nets]\nground = ['GND', 'Ω漢']\n", "utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "fencepost", "check", "fab", "--rules", "net-agreement"],
        cwd=tmp_path, capture_output=True, env={"PATH": "", "PYTHONIOENCODING": encoding}, check=False,
    )  # fmt: skip
    assert done.returncode == 0
    assert "\\u6f22" in done.stdout.decode(encoding)
