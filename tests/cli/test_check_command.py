"""`fencepost check`: exit codes, reports, and errors as one line each."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from fencepost.checking.finding import Place, Severity
from fencepost.checking.rule import Rule
from fencepost.cli import job as job_module
from fencepost.cli import judging, main
from sketch import Sketch, write_package

ERROR_LINE = re.compile(r"[^:\n]+(:\d+:\d+)?: error: [^\n]+")
"""`file:line:column: error: ...`, or without line and column where the error is about the whole file."""


def saying(severity: Severity) -> type[Rule]:
    def check(self, board, options, settings):
        yield self.finding(f"{severity.label} at a hole", Place(board.hole_location(0), 5.0, 5.0), severity=severity)

    name = f"say-{severity.label}"
    return type("Says", (Rule,), {"name": name, "summary": "x", "severity": severity, "check": check})


def crash(self, board, options, settings):
    raise ZeroDivisionError("no\nway")


def interrupt(self, board, options, settings):
    raise KeyboardInterrupt


def quiet(self, board, options, settings):
    yield self.unchecked("it was dark")


OTHERS = {"say-nothing": lambda *_: (), "say-unchecked": quiet, "crash": crash, "interrupt": interrupt}
RULES = {rule.name: rule for rule in map(saying, Severity)} | {
    name: type("Other", (Rule,), {"name": name, "summary": "x", "check": check}) for name, check in OTHERS.items()
}


def sketch() -> Sketch:
    board = Sketch(layers=2, size=(20.0, 10.0), name="tide")
    board.pour("GND", 2)
    board.trace("SIG", 1, [(2, 5), (5, 5)])
    board.via("SIG", (5, 5))
    return board


FILES = sketch().gerber()


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    """A working directory with a good package in `fab`, and rules that say what they are asked to."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(judging, "installed_rules", lambda: RULES)
    monkeypatch.delenv("FENCEPOST_TRACEBACK", raising=False)
    write_package(tmp_path / "fab", FILES)
    return tmp_path


@pytest.fixture
def run(folder, capsys):
    def run(*arguments: str) -> tuple[int, str, str]:
        # In this process, where the rules above are known.
        with pytest.raises(SystemExit) as ended:
            main([*arguments, *(["--jobs", "1"] if arguments[:1] == ("check",) else [])])
        said = capsys.readouterr()
        return ended.value.code, said.out, said.err

    return run


@pytest.mark.parametrize(
    ("rule", "never", "error", "warning", "note"),
    [
        ("say-nothing", 0, 0, 0, 0),
        ("say-unchecked", 0, 0, 0, 0),
        ("say-note", 0, 0, 0, 1),
        ("say-warning", 0, 0, 1, 1),
        ("say-error", 0, 1, 1, 1),
        ("say-note,say-error", 0, 1, 1, 1),
    ],
)
def test_the_exit_code_follows_the_worst_finding_and_the_fail_level(run, rule, never, error, warning, note):
    levels = {"never": never, "error": error, "warning": warning, "note": note}
    for level, expected in levels.items():
        code, out, err = run("check", "fab", "--rules", rule, "--fail-on", level)
        assert (code, err) == (expected, "")
        assert out.splitlines()[-1].startswith("fab: ")
    assert run("check", "fab", "--rules", rule)[0] == warning


def test_a_finding_is_a_line_with_a_file_that_opens_from_the_working_directory(run, folder):
    _, out, _ = run("check", "fab", "--rules", "say-warning")
    first = re.match(r"(.+?):(\d+):(\d+): warning: warning at a hole \[say-warning\]\n", out)
    line = (folder / first[1]).read_text().splitlines()[int(first[2]) - 1]
    assert line[int(first[3]) - 1 :].startswith("X")
    assert "Y" in line


GOOD = ("--rules", "say-nothing")

BAD_USE = [
    ((), "PATH"),
    (("fab", "--colour"), "--colour"),
    (("fab", "--rules", "say-notte"), 'did you mean "say-note"'),
    (("fab", "--skip", "say-notte"), 'did you mean "say-note"'),
    (("fab", "--rules", ","), "no rule"),
    (("fab", "--rules", "say-note", "--skip", "say-note"), "no rule is left"),
    (("fab", "--format", "yaml"), "yaml"),
    (("fab", "--output", "out.json"), "FORMAT=FILE"),
    (("fab", "--output", "yaml=out"), "FORMAT=FILE"),
    (("fab", "--output", "json="), "FORMAT=FILE"),
    (("fab", "--output", "json=no/such/folder", *GOOD), "no/such/folder"),
    (("fab", "--fail-on", "fatal"), "fatal"),
    (("fab", "--config", "none.toml"), "none.toml"),
    (("nowhere",), "nowhere"),
    (("fab", "nowhere", *GOOD), "nowhere"),
]


