"""Names from a file reach a terminal or a build's log as text and as nothing else."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fencepost.report.escape import escape


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("GND", "GND"),
        ("+3V3/A B.Ω_µ-é漢", "+3V3/A B.Ω_µ-é漢"),
        ("\x1b[31mred\x1b[0m", r"\x1b[31mred\x1b[0m"),
        ("\x1b]0;title\x07", r"\x1b]0;title\x07"),
        ("\x9b2J", r"\x9b2J"),
        ("a\nfab/x.gbr:1:1: error: forged", r"a\nfab/x.gbr:1:1: error: forged"),
        ("a\rb\tc\x00d\x7f", r"a\rb\tc\x00d\x7f"),
        ("user\u202etxt.exe", r"user\u202etxt.exe"),
        ("\u2066a\u2069\u200f", r"\u2066a\u2069\u200f"),
        ("zero\u200bwidth\ufeff\u00ad", r"zero\u200bwidth\ufeff\xad"),
        ("line\u2028para\u2029nel\x85", r"line\u2028para\u2029nel\x85"),
        ("no\u00a0break", r"no\xa0break"),
        ("\ud800", r"\ud800"),
        ("\U000e0041tag", r"\U000e0041tag"),
        ("[bold red]x[/]", "[bold red]x[/]"),
        ("::error file=a::b", r"\x3a:error file=a::b"),
        ("  ::set-output name=a::b", r"  \x3a:set-output name=a::b"),
        ("a::b", "a::b"),
        ("##[error]x", r"\x23#[error]x"),
        ("net ###vso[task.complete]x", r"net #\x23#vso[task.complete]x"),
        ("##service[x]", r"\x23#service[x]"),
        ("#1 ## two", "#1 ## two"),
    ],
)
def test_what_a_terminal_or_a_log_would_obey_is_shown_by_its_number(name, shown):
    assert escape(name) == shown


@given(st.text())
def test_nothing_that_is_not_visible_is_left(name):
    """Reference: the categories of the Unicode standard, as unicodedata gives them."""
    shown = escape(name)
    categories = {unicodedata.category(char) for char in shown if char != " "}
    assert not {kind for kind in categories if kind[0] in "CZ"}
    assert len(shown.splitlines()) <= 1
    assert not shown.lstrip().startswith("::")


@given(st.text())
def test_what_is_visible_already_stays_and_escaping_twice_changes_nothing(name):
    once = escape(name)
    assert escape(once) == once
    if name.isalnum():
        assert once == name
