"""fencepost.toml: where it is found, what it may say, and what is said of it when it is wrong."""

from __future__ import annotations

import datetime
import re
from pathlib import Path

import pytest

from fencepost.errors import SettingsError
from fencepost.settings.load import LARGEST_BYTES, find_settings, load_settings
from fencepost.settings.model import Settings

EXAMPLE = """
[board]
thickness = "1.6 mm"
dielectric_constant = 4.2
frequency = "868 MHz"          # the highest that the ground system must hold
[nets]
ground = ["GND", "AGND"]       # shell-style patterns
power = ["+*", "VCC*"]
[[class]]
name = "radio"
nets = ["RF_*"]
frequency = "868 MHz"          # or rise_time = "1 ns"
fence = true
impedance = "50 ohm"
[rules.transition-return]
distance = "1.5 mm"
severity = "error"
[rules.hole-aspect]
maximum = 8
[[waive]]
rule = "transition-return"
nets = ["LED_*"]
reason = "indicator, static"
until = 2027-03-01
"""
"""The example of the design."""


def write(folder: Path, text: str | bytes) -> Path:
    file = folder / "fencepost.toml"
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    return file


def error_of(folder: Path, text: str | bytes) -> SettingsError:
    with pytest.raises(SettingsError) as caught:
        load_settings(write(folder, text))
    return caught.value


def test_the_design_s_example_is_read_into_base_units(tmp_path):
    settings = load_settings(write(tmp_path, EXAMPLE))
    assert settings.board.thickness == pytest.approx(1.6)
    assert settings.board.frequency == pytest.approx(868e6)
    assert settings.nets.power == ("+*", "VCC*")
    (radio,) = settings.classes
    assert (radio.name, radio.fence, radio.impedance, radio.highest_frequency) == ("radio", True, 50.0, 868e6)
    assert settings.rules["transition-return"] == {"distance": "1.5 mm", "severity": "error"}
    assert settings.waive[0].until == datetime.date(2027, 3, 1)


def test_a_rise_time_stands_for_0_35_over_it(tmp_path):
    """0.35 / t: textbook relation for a single-pole response, 10 to 90 %."""
    settings = load_settings(write(tmp_path, '[[class]]\nname = "fast"\nnets = ["A"]\nrise_time = "1 ns"\n'))
    assert settings.classes[0].highest_frequency == pytest.approx(350e6)


def test_without_a_file_everything_has_a_default():
    assert load_settings(None) == Settings()


@pytest.mark.parametrize("text", ["", "\ufeff[board]\r\nthickness = '1 mm'\r\n"])
def test_an_empty_file_and_a_byte_order_mark_are_no_error(tmp_path, text):
    load_settings(write(tmp_path, text))


CLASS = '[[class]]\nname = "a"\nnets = ["A"]\nfrequency = "1 GHz"\n'

TWO_GAPS = "[[board.dielectric]]\nthickness = '1 mm'\n[[board.dielectric]]\nthickness = 2\n"
WRONG = [
    # what the file says, the key's path, and words that the reason must hold
    ("[bord]\n", "bord", ['did you mean "board"']),
    ("[board]\nthicknes = '1 mm'\n", "board.thicknes", ['did you mean "thickness"']),
    ("[board]\nx = 1\n", "board.x", ["no such key", "thickness", "frequency"]),
    ("[board]\nthickness = 1.6\n", "board.thickness", ["1.6", "unit", "1.5 mm"]),
    ("[board]\nthickness = '1.6'\n", "board.thickness", ["unit"]),
    ("[board]\nthickness = '1.6 furlong'\n", "board.thickness", ["furlong", "mm", "mil"]),
    ("[board]\nthickness = '-1 mm'\n", "board.thickness", ["above zero"]),
    ("[board]\nfrequency = '1 mm'\n", "board.frequency", ["mm", "GHz"]),
    ("[board]\ndielectric_constant = '4.2'\n", "board.dielectric_constant", ["not a number"]),
    ("[board]\ndielectric_constant = true\n", "board.dielectric_constant", ["not a number"]),
    ("[board]\ndielectric_constant = nan\n", "board.dielectric_constant", ["above zero"]),
    (f"[board]\ndielectric_constant = 1{'0' * 400}\n", "board.dielectric_constant", ["large"]),
    ("[[board.dielectric]]\n", "board.dielectric[0]", ["thickness must be given"]),
    (TWO_GAPS, "board.dielectric[1].thickness", ["2", "unit"]),
    ("board = 4\n", "board", ["a table", "a whole number"]),
    ("[nets]\nground = 'GND'\n", "nets.ground", ["a list", "text"]),
    ("[nets]\nground = ['GND', 3]\n", "nets.ground[1]", ["text in quotes", "a whole number"]),
    ("[class]\nname = 'a'\n", "class", ["a list", "a table"]),
    ("[[class]]\nnets = ['A']\nfrequency = '1 GHz'\n", "class[0]", ["name must be given"]),
    ("[[class]]\nname = 'a'\nfrequency = '1 GHz'\n", "class[0]", ["nets must be given"]),
    ("[[class]]\nname = 'a'\nnets = []\nfrequency = '1 GHz'\n", "class[0].nets", ['"a"', "no nets"]),
    ("[[class]]\nname = 'a'\nnets = ['A']\n", "class[0]", ['"a"', "frequency", "rise_time"]),
    (CLASS + "rise_time = '1 ns'\n", "class[0]", ['"a"', "frequency and a rise_time"]),
    (CLASS + "fence = 1\n", "class[0].fence", ["true or false"]),
    (CLASS + CLASS, "class[1].name", ['class[0] is called "a" already']),
    (CLASS + "[[class]]\nname = 'b'\nnet = ['A']\n", "class[1].net", ['did you mean "nets"']),
    ("[layers]\n'a b.gbr' = 1\n", 'layers."a b.gbr"', ["text in quotes"]),
    ("[layers]\n'' = 'L1'\n", 'layers.""', ["not the name of a file"]),
    ("[drill.'.']\nplated = true\n", 'drill."."', ["not the name of a file"]),
    ("[drill.'x.drl']\nplated = 'yes'\n", 'drill."x.drl".plated', ["true or false"]),
    ("[drill.'x.drl']\nplated = true\nspan = [1, 2, 3]\n", 'drill."x.drl".span', ["a list of 2"]),
    ("[drill.'x.drl']\nplated = true\nspan = [1, '2']\n", 'drill."x.drl".span[1]', ["a whole number"]),
    ("[drill.'x.drl']\nplated = true\n[drill.'x.drl'.tools]\nT1 = 3\n", 'drill."x.drl".tools.T1', ["unit"]),
    ("[[waive]]\nrule = 'a'\n", "waive[0]", ["reason must be given"]),
    ("[[waive]]\nrule = 'a'\nreason = 'b'\nuntil = 'soon'\n", "waive[0].until", ["a date", "text"]),
    ("[[waive]]\nrule = 'a'\nreason = 'b'\nuntil = 2027-03-01T01:02:03\n", "waive[0].until", ["a date", "a time"]),
    ("[rules]\nfence-pitch = 3\n", "rules.fence-pitch", ["a table"]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "key", "words"), WRONG)