@pytest.mark.parametrize(("arguments", "word"), BAD_USE)
def test_a_command_line_that_cannot_be_done_ends_in_2_with_a_line_that_says_why(run, arguments, word):
    code, out, err = run("check", *arguments)
    assert (code, out) == (2, "")
    assert ERROR_LINE.fullmatch(err.splitlines()[0])
    assert word in err.splitlines()[0]
    assert "Traceback" not in err


BAD_SETTINGS = [
    ("[bord]\n", "fencepost.toml: error: bord: "),
    ("[board\n", "fencepost.toml:1:7: error: "),
    ("[rules.say-notte]\n", "fencepost.toml: error: rules.say-notte: "),
    ("[rules.say-note]\nseverity = 'bad'\n", "fencepost.toml: error: rules.say-note.severity: "),
    ("[[class]]\nname = 'a'\nnets = ['SIG']\n", "fencepost.toml: error: class[0]: "),
    (
        "[[class]]\nname='a'\nnets=['SIG']\nfrequency='1 GHz'\n[[class]]\nname='b'\nnets=['S*']\nfrequency='1 GHz'\n",
        "fencepost.toml: error: class[1].nets: ",
    ),
]


@pytest.mark.parametrize(("text", "start"), BAD_SETTINGS)
@pytest.mark.parametrize("where", ["fab", "."])
def test_settings_that_are_wrong_end_in_2_with_file_and_key(run, folder, text, start, where):
    (folder / where / "fencepost.toml").write_text(text)
    code, out, err = run("check", "fab", *GOOD)
    assert (code, out, len(err.splitlines())) == (2, "", 1)
    assert Path(where, start).as_posix() in Path(err).as_posix()


