"""Values as TOML: what is written can be read back, by the standard library's reader and by the units' own."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fencepost.checking.finding import Severity
from fencepost.settings.written import key_part, written
from fencepost.units import Frequency, Impedance, Length, Ratio, Time


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Length(1.5), '"1.5 mm"'),
        (Length(0.05), '"0.05 mm"'),
        (Length.parse("80 mil"), '"2.032 mm"'),
        (Frequency(868e6), '"868 MHz"'),
        (Frequency(9.375e9), '"9.375 GHz"'),
        (Frequency(50.0), '"50 Hz"'),
        (Time.parse("0.5 ns"), '"500 ps"'),
        (Impedance(50.0), '"50 ohm"'),
        (Ratio(8.0), "8"),
        (Ratio(4.2), "4.2"),
        (True, "true"),
        (3, "3"),
        ("a \"b\"", r'"a \"b\""'),
        (Severity.WARNING, '"warning"'),
        (("GND", "A"), '["GND", "A"]'),
        ({"a b": 1}, '{ "a b" = 1 }'),
    ],
)  # fmt: skip
def test_a_value_is_written_as_a_person_would(value, text):
    assert written(value) == text
    tomllib.loads(f"x = {text}")


@given(text=st.text(st.characters(exclude_categories=["Cs"])) | st.text("#:[]\x1b\u202e\U000e0001a"))
def test_text_that_is_written_is_read_as_the_same_and_safe_to_print(text):
    """No control, no mark that turns the text, and nothing that a build's log takes for an order."""
    said = written(text)
    assert tomllib.loads(f"x = {said}")["x"] == text
    assert said.isprintable()
    assert "##" not in said


@pytest.mark.parametrize("kind", [Length, Frequency, Time, Impedance])
@given(value=st.floats(1e-12, 1e12))
def test_a_quantity_that_is_written_is_read_as_the_same(kind, value):
    text = tomllib.loads(f"x = {written(kind(value))}")["x"]
    assert kind.parse(text) == pytest.approx(value, rel=1e-11)


@given(key=st.text(st.characters(exclude_categories=["Cs"])))
def test_a_key_is_quoted_where_toml_needs_it(key):
    assert tomllib.loads(f"{key_part(key)} = 1") == {key: 1}