def test_what_is_wrong_is_said_with_file_path_and_reason(tmp_path, text, key, words):
    error = error_of(tmp_path, text)
    assert error.file.endswith("fencepost.toml")
    assert error.key == key
    assert [word for word in words if word not in error.message] == []


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("[board]\nthickness = = 3\n", "fencepost.toml:2:13"),
        ("[board]\nthickness =", "fencepost.toml:2:12"),
        ("[board]\n[board]\n", "fencepost.toml:2:"),
        (b"[board]\n# \xff\n", "fencepost.toml:2:1"),
    ],
)
def test_broken_toml_is_said_with_line_and_column(tmp_path, text, place):
    error = error_of(tmp_path, text)
    assert place in error.file
    assert error.message


@pytest.mark.parametrize(
    ("text", "word"), [("a = " + "[" * 100_000, "deep"), ("#" * (LARGEST_BYTES + 1), str(LARGEST_BYTES))]
)
def test_settings_that_no_person_writes_are_refused(tmp_path, text, word):
    assert word in error_of(tmp_path, text).message


@pytest.mark.parametrize("name", ["nowhere.toml", "."])
def test_settings_that_cannot_be_read_are_an_error(tmp_path, name):
    with pytest.raises(SettingsError, match="cannot be read"):
        load_settings(tmp_path / name)


@pytest.mark.parametrize(
    ("there", "package", "found"),
    [
        (["fencepost.toml", "a/b/fencepost.toml"], "a/b", "a/b/fencepost.toml"),
        (["fencepost.toml", "a/fencepost.toml"], "a/b", "a/fencepost.toml"),
        (["fencepost.toml"], "a/b", "fencepost.toml"),
        (["a/fencepost.toml", "a/b/fencepost.toml"], "a/fab.zip", "a/fencepost.toml"),
        (["a/b/fencepost.toml", "fencepost.toml"], "a/fab.zip", "fencepost.toml"),
    ],
)
def test_the_nearest_settings_are_taken_in_the_folder_beside_the_file_or_above(tmp_path, there, package, found):
    (tmp_path / "a/b").mkdir(parents=True)
    (tmp_path / "a/fab.zip").touch()
    for name in there:
        (tmp_path / name).touch()
    assert find_settings(tmp_path / package) == tmp_path.resolve() / found


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ('[board]\nfrequency = "1e9 GHz"\n', 'board.frequency: "1e9 GHz" must be 1000 GHz or less'),
        ('[board]\nfrequency = "1000 GHz"\n', ""),
        ('[[class]]\nname = "a"\nnets = ["A"]\nrise_time = "1e-30 s"\n', "must be 0.1 ps or more"),
        ('[[class]]\nname = "a"\nnets = ["A"]\nrise_time = "0.1 ps"\n', ""),
    ],
)
def test_frequencies_and_times_that_nothing_could_be_computed_for_are_refused(tmp_path, written, said):
    if said:
        with pytest.raises(SettingsError, match=re.escape(said)):
            load_settings(write(tmp_path, written))
    else:
        load_settings(write(tmp_path, written))