def cut_short(data: bytes) -> bytes:
    return data[: len(data) // 2]


BROKEN = [
    ("tide-L1.gbr", None),
    ("tide-L2.gbr", None),
    ("tide-L1.gbr", cut_short),
    ("tide-Plated.drl", cut_short),
    ("tide-L1.gbr", lambda data: data.replace(b"D01*", b"D77*", 1)),
]


def drill_name() -> str:
    return next(name for name in FILES if name.endswith(".drl"))


@pytest.mark.parametrize(("name", "change"), BROKEN)
def test_a_package_that_is_not_whole_is_never_reported(run, folder, name, change):
    file = folder / "fab" / (drill_name() if name.endswith(".drl") else name)
    if change is None:
        file.unlink()
    else:
        file.write_bytes(change(file.read_bytes()))
    code, out, err = run("check", "fab", *GOOD)
    assert (code, out) == (2, "")
    assert ERROR_LINE.fullmatch(err.splitlines()[0])
    assert "Traceback" not in err


@pytest.mark.parametrize("kind", ["text", "json"])
def test_one_broken_package_among_several_leaves_no_report_that_could_be_taken_for_clean(run, folder, kind):
    write_package(folder / "worse", {**FILES, "tide-L1.gbr": b"%FSLAX46Y46*%\n"})
    code, out, err = run("check", "fab", "worse", *GOOD, "--format", kind, "--output", "json=out.json")
    assert (code, out) == (2, "")
    assert "worse" in err
    assert not (folder / "out.json").exists()


def test_several_packages_are_each_checked_and_share_a_summary(run, folder):
    write_package(folder / "second", FILES)
    code, out, _ = run("check", "fab", "second", "--rules", "say-warning")
    assert code == 1
    assert re.findall(r"^(fab|second)\b.*\[say-warning\]$", out, re.MULTILINE) == ["fab", "second"]
    assert out.splitlines()[-1].startswith("2 packages: 2 warnings; ")


def test_the_package_s_own_settings_hold_for_it_alone(run, folder):
    write_package(folder / "second", FILES)
    (folder / "fab/fencepost.toml").write_text("[rules.say-warning]\nseverity = 'error'\n")
    _, out, _ = run("check", "fab", "second", "--rules", "say-warning")
    assert re.findall(r": (error|warning): .*\[say-warning\]", out) == ["error", "warning"]


def test_settings_may_be_named(run, folder):
    (folder / "fab/fencepost.toml").write_text("nonsense")
    (folder / "other.toml").write_text("[rules.say-warning]\nseverity = 'note'\n")
    code, out, _ = run("check", "fab", "--config", "other.toml", "--rules", "say-warning")
    assert code == 0
    assert ": note: " in out


def test_json_on_stdout_is_one_object_for_one_package_and_a_list_for_several(run, folder):
    code, out, err = run("check", "fab", "--rules", "say-warning", "--format", "json")
    assert (code, err) == (1, "")
    one = json.loads(out)
    assert (one["summary"], one["board"]["copper_layers"]) == ({"error": 0, "warning": 1, "note": 0}, 2)
    assert one["board"]["size_mm"] == [20.0, 10.0]
    _, out, _ = run("check", "fab", "fab", "--rules", "say-warning", "--format", "json")
    assert [each["package"] for each in json.loads(out)] == [one["package"]] * 2


def test_reports_go_to_files_as_well(run, folder):
    outputs = ("--output", "json=a.json", "--output", "text=b.txt")
    _, out, _ = run("check", "fab", "--rules", "say-warning", *outputs)
    assert json.loads((folder / "a.json").read_bytes())["findings"][0]["rule"] == "say-warning"
    assert (folder / "b.txt").read_text("utf-8") == out


@pytest.mark.parametrize("kind", ["text", "json"])
def test_a_pattern_that_fits_no_net_is_a_warning_and_no_fault_of_the_board(run, folder, kind):
    (folder / "fencepost.toml").write_text("[nets]\nground = ['GND', 'PGND']\n")
    code, out, err = run("check", "fab", *GOOD, "--format", kind)
    assert code == 0
    assert 'fab: warning: fencepost.toml: nets.ground[1]: no net fits "PGND"' in (out if kind == "text" else err)
    assert (kind == "text") == (err == "")


def test_a_file_that_the_settings_name_and_the_package_has_not_is_a_warning(run, folder):
    (folder / "fencepost.toml").write_text("[layers]\n'other.gbr' = 'L3'\n")
    code, out, _ = run("check", "fab", *GOOD)
    assert code == 0
    assert 'fab: warning: fencepost.toml: layers."other.gbr": no file' in out


def test_settings_that_do_not_fit_the_board_are_an_error_with_their_file(run, folder):
    (folder / "fencepost.toml").write_text("[[board.dielectric]]\nthickness = '1 mm'\n" * 2)
    code, out, err = run("check", "fab", *GOOD)
    assert (code, out) == (2, "")
    assert err.startswith("fencepost.toml: error: ")


def test_an_archive_is_checked_with_the_settings_beside_it(run, folder):
    (folder / "fencepost.toml").write_text("[rules.say-warning]\nseverity = 'error'\n")
    with zipfile.ZipFile(folder / "fab.zip", "w") as archive:
        for name, data in FILES.items():
            archive.writestr(name, data)
    code, out, _ = run("check", "fab.zip", "--rules", "say-warning")
    assert code == 1
    assert re.match(r"fab\.zip/[^:]+:\d+:\d+: error: ", out)
    assert out.splitlines()[-1].startswith("fab.zip: 1 error; ")


def test_a_fault_of_a_rule_ends_in_3_with_one_line(run):
    code, out, err = run("check", "fab", "--rules", "crash")
    assert (code, out, len(err.splitlines())) == (3, "", 1)
    for word in ("fault", "rule crash", "ZeroDivisionError", r"no\nway", "FENCEPOST_TRACEBACK=1"):
        assert word in err


def test_the_traceback_of_a_fault_can_be_asked_for(run, monkeypatch):
    monkeypatch.setenv("FENCEPOST_TRACEBACK", "1")
    code, _, err = run("check", "fab", "--rules", "crash")
    assert code == 3
    assert "Traceback" in err
    assert 'raise ZeroDivisionError("no' in err


def test_a_fault_of_the_program_ends_in_3_with_one_line(run, monkeypatch):
    def broken(*_: object) -> None:
        raise TypeError("a bug")

    monkeypatch.setattr(job_module, "read_parcel", broken)
    code, out, err = run("check", "fab")
    assert (code, out, len(err.splitlines())) == (3, "", 1)
    assert "TypeError: a bug" in err


def test_an_interrupted_check_has_an_exit_code_of_its_own(run):
    code, out, err = run("check", "fab", "--rules", "interrupt")
    assert (code, out, err.strip()) == (130, "", "")


@pytest.mark.skipif(os.name == "nt", reason="such names cannot be written there")
def test_a_file_s_name_cannot_speak_to_the_terminal(run, folder):
    (folder / "fab" / "x\x1b[31m\n::error::y.gbr").write_bytes(cut_short(FILES["tide-L1.gbr"]))
    code, _, err = run("check", "fab", *GOOD)
    assert code == 2
    assert [char for char in err if not char.isprintable() and char != "\n"] == []
    assert r"x\x1b[31m\n" in err
    assert [line for line in err.splitlines() if line.startswith("::")] == []


PROGRAM = [sys.executable, "-m", "fencepost"]


def test_a_reader_that_goes_away_is_no_error():
    with subprocess.Popen([*PROGRAM, "rules"], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        process.stdout.close()
        said = process.stderr.read()
    assert (process.returncode, said) == (0, b"")


def test_a_terminal_that_cannot_show_a_letter_gets_its_number():
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    done = subprocess.run([*PROGRAM, "explain", "Ω"], capture_output=True, env=environment, check=False)
    assert done.returncode == 2
    assert rb"\u03a9" in done.stderr
