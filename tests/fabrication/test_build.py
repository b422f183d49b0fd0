"""Limits by class and level, and what the settings may say of them."""

from __future__ import annotations

from itertools import pairwise

import pytest

from boards import settings_of
from fencepost.errors import SettingsError
from fencepost.fabrication.build import Build, build_of
from fencepost.fabrication.folding import FEW, folded


def build(text: str = "") -> Build:
    return build_of(settings_of(f"[board]\n{text}").board)


@pytest.mark.parametrize(
    ("text", "outer", "inner"),
    [
        ("", 0.10, 0.10),
        ("build_class = 2", 0.10, 0.10),
        ('build_class = 2\nlevel = "C"', 0.10, 0.10),
        ('level = "B"', 0.125, 0.125),
        ('level = "A"', 0.20, 0.20),
        ("build_class = 3", 0.15, 0.125),
        ('build_class = 3\nlevel = "B"', 0.175, 0.15),
        ('build_class = 3\nlevel = "A"', 0.25, 0.225),
    ],
)
def test_rings_are_what_is_kept_and_half_the_allowance(text: str, outer: float, inner: float) -> None:
    """Kept: IPC-6012D, 0.050 and 0.025 mm in class 3; allowance: IPC-2221B, 0.4, 0.25, 0.2 mm. Both from memory."""
    assert (build(text).ring_outer, build(text).ring_inner) == (pytest.approx(outer), pytest.approx(inner))


def test_what_holds_where_nothing_is_said_is_common_practice() -> None:
    """No source."""
    plain = build()
    assert (plain.plating, plain.drill, plain.aspect, plain.wall) == (0.1, 0.25, 10.0, 0.2)
    assert (plain.spacing, plain.barrel, plain.unplated) == (0.1, 0.15, 0.2)


def test_levels_go_from_wide_to_fine() -> None:
    levels = [build(f'level = "{level}"') for level in "ABC"]
    for wide, fine in pairwise(levels):
        for name in ("ring_outer", "ring_inner", "drill", "wall", "spacing", "barrel", "unplated"):
            assert getattr(wide, name) > getattr(fine, name), name
        assert wide.aspect < fine.aspect


def test_plating_is_taken_from_the_settings() -> None:
    assert build('plating = "50 um"').plating == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("text", "key", "said"),
    [
        ("build_class = 4", "board.build_class", "4 is none of 2, 3"),
        ("build_class = 2.0", "board.build_class", "2.0 is none of 2, 3"),
        ('build_class = "2"', "board.build_class", '"2" is none of 2, 3'),
        ("build_class = true", "board.build_class", "is none of 2, 3"),
        ('level = "D"', "board.level", '"D" is none of "A", "B", "C"'),
        ('level = "c"', "board.level", '"c" is none of "A", "B", "C"'),
        ("plating = 0.1", "board.plating", "not a length with a unit"),
    ],
)
def test_an_unknown_class_or_level_is_an_error_that_names_the_known_ones(text: str, key: str, said: str) -> None:
    with pytest.raises(SettingsError) as caught:
        build(text)
    assert caught.value.key == key
    assert said in caught.value.message


@pytest.mark.parametrize(("count", "groups"), [(0, 0), (1, 1), (FEW, FEW), (FEW + 1, 1), (500, 1)])
def test_few_faults_alike_stay_apart_and_many_are_one(count: int, groups: int) -> None:
    found = folded(range(count, 0, -1), lambda fault: "alike", float)
    assert len(found) == groups
    assert sum(map(len, found)) == count
    assert all(group[0] == min(group) for group in found)
