"""Settings that extend others, what the command line adds, and where each value is said to come from."""

from __future__ import annotations

from pathlib import Path

import pytest

from fencepost.errors import SettingsError
from fencepost.settings.load import LONGEST_CHAIN, load
from fencepost.settings.origins import Merger

COMPANY = """
[board]
frequency = "868 MHz"
thickness = "1.6 mm"
[nets]
ground = ["GND", "PGND"]
[[class]]
name = "radio"
nets = ["RF_*"]
frequency = "868 MHz"
[[class]]
name = "memory"
nets = ["MEM_*"]
rise_time = "1 ns"
fence = true
[rules.fence-pitch]
distance = "2 mm"
fraction = 8
[[waive]]
rule = "pour-tie"
reason = "ours"
"""
OWN = """
extends = "../company.toml"
[board]
frequency = "2.4 GHz"
[nets]
ground = ["GND"]
[[class]]
name = "memory"
nets = ["QSPI_*"]
rise_time = "2 ns"
[[class]]
name = "slow"
nets = ["I2C_*"]
rise_time = "100 ns"
[rules.fence-pitch]
distance = "1 mm"
[[waive]]
rule = "rim-pitch"
reason = "mine"
"""


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    (tmp_path / "board").mkdir()
    (tmp_path / "company.toml").write_text(COMPANY)
    (tmp_path / "board/fencepost.toml").write_text(OWN)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_own_values_go_over_those_of_the_extended_file_and_the_rest_stays(folder):
    settings = load(Path("board/fencepost.toml")).settings
    assert (settings.board.frequency, settings.board.thickness) == (2.4e9, 1.6)
    assert settings.nets.ground == ("GND",)
    assert settings.rules["fence-pitch"] == {"distance": "1 mm", "fraction": 8}


def test_classes_of_one_name_take_each_other_s_place_and_other_lists_of_tables_are_joined(folder):
    settings = load(Path("board/fencepost.toml")).settings
    assert [(one.name, one.nets) for one in settings.classes] == [
        ("radio", ("RF_*",)),
        ("memory", ("QSPI_*",)),
        ("slow", ("I2C_*",)),
    ]
    assert [one.reason for one in settings.waive] == ["ours", "mine"]


ORIGINS = [
    ("board.thickness", "company.toml", "board.thickness"),
    ("board.frequency", "board/fencepost.toml", "board.frequency"),
    ("nets.ground[0]", "board/fencepost.toml", "nets.ground[0]"),
    ("class[0].nets[0]", "company.toml", "class[0].nets[0]"),
    ("class[1].nets", "board/fencepost.toml", "class[0].nets"),
    ("class[2]", "board/fencepost.toml", "class[1]"),
    ("waive[1].nets", "board/fencepost.toml", "waive[0].nets"),
    ("rules.fence-pitch.fraction", "company.toml", "rules.fence-pitch.fraction"),
    ("rules.fence-pitch.distance", "command line", "rules.fence-pitch.distance"),
]


@pytest.mark.parametrize(("key", "file", "own"), ORIGINS)
def test_every_value_knows_its_file_and_its_key_there(folder, key, file, own):
    loaded = load(Path("board/fencepost.toml"), {"rules": {"fence-pitch": {"distance": "3 mm"}}})
    assert loaded.origins.of(key) == (file, own)
    assert loaded.origins.said(f"{key}: so: it goes") == (file, f"{own}: so: it goes")


def test_what_was_replaced_leaves_no_origin_behind(folder):
    loaded = load(Path("board/fencepost.toml"))
    assert (loaded.settings.classes[1].fence, loaded.origins.exact("class[1].fence")) == (False, None)


def test_the_command_line_goes_over_all_files(folder):
    loaded = load(Path("board/fencepost.toml"), {"board": {"frequency": "1 GHz"}})
    assert loaded.settings.board.frequency == 1e9
    assert load(None, {"board": {"frequency": "1 GHz"}}).settings.board.frequency == 1e9


