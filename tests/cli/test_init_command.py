"""`fencepost init`: what it writes is read again without a word, and says what was understood without it."""

from __future__ import annotations

import json
import shutil
import tomllib
from pathlib import Path

import pytest

from boards import board_of, settings_of
from fencepost.board.load import load_board
from fencepost.board.model import NetKind
from fencepost.checking.registry import installed_rules
from fencepost.checking.runner import run as run_rules
from fencepost.cli import main
from fencepost.intake import open_package
from fencepost.report.draft import draft
from fencepost.settings.load import load_settings
from fencepost.settings.model import Settings
from fencepost.settings.patterns import matches, net_class_of
from fencepost.signals.recognition import with_classes
from sketch import Sketch, write_package

FIXTURES = Path(__file__).parents[2] / "fixtures"
REAL = Path(__file__).parents[3] / "shared" / "boards" / "six-layer-computer"

HOSTILE = ['A"B\\C', "A\x1b[31mB", "A\u202eB", "##[group]", "::error::", "A\nB", "A B, C", "RF_*", "RF_Ω", "RF_[0]"]


def fast_board(*more: str) -> Sketch:
    """Two layers, ground below, a net of each sort above."""
    board = Sketch(layers=2, size=(40.0, 40.0), name="tide")
    board.pour("GND", 2)
    board.via("GND", (38, 38))
    nets = ["+3V3", "RF_ANT", "USB_DP", "USB_DM", "USB_ID", "LED", "SPI_MOSI", "SPI_MISO", "SPI_SCK", "SPI_RST", *more]
    for i, net in enumerate(nets):
        board.trace(net, 1, [(2, 1 + i), (8, 1 + i)])
        board.via(net, (8, 1 + i))
        board.trace(net, 2, [(8, 1 + i), (14, 1 + i)])
    return board


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """A working directory, and the program in it."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments: str) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as ended:
            main(arguments)
        said = capsys.readouterr()
        return ended.value.code, said.out, said.err

    return run


@pytest.fixture
def package(tmp_path) -> Path:
    write_package(tmp_path / "fab", fast_board().gerber())
    return tmp_path / "fab"


def check(run, package: str, *options: str) -> dict:
    _, out, err = run("check", package, "--format", "json", *options)
    assert err == ""
    return json.loads(out)


def test_ground_power_classes_and_radio_are_written_and_each_guess_is_marked(run, package):
    code, said, err = run("init", "fab")
    assert (code, err) == (0, "")
    assert said.startswith("fencepost.toml: 1 ground and 1 power nets, 3 classes with 6 nets")
    text = Path("fencepost.toml").read_text("utf-8")
    raw = tomllib.loads(text)
    assert raw["nets"] == {"ground": ["GND"], "power": ["+3V3"]}
    assert raw["class"] == [
        {"name": "radio", "nets": ["RF_ANT"], "frequency": "2.5 GHz", "fence": True},
        {"name": "usb", "nets": ["USB_DM", "USB_DP"], "rise_time": "500 ps"},
        {"name": "spi", "nets": ["SPI_MISO", "SPI_MOSI", "SPI_SCK"], "rise_time": "2 ns"},
    ]
    values = [line for line in text.splitlines() if line.startswith(("    ", "frequency", "rise_time", "fence"))]
    assert [line for line in values if "# guess" not in line] == []
    assert text.count("# Guess, by name") == 3


def same_findings(run, package: str) -> None:
    before = check(run, package)
    assert run("init", package, "--output", "drafted.toml")[0] == 0
    after = check(run, package, "--config", "drafted.toml")
    assert before["findings"]
    for key in ("findings", "unchecked", "summary", "board"):
        assert after[key] == before[key]
    assert [text for text in before["assumptions"] if text not in after["assumptions"]]
    assert [text for text in after["assumptions"] if "by name" in text] == []
    assert "warning" not in run("describe", package, "--config", "drafted.toml")[1].split("files")[0]


def test_a_check_finds_the_same_with_it_as_without(run, package):
    same_findings(run, "fab")


def test_a_check_of_the_demo_board_finds_the_same_with_it_as_without(run, tmp_path):
    shutil.copytree(FIXTURES / "tide-gauge/fab", tmp_path / "demo")
    same_findings(run, "demo")


@pytest.mark.skipif(not REAL.is_dir(), reason="the real board lies beside the project in some places only")
def test_a_check_of_a_real_board_finds_the_same_with_it_as_without():
    """The board is read twice, and no more, for the sake of time."""
    package, rules = open_package(REAL), installed_rules()
    bare = load_board(package, Settings())
    recognised, _ = with_classes(bare, Settings())
    drafted = settings_of(draft(bare, recognised))
    before = run_rules(bare, rules, recognised)
    assert before.findings
    assert run_rules(load_board(package, drafted), rules, drafted) == before


def test_patterns_fit_the_nets_that_are_meant_whatever_they_are_called(run, tmp_path):
    """Names that hold quotes, controls, marks that turn the text, and what patterns, TOML and build logs obey."""
    board = fast_board(*HOSTILE, "RF_1")
    write_package(tmp_path / "fab", board.gerber())
    assert run("init", "fab")[0] == 0
    settings = load_settings(tmp_path / "fencepost.toml")
    names = [net.name for net in board_of(board).nets]
    assert {"RF_*", "RF_Ω", "RF_[0]"} < set(names)
    assert [name for name in names if matches(name, settings.nets.ground or ())] == ["GND"]
    assert [name for name in names if matches(name, settings.nets.power or ())] == ["+3V3"]
    radio = [name for name in names if (entry := net_class_of(settings, name)) and entry.name == "radio"]
    assert {"RF_ANT", "RF_1"} <= set(radio) <= {"RF_ANT", "RF_1", "RF_*", "RF_Ω", "RF_[0]"}
    text = (tmp_path / "fencepost.toml").read_text("utf-8")
    assert [char for char in text if not char.isprintable() and char != "\n"] == []
    assert "##[" not in text
    assert [line for line in text.splitlines() if line.startswith("::")] == []


def test_a_board_without_net_names_gets_a_file_that_asks_for_them(run, tmp_path):
    write_package(tmp_path / "fab", fast_board().gerber(attributes="files"))
    assert run("init", "fab")[0] == 0
    text = Path("fencepost.toml").read_text("utf-8")
    assert '# ground_at = "0, 0"  # a point on ground copper, in mm: no net is called after ground' in text
    assert "# power is recognised afresh each time: some of its nets have no names" in text
    assert tomllib.loads(text)["nets"] == {}
    assert check(run, "fab")["unchecked"]


def test_points_of_ground_are_kept_and_stand_for_its_name(run, tmp_path):
    write_package(tmp_path / "fab", fast_board().gerber(attributes="files"))
    Path("points.toml").write_text('[nets]\nground_at = "38, 38"\n')
    before = check(run, "fab", "--config", "points.toml")
    assert run("init", "fab", "--config", "points.toml")[0] == 0
    assert tomllib.loads(Path("fencepost.toml").read_text("utf-8"))["nets"] == {"ground_at": ["38, 38"]}
    assert check(run, "fab")["findings"] == before["findings"]


def test_power_that_is_known_by_its_area_is_said_so(run, tmp_path):
    board = fast_board()
    board.pour("HEATER", 1, (20, 20, 36, 36))
    write_package(tmp_path / "fab", board.gerber())
    _, text, _ = run("init", "fab", "--output", "-")
    assert '"HEATER",  # guess: by the area that it fills on one layer' in text
    assert matches("HEATER", tomllib.loads(text)["nets"]["power"])


def test_a_stackup_from_the_files_is_left_to_them(run, package):
    _, text, _ = run("init", "fab", "--output", "-")
    assert "# The files give the stackup, 1.60 mm in all." in text
    assert "dielectric" not in tomllib.loads(text)["board"]


def test_a_stackup_that_is_assumed_is_there_to_be_taken_up(run, tmp_path):
    """Without its comment marks the guess gives the stackup that is assumed without settings."""
    board = Sketch(layers=4, name="tide")
    board.pour("GND", 2)
    board.via("GND", (5, 5))
    write_package(tmp_path / "fab", board.gerber(job=False))
    _, text, _ = run("init", "fab", "--output", "-")
    assert tomllib.loads(text)["board"] == {}
    words = ("[[board.dielectric]]", "thickness", "dielectric_constant")
    taken = "\n".join(line[2:] for line in text.splitlines() if line[2:].startswith(words))
    assumed, given = board_of(board, job=False).stackup, board_of(board, taken, job=False).stackup
    assert [gap.thickness for gap in given.gaps] == pytest.approx([gap.thickness for gap in assumed.gaps])
    assert [gap.permittivity for gap in given.gaps] == [gap.permittivity for gap in assumed.gaps]
    assert (assumed.gaps[0].assumed, given.gaps[0].assumed) == (True, False)


def test_the_board_s_frequency_is_offered_as_the_highest_of_the_classes(run, package):
    _, text, _ = run("init", "fab", "--output", "-")
    assert '# frequency = "2.5 GHz"  # guess: the highest of the classes below' in text.splitlines()


def test_what_the_files_needed_to_be_read_is_kept(run, package):
    """[board], [[pair]], [layers] and [drill] of the settings that are there; nets and classes are drafted anew."""
    kept = (
        '[board]\nfrequency = "868 MHz"\n[[board.dielectric]]\nthickness = "1.5 mm"\ndielectric_constant = 3.5\n'
        "[[pair]]\nnets = ['LED', 'USB_ID']\n[layers]\n'my mask.gbr' = 'other'\n"
        "[drill.'x.drl']\nplated = false\nspan = [1, 2]\n[drill.'x.drl'.tools]\nT1 = '1 mm'\n"
    )
    Path("fencepost.toml").write_text(f"{kept}[nets]\nground = ['LED']\n")
    assert run("init", "fab")[0] == 2
    assert run("init", "fab", "--force")[0] == 0
    settings = load_settings(Path("fencepost.toml"))
    wanted = settings_of(kept)
    assert (settings.board, settings.pairs[: len(wanted.pairs)]) == (wanted.board, wanted.pairs)
    assert (settings.layers, settings.drill) == (wanted.layers, wanted.drill)
    assert settings.nets.ground == ("GND",)


def test_a_file_that_is_there_is_left_alone_without_force(run, package):
    Path("fencepost.toml").write_text("# mine\n")
    code, out, err = run("init", "fab")
    assert (code, out) == (2, "")
    assert err.startswith("fencepost: error: fencepost.toml is there already; --force replaces it, --output ")
    assert Path("fencepost.toml").read_text() == "# mine\n"
    assert run("init", "fab", "--output", "other.toml")[0] == 0
    assert run("init", "fab", "--force")[0] == 0
    assert Path("fencepost.toml").read_bytes() == Path("other.toml").read_bytes()


@pytest.mark.parametrize(
    ("inside", "argument", "written"),
    [
        (".", "fab", "fencepost.toml"),
        (".", "a/fab", "a/fencepost.toml"),
        ("fab", ".", "fab/fencepost.toml"),
        ("a", "../fab", "fencepost.toml"),
        (".", "fab.zip", "fencepost.toml"),
    ],
)
def test_it_is_written_beside_the_package_and_found_there(
    run, package, tmp_path, monkeypatch, inside, argument, written
):
    shutil.copytree(package, tmp_path / "a/fab")
    shutil.make_archive(str(package), "zip", package)
    monkeypatch.chdir(tmp_path / inside)
    assert run("init", argument)[0] == 0
    assert [path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*.toml")] == [written]
    assert "guess" not in "".join(check(run, argument)["assumptions"])
    assert [text for text in check(run, argument)["assumptions"] if "by name" in text] == []


@pytest.mark.parametrize(
    "arguments", [("nowhere",), ("fab", "--config", "none.toml"), ("fab", "--output", "no/such/file")]
)
def test_what_cannot_be_done_ends_in_2_and_writes_nothing(run, package, tmp_path, arguments):
    code, out, err = run("init", *arguments)
    assert (code, out, len(err.splitlines())) == (2, "", 1)
    assert list(tmp_path.rglob("*.toml")) == []


def test_settings_that_do_not_fit_the_board_are_an_error_with_their_file(run, package):
    Path("other.toml").write_text("[[pair]]\nnets = ['LED', 'NOWHERE']\n")
    code, out, err = run("init", "fab", "--config", "other.toml")
    assert (code, out) == (2, "")
    assert err.startswith("other.toml: error: pair[0]")


def test_a_package_that_cannot_be_read_gets_no_settings(run, package, tmp_path):
    (package / "tide-L1.gbr").write_bytes(b"%FSLAX46Y46*%\n")
    code, out, err = run("init", "fab")
    assert (code, out) == (2, "")
    assert "tide-L1.gbr" in err
    assert list(tmp_path.rglob("*.toml")) == []


def test_kinds_of_nets_are_those_without_settings(run, package):
    _, text, _ = run("init", "fab", "--output", "-")
    bare, drafted = board_of(fast_board()), board_of(fast_board(), text)
    assert [net.kind for net in drafted.nets] == [net.kind for net in bare.nets]
    assert {net.kind for net in bare.nets} == set(NetKind)
