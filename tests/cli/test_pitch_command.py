"""`fencepost pitch`: figures from outside, what was assumed, and bad input."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from fencepost.board.stack import PERMITTIVITY
from fencepost.cli import main, pitch


@pytest.fixture
def run(capsys):
    """Exit code, stdout and stderr of `fencepost pitch`."""

    def running(*arguments: str) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as ended:
            main(["pitch", *arguments])
        said = capsys.readouterr()
        return ended.value.code or 0, said.out, said.err

    return running


@pytest.fixture
def answer(run):
    def answering(*arguments: str) -> dict:
        code, out, err = run(*arguments, "--format", "json")
        assert (code, err) == (0, "")
        assert out.count("\n") == 1
        return json.loads(out)

    return answering


ER4 = ("--dielectric-constant", "4")


@pytest.mark.parametrize(
    ("frequency", "fraction", "expected"),
    [("9.375 GHz", "8", 1.9986), ("37.5 GHz", "8", 0.49965), ("868 MHz", "20", 8.6346)],
)
def test_a_frequency_asks_for_a_pitch(answer, frequency: str, fraction: str, expected: float):
    """Worked by hand: c / (f sqrt(4)) / fraction; that an eighth will do is common practice, no source."""
    found = answer("--frequency", frequency, "--fraction", fraction, *ER4)
    assert found["pitch_mm"] == pytest.approx(expected, rel=1e-4)
    assert found["largest_pitch_mm"] == found["pitch_mm"]
    assert found["wavelength_mm"] == pytest.approx(expected * float(fraction), rel=1e-4)
    assert found["isolation_db"] is None
    assert found["highest_frequency_hz"] is None
    assert found["rim_posts"] is None


@pytest.mark.parametrize(("given", "expected"), [("2.0 mm", 9.37e9), ("0.5 mm", 37.5e9), ("78.74 mil", 9.37e9)])
def test_a_pitch_holds_up_to_a_frequency(answer, given: str, expected: float):
    """At er 4: common practice, no source."""
    found = answer("--pitch", given, *ER4)
    assert found["frequency_hz"] == pytest.approx(expected, rel=1e-3)
    assert found["wavelength_mm"] == pytest.approx(8 * found["pitch_mm"], rel=1e-5)
    assert found["largest_pitch_mm"] is None
    assert found["isolation_db"] is None


@pytest.mark.parametrize(
    ("frequency", "given", "expected"), [("9.221 GHz", "2.032 mm", 12.8), ("2.4 GHz", "6.35 mm", 8.2)]
)
def test_both_give_the_isolation_of_an_endless_fence(answer, run, frequency: str, given: str, expected: float):
    """N. Marcuvitz, Waveguide Handbook, 1951: gratings of round posts, here of 0.254 mm at er 4."""
    arguments = ("--frequency", frequency, "--pitch", given, *ER4, "--diameter", "10 mil")
    found = answer(*arguments)
    assert found["isolation_db"] == pytest.approx(expected, abs=0.05)
    assert (found["frequency_hz"] / 1e9, found["pitch_mm"]) == (float(frequency[:-4]), float(given[:-3]))
    assert f"{expected} dB" in run(*arguments)[1]
    assert found["cautions"] == []


def test_thick_posts_are_solved_and_it_is_said(answer):
    """The closed form has its pole at a diameter of 1/pi of the pitch and would give 63 dB."""
    found = answer("--frequency", "868 MHz", "--pitch", "1 mm", *ER4, "--diameter", "0.3 mm")
    assert 45 < found["isolation_db"] < 55
    assert any("solved" in line and "1951" not in line for line in found["assumptions"])


def test_what_was_not_given_is_said_to_be_assumed(answer, run):
    found = answer("--frequency", "868 MHz", "--pitch", "5 mm")
    assert (found["dielectric_constant"], found["fraction"], found["diameter_mm"]) == (PERMITTIVITY, 8, 0.3)
    for start in ("a dielectric constant of 4.3", "gaps of a wavelength divided by 8", "posts of 0.3 mm"):
        assert any(line.startswith(start) and "no source" in line for line in found["assumptions"])
    given = answer("--frequency", "868 MHz", "--pitch", "5 mm", *ER4, "--fraction", "8", "--diameter", "0.3 mm")
    assert not any("no source" in line for line in given["assumptions"])
    text = run("--frequency", "868 MHz", "--pitch", "5 mm")[1]
    assert all(f"  {line}\n" in text for line in found["assumptions"])


@pytest.mark.parametrize("size", ["60 x 40 mm", "60x40mm", "6 cm × 40 mm", "60000um x 4cm", " 60.0 x 40.0 mm "])
def test_posts_round_the_rim_of_a_board(answer, run, size: str):
    """Worked by hand: 30 and 20 gaps of 2 mm on two sides each; the ring is closed, so as many posts."""
    assert answer("--pitch", "2 mm", "--board", size)["rim_posts"] == 100
    assert answer("--pitch", "2 mm", "--board", size)["board_mm"] == [60, 40]
    assert "100 posts: 30 gaps along 60 mm, 20 gaps along 40 mm" in run("--pitch", "2 mm", "--board", size)[1]


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        # an eighth of 200 mm at 5 GHz/er 4 is 3.75 mm; the board's planes resonate at 1.25 GHz bare, 2.25 GHz closed
        ("--frequency 5GHz --pitch 2mm", []),
        ("--frequency 5GHz --pitch 4mm", ["too coarse for 5 GHz: 4 mm is more than 3.747 mm"]),
        ("--frequency 5GHz --pitch 40mm", ["too coarse for 5 GHz: gaps of a wavelength"]),
        ("--frequency 1GHz --pitch 10mm --board 60x40mm", []),
        ("--frequency 1GHz --pitch 10.1mm --board 60x40mm", []),
        ("--frequency 1GHz --pitch 14mm --board 60x40mm", ["too coarse for the board: its side of 40 mm has only 3"]),
        ("--frequency 1GHz --board 60x10mm", ["too coarse for the board: its side of 10 mm has only 1 gap; 2.5 mm"]),
        ("--frequency 1.24GHz --pitch 2mm --board 60x40mm", []),
        ("--frequency 1.26GHz --pitch 2mm --board 60x40mm", ["without a rim the planes resonate from 1.25 GHz on"]),
        ("--frequency 2.24GHz --pitch 2mm --board 60x40mm", ["without a rim the planes resonate from 1.25 GHz on"]),
        ("--frequency 2.26GHz --pitch 2mm --board 60x40mm", ["a rim alone does not hold up to 2.26 GHz"]),
    ],
)
def test_a_pitch_that_does_not_do_is_said_with_the_reason(answer, run, arguments: str, expected: list[str]):
    """Planes of 60 x 40 mm at er 4, worked by hand: c / (4 x 60 mm) = 1.249 GHz with an open rim, and with a closed one
    c / 4 x sqrt(1/60^2 + 1/40^2) = 2.252 GHz. Four gaps a side are common practice, no source."""
    found = answer(*arguments.split(), *ER4)["cautions"]
    assert len(found) == len(expected)
    assert all(line.startswith(start) for line, start in zip(found, expected, strict=True))
    text = run(*arguments.split(), *ER4)[1]
    assert [line.removeprefix("caution: ") for line in text.splitlines() if line.startswith("caution: ")] == found


def test_text_has_a_line_for_each_figure(run):
    _, out, _ = run("--frequency", "9.221 GHz", "--pitch", "2.032 mm", *ER4, "--diameter", "0.254 mm")
    lines = [line.split("  ", 1) for line in out.split("\n\n")[0].splitlines()]
    assert {label: said.strip() for label, said in lines} == {
        "frequency": "9.221 GHz",
        "pitch": "2.032 mm",
        "largest pitch": "2.032 mm",
        "highest frequency": "9.221 GHz",
        "wavelength": "16.26 mm at a dielectric constant of 4",
        "isolation": "12.8 dB, posts of 0.254 mm",
    }


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "give --frequency"),
        (["--board", "60 x 40 mm"], "give --frequency"),
        (["--frequency", "868"], '"868" is not a frequency with a unit'),
        (["--frequency", "868 mm"], '"mm" is not a unit of frequency'),
        (["--frequency", "0 Hz"], "must be above zero"),
        (["--frequency", "-1 GHz"], "must be above zero"),
        (["--frequency", "9e99 GHz"], "must be 1000 GHz or less"),
        (["--frequency", "1 Hz"], "must be from 1000 to 1e+12 Hz"),
        (["--pitch", "2"], '"2" is not a length with a unit'),
        (["--pitch", "2 GHz"], '"GHz" is not a unit of length'),
        (["--pitch", "1e9 mm"], "1e+09 mm must be from"),
        (["--pitch", "2 mm", "--dielectric-constant", "0.5"], "0.5 must be from 1 to 1000"),
        (["--pitch", "2 mm", "--dielectric-constant", "nan"], "nan must be from 1"),
        (["--pitch", "2 mm", "--dielectric-constant", "FR4"], "FR4"),
        (["--pitch", "2 mm", "--fraction", "0"], "0 must be from 2"),
        (["--pitch", "2 mm", "--fraction", "inf"], "inf must be from 2"),
        (["--pitch", "2 mm", "--board", "60 mm"], '"60 mm" is not a width and a height'),
        (["--pitch", "2 mm", "--board", "60 x 40"], "is not a width and a height with a unit"),
        (["--pitch", "2 mm", "--board", "60 x 40 GHz"], '"GHz" is not a unit of length'),
        (["--pitch", "2 mm", "--board", "0 x 40 mm"], "must be above zero"),
        (["--pitch", "2 mm", "--board", "60 x 1e9 mm"], "is not a width"),
        (["--pitch", "2 mm", "--frequency", "1 GHz", "--diameter", "2 mm"], "a diameter of 2 mm must be"),
        (["--pitch", "2 mm", "--format", "yaml"], "yaml"),
        (["--pitch", "2 mm", "--gap", "1 mm"], "--gap"),
        (["2 mm"], "2 mm"),
    ],
)
def test_bad_input_is_one_clear_error(run, arguments: list[str], said: str):
    code, out, err = run(*arguments)
    assert (code, out) == (2, "")
    assert err.startswith("fencepost: error: ")
    assert said in err.splitlines()[0]


def test_names_from_the_command_line_reach_the_terminal_escaped(run):
    _, _, err = run("--pitch", "2 \x1b[31mmm")
    assert "\x1b" not in err


def test_nothing_heavy_is_loaded_for_thin_posts():
    """But it is for thick ones, so that this can fail."""
    script = (
        "import sys\nfrom fencepost.cli import main\n"
        "try:\n    main(sys.argv[1:])\n"
        "finally:\n    print(*{name.partition('.')[0] for name in sys.modules}, file=sys.stderr)\n"
    )

    def loaded(diameter: str) -> set[str]:
        asked = ["pitch", "--pitch", "2 mm", "--frequency", "1 GHz", "--board", "60 x 40 mm", "--diameter", diameter]
        done = subprocess.run([sys.executable, "-c", script, *asked], capture_output=True, text=True, check=True)
        return set(done.stderr.split()) & {"numpy", "scipy", "shapely", "networkx", "lark", "msgspec", "rich"}

    assert loaded("0.2 mm") == set()
    assert "scipy" in loaded("0.6 mm")


def test_defaults_are_those_of_the_check():
    assert pitch.DIELECTRIC_CONSTANT == PERMITTIVITY


def test_the_smallest_and_largest_quantities_give_figures_and_not_faults(run):
    for frequency in ("1 kHz", "1000 GHz"):
        for given, diameter in (("1.01 um", "1 um"), ("2 um", "1 um"), ("10000 mm", "1 um"), ("10000 mm", "9999 mm")):
            asked = ("--frequency", frequency, "--pitch", given, "--diameter", diameter, "--board", "1um x 10000mm")
            code, out, err = run(*asked)
            assert (code, err) == (0, "")
            assert "nan" not in out and "inf" not in out