@pytest.mark.parametrize(
    ("key", "found"),
    [("nothing", None), ("boards.x", None), ("board.frequency", ("board/fencepost.toml", "board.frequency"))],
)
def test_a_default_has_no_origin(folder, key, found):
    assert load(Path("board/fencepost.toml")).origins.of(key) == found


def test_keys_with_points_and_quotes_are_found_again():
    merger = Merger()
    merger.add({"layers": {"a.b: c": "L1"}}, "x.toml")
    assert merger.places['layers."a.b: c"'] == ("x.toml", 'layers."a.b: c"')


def error_of(path: str, given=None) -> SettingsError:
    with pytest.raises(SettingsError) as caught:
        load(Path(path), given)
    return caught.value


def test_a_fault_is_said_with_the_file_it_stands_in(folder):
    (folder / "company.toml").write_text("[board]\nthicknes = 1\n")
    error = error_of("board/fencepost.toml")
    assert (error.file, error.key) == ("company.toml", "board.thicknes")
    assert 'did you mean "thickness"' in error.message


def test_a_fault_of_the_command_line_is_said_to_be_its(folder):
    error = error_of("board/fencepost.toml", {"board": {"thickness": "1"}})
    assert (error.file, error.key) == ("command line", "board.thickness")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('extends = "fencepost.toml"', ["circle", "fencepost.toml -> "]),
        ('extends = "../board/../board/fencepost.toml"', ["circle"]),
        ('extends = "../missing.toml"', ["no file", "missing.toml"]),
        ('extends = ".."', ["no file"]),
        ('extends = ""', ["names no file"]),
        ("extends = ['a.toml']", ["text in quotes", "a list"]),
    ],
)
def test_what_cannot_be_extended_is_an_error_at_that_key(folder, text, words):
    (folder / "board/fencepost.toml").write_text(text)
    error = error_of("board/fencepost.toml")
    assert (error.file, error.key) == ("board/fencepost.toml", "extends")
    assert [word for word in words if word not in error.message] == []


def test_a_circle_is_drawn_in_the_order_of_its_files(folder):
    (folder / "company.toml").write_text('extends = "other.toml"')
    (folder / "other.toml").write_text('extends = "company.toml"')
    error = error_of("board/fencepost.toml")
    assert error.file == "other.toml"
    assert error.message.endswith(": company.toml -> other.toml -> company.toml")


def test_a_chain_without_end_is_refused(folder):
    for i in range(LONGEST_CHAIN + 1):
        (folder / f"{i}.toml").write_text(f'extends = "{i + 1}.toml"')
    assert str(LONGEST_CHAIN) in error_of("0.toml").message


@pytest.mark.parametrize(
    ("waiver", "key", "word"),
    [
        ("reason = ' '", "waive[0].reason", "why"),
        ("reason = 'x'\nat = '1 mm, 2 mm'", "waive[0]", "radius"),
        ("reason = 'x'\nradius = '1 mm'", "waive[0]", "at"),
        ("reason = 'x'\nat = '1, 2'\nradius = '1 mm'", "waive[0].at", "unit"),
        ("reason = 'x'\nat = '1 mm'\nradius = '1 mm'", "waive[0].at", "31.2 mm, 18.45 mm"),
        ("reason = 'x'\nat = [1, 2]\nradius = '1 mm'", "waive[0].at", "31.2 mm, 18.45 mm"),
        ("reason = 'x'\nbox = '1, 2, 3 mm'", "waive[0].box", "10 mm, 5 mm"),
        ("reason = 'x'\nbox = '1, 2, 3, 4 furlong'", "waive[0].box", "furlong"),
    ],
)
def test_a_waiver_that_does_not_say_what_it_must_is_an_error(folder, waiver, key, word):
    (folder / "company.toml").write_text(f"[[waive]]\nrule = 'pour-tie'\n{waiver}\n")
    error = error_of("company.toml")
    assert (error.file, error.key) == ("company.toml", key)
    assert word in error.message
