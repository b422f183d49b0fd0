"""Patterns of net names, and what class a net is in."""

from __future__ import annotations

from fnmatch import fnmatchcase

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from fencepost.errors import SettingsError
from fencepost.settings.model import DrillClaim, NetClass, NetSettings, Settings, Waiver
from fencepost.settings.patterns import matches, net_class_of, unmatched_files, unmatched_patterns
from fencepost.units import Frequency


@pytest.mark.parametrize(
    ("name", "pattern", "fits"),
    [
        ("GND", "GND", True),
        ("gnd", "GND", False),
        ("AGND", "GND", False),
        ("AGND", "*GND", True),
        ("RF_IN", "RF_*", True),
        ("+3V3", "+*", True),
        ("/sheet/CLK", "*CLK", True),
        ("D1", "D?", True),
        ("D12", "D?", False),
        ("USB_DP", "USB_D[PN]", True),
        ("USB_DX", "USB_D[PN]", False),
        ("DATA[0]", "DATA[0]", True),
        ("DATA[7]", "DATA[*]", True),
        ("DATA[7]", "DATA[?]", True),
        ("DATA[17]", "DATA[?]", False),
        ("ADDR[7]", "DATA[*]", False),
        ("A[", "A[", True),
        ("A\nB", "A*", True),
    ],
)
def test_patterns_are_shell_style_mind_case_and_take_brackets_both_ways(name, pattern, fits):
    assert matches(name, [pattern]) is fits


@given(name=st.text("AB[]*?!-", max_size=6), pattern=st.text("AB[]*?!-", max_size=6))
@example(name="A", pattern="[]")
def test_a_pattern_fits_by_its_letters_or_as_the_standard_library_reads_it_with_or_without_classes(name, pattern):
    """Reference: fnmatch.fnmatchcase."""
    literal = fnmatchcase(name, "".join("[[]" if char == "[" else char for char in pattern))
    assert matches(name, [pattern]) == (fnmatchcase(name, pattern) or literal)
    assert matches(name, [name])


def test_no_pattern_fits_nothing_and_several_fit_each():
    assert not matches("", [])
    assert not matches("A", [])
    assert [matches(name, ["A", "B*"]) for name in ("A", "B1", "C")] == [True, True, False]


RADIO = NetClass(name="radio", nets=("RF_*",), frequency=Frequency(1e9))
FAST = NetClass(name="fast", nets=("CLK", "*_IN"), frequency=Frequency(2e9))


def test_a_net_is_in_the_class_whose_pattern_it_fits():
    settings = Settings(classes=(RADIO, FAST))
    assert [net_class_of(settings, name) for name in ("RF_OUT", "CLK", "LED")] == [RADIO, FAST, None]


def test_a_net_in_two_classes_is_an_error_that_names_both():
    with pytest.raises(SettingsError) as caught:
        net_class_of(Settings(classes=(RADIO, FAST)), "RF_IN")
    assert caught.value.key == "class[1].nets"
    for word in ('"RF_IN"', '"radio"', '"RF_*"', '"fast"', '"*_IN"'):
        assert word in caught.value.message


def test_patterns_that_fit_no_net_are_listed_with_their_paths():
    settings = Settings(
        nets=NetSettings(ground=("GND", "PGND"), power=("V*",)),
        classes=(RADIO, FAST),
        waive=(Waiver(rule="a", reason="b", nets=("LED_*", "RF_*")),),
    )
    said = unmatched_patterns(["GND", "RF_IN"], settings)
    assert [message.split(":")[0] for message in said] == [
        "nets.ground[1]",
        "nets.power[0]",
        "class[1].nets[0]",
        "waive[0].nets[0]",
    ]
    assert '"PGND"' in said[0]


def test_files_that_the_settings_name_and_the_package_has_not_are_listed_with_their_paths():
    settings = Settings(
        layers={"top.gbr": "L1", "inner/top.gbr": "L2", "old.gbr": "L3"},
        drill={"a.drl": DrillClaim(plated=True), "b.drl": DrillClaim(plated=True)},
    )
    said = unmatched_files(["fab/top.gbr", "fab/inner/top.gbr", "fab/a.drl"], settings)
    assert [message.split(": ")[0] for message in said] == ['layers."old.gbr"', 'drill."b.drl"']
