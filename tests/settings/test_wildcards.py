"""Patterns made from names: they fit these names and no others, as the settings read them."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from fencepost.settings.patterns import matches
from fencepost.settings.wildcards import pattern_for, patterns_for


@pytest.mark.parametrize(
    ("wanted", "others", "patterns"),
    [
        ("RF_ANT RF_TX", "LED RESET", ["RF_*"]),
        ("RF_ANT RF_TX", "LED RF_EN", ["RF_ANT", "RF_TX"]),
        ("USB_DP USB_DM", "USB_ID", ["USB_DM", "USB_DP"]),
        ("USB_D_P USB_D_N", "USB_ID USB_DET", ["USB_D_*"]),
        ("MEM_D0 MEM_D1 MEM_CLK", "MEM_RST", ["MEM_CLK", "MEM_D*"]),
        ("SD_D0 SD_D1", "SD_DET", ["SD_D[0-9]*"]),
        ("A0 A1 A15", "AGND", ["A[0-9]*"]),
        ("A0 A1 CLK", "", ["A[0-9]*", "CLK"]),
        ("/a/DSI-D0 /a/DSI-D1", "/a/LED DSI", ["*/DSI-D*"]),
        ("/a/CLK", "/b/LED", ["*/CLK"]),
        ("/a/CLK", "/b/CLK", ["/a/CLK"]),
        ("/S0DQ0 /S0DQ1", "/S0A0", ["/S0DQ*"]),
        ("MDI[0]+ MDI[1]+", "", ["MDI*"]),
        ("D[0]", "D0", ["D[[]0]"]),
        ("A*", "AB", ["A[*]"]),
        ("A?", "AB", ["A[?]"]),
        ("", "GND", []),
    ],
)
def test_names_that_begin_alike_share_a_pattern(wanted: str, others: str, patterns: list[str]) -> None:
    assert list(patterns_for(wanted.split(), others.split())) == patterns


NAMES = st.one_of(
    st.lists(st.text(alphabet, min_size=1, max_size=6), min_size=1, max_size=12, unique=True)
    for alphabet in ("AB1_/[]!-", "AB1_/*?!-")
)
"""With brackets, or with `*` and `?`: where names hold both, some have no pattern of their own."""


@given(NAMES, st.data())
@example(["D[0]", "D0"], None)
def test_patterns_fit_the_wanted_names_and_no_others(names: list[str], data: st.DataObject | None) -> None:
    wanted = [name for name in names if data.draw(st.booleans())] if data else names[:1]
    others = [name for name in names if name not in wanted]
    patterns = patterns_for(wanted, others)
    assert [name for name in names if matches(name, patterns)] == [name for name in names if name in wanted]
    assert all(any(matches(name, (pattern,)) for name in wanted) for pattern in patterns)


@given(NAMES)
def test_a_pattern_for_one_name_fits_it_alone(names: list[str]) -> None:
    assert [name for name in names if matches(name, (pattern_for(names[0], names),))] == names[:1]


def test_half_a_character_is_written_as_any_character() -> None:
    """A lone surrogate can be in a Gerber file by its escape, but not in a TOML file."""
    assert pattern_for("A\ud800", ["A\ud800", "AB", "ABC"]) == "A?"
