"""Lists of names: what is drawn together can be taken apart again, and nothing is left out unsaid."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fencepost.names import listed, ranges, short_names, tail


@pytest.mark.parametrize(
    ("names", "line"),
    [
        ("D0 D1 D2 D3", "D0..3"),
        ("D3 D1 D0 D2 CLK", "CLK, D0..3"),
        ("D0 D1", "D0, D1"),
        ("D8 D9 D10 D11", "D8..11"),
        ("D08 D09 D10", "D08..10"),
        ("D8 D09 D10", "D8, D09, D10"),
        ("D0 D1 D2 D4 D6 D7 D8", "D0..2, D4, D6..8"),
        ("DQS0_P DQS1_P DQS2_P DQS0_N DQS1_N DQS2_N", "DQS0..2_N, DQS0..2_P"),
        ("A0B0 A1B1 A2B2", "A0..2B0..2"),
        ("A0B0 A0B1 A0B2 A1B0 A1B1 A1B2", "A0B0..2, A1B0..2"),
        ("A0B2 A1B1 A2B0", "A0B2, A1B1, A2B0"),
        ("MDI[0]+ MDI[1]+ MDI[2]+", "MDI[0..2]+"),
        ("/a/X /b/Y /Z0 /Z1 /Z2", "X, Y, Z0..2"),
        ("/a/X /b/X /b/Y", "/a/X, /b/X, Y"),
        ("", ""),
    ],
)
def test_a_list_reads_as_a_person_would_write_it(names: str, line: str) -> None:
    assert listed(names.split()) == line


def test_a_list_that_is_too_long_says_how_many_names_it_leaves_out() -> None:
    names = [f"N{i}x{i * i}" for i in range(100)]
    line = listed(names, 60)
    shown = re.findall(r"N\d+x\d+", line)
    assert line.endswith(f", and {100 - len(shown)} more")
    assert 0 < len(shown) < 100
    assert len(line) < 60 + len(", and 100 more")
    assert listed(names, None).count("N") == 100


def test_ranges_that_are_left_out_count_as_the_names_they_stand_for() -> None:
    names = ["A", *(f"B{i}" for i in range(10))]
    assert listed(names, 2) == "A, and 10 more"


@pytest.mark.parametrize(("name", "own"), [("/a b/c/D", "D"), ("/D", "D"), ("D", "D"), ("a/", "a/"), ("", "")])
def test_a_sheet_path_ends_at_the_last_slash(name: str, own: str) -> None:
    assert tail(name) == own


@given(st.lists(st.sampled_from(["/a/X", "/b/X", "/b/Y", "/X", "Z", "Z/"])))
def test_short_names_are_as_many_as_the_names(names: list[str]) -> None:
    distinct = sorted(set(names))
    assert len(set(short_names(distinct))) == len(distinct)


def taken_apart(item: str, count: int) -> list[str]:
    """The names that an item of `ranges` stands for."""
    spans = [(int(a), int(b), len(a)) for a, b in re.findall(r"(\d+)\.\.(\d+)", item)]
    if not spans:
        return [item]
    shape = re.sub(r"\d+\.\.\d+", "{}", item)
    assert {b - a + 1 for a, b, _ in spans} == {count}
    return [shape.format(*(str(a + i).zfill(wide) for a, _, wide in spans)) for i in range(count)]


@given(st.lists(st.from_regex(r"\A[A-C]?[0-9]{0,2}(_[0-9]{1,2})?[PN]?\Z").filter(bool), max_size=40))
def test_every_name_is_in_one_range(names: list[str]) -> None:
    apart = [name for item, count in ranges(names) for name in taken_apart(item, count)]
    assert sorted(apart) == sorted(set(names))
