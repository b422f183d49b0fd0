"""Frozen dataclasses that are made quickly do what those of the standard library do."""

from __future__ import annotations

import dataclasses
import pickle
from collections.abc import Callable
from dataclasses import field, fields, replace
from functools import cached_property
from typing import Any

import pytest

from fencepost import frozen


def classes(dataclass: Any) -> tuple[type, type]:
    """One with every kind of field, and one that compares as objects do."""

    @dataclass(frozen=True)
    class Whole:
        """A class."""

        x: int
        y: tuple[int, ...] = (1, 2)
        z: dict[str, int] = field(default_factory=dict, repr=False)
        settled: str = "no"

        def __post_init__(self) -> None:
            if self.x < 0:
                raise ValueError("x is below 0")

        @property
        def double(self) -> int:
            return 2 * self.x

        @cached_property
        def triple(self) -> int:
            return 3 * self.x

    @dataclass(frozen=True, eq=False)
    class Single:
        """A class."""

        value: object

        def __repr__(self) -> str:
            return "own"

    return Whole, Single


STANDARD, OURS = classes(dataclasses.dataclass), classes(frozen.dataclass)

ASKED: dict[str, Callable[[type, type], object]] = {
    "by place": lambda whole, _: repr(whole(1, (2,), {"a": 3}, "yes")),
    "by name": lambda whole, _: repr(whole(settled="yes", x=1)),
    "both": lambda whole, _: repr(whole(1, settled="yes")),
    "defaults": lambda whole, _: (whole(1).y, whole(1).z, whole(1).settled),
    "a default of its own each": lambda whole, _: whole(1).z is whole(1).z,
    "one that is missing": lambda whole, _: whole(),
    "one too many": lambda whole, _: whole(1, (), {}, "", 5),
    "given twice": lambda whole, _: whole(1, x=1),
    "of no such name": lambda whole, _: whole(1, w=1),
    "a missing one by another name": lambda whole, _: whole(w=1),
    "settled after it is filled": lambda whole, _: whole(-1),
    "equal": lambda whole, _: whole(1) == whole(1) and whole(1) != whole(2),
    "equal to another class": lambda whole, single: whole(1) == single(1),
    "not comparable": lambda whole, single: whole(1) == 1,
    "same hash": lambda whole, _: hash(whole(1, (), 0)) == hash(whole(1, (), 0)),
    "hash of what has none": lambda whole, _: hash(whole(1)),
    "as objects": lambda _, single: single(1) == single(1),
    "as objects, the same": lambda _, single: len({single(1), single(1)}),
    "own method kept": lambda _, single: repr(single(1)),
    "read": lambda whole, _: (whole(4).double, whole(4).triple),
    "replaced": lambda whole, _: repr(replace(whole(1), y=(), settled="yes")),
    "replaced by nothing there": lambda whole, _: replace(whole(1), w=1),
    "fields": lambda whole, single: [
        (each.name, each.type, each.repr) for kind in (whole, single) for each in fields(kind)
    ],
    "assigned": lambda whole, _: setattr(whole(1), "x", 2),
    "assigned anew": lambda whole, _: setattr(whole(1), "w", 2),
    "deleted": lambda whole, _: delattr(whole(1), "x"),
    "matched": lambda whole, _: whole.__match_args__,
}


def answer(question: Callable[[type, type], object], made: tuple[type, type]) -> object:
    try:
        return question(*made)
    except Exception as error:
        return type(error)


@pytest.mark.parametrize("name", ASKED)
def test_the_same_as_the_standard_library_makes(name: str) -> None:
    assert answer(ASKED[name], OURS) == answer(ASKED[name], STANDARD)


def test_the_questions_tell_apart_what_is_right_from_what_is_refused() -> None:
    """Of those above, these are errors, as the language and the standard library have it."""
    refused = {name: said for name in ASKED if isinstance(said := answer(ASKED[name], STANDARD), type)}
    assert refused == {
        **dict.fromkeys(["one that is missing", "one too many", "given twice", "of no such name"], TypeError),
        **dict.fromkeys(
            ["a missing one by another name", "hash of what has none", "replaced by nothing there"], TypeError
        ),
        "settled after it is filled": ValueError,
        **dict.fromkeys(["assigned", "assigned anew", "deleted"], dataclasses.FrozenInstanceError),
    }


@frozen.dataclass(frozen=True)
class AtTop:
    """Where pickle finds it."""

    x: int
    y: str = "a"


def test_it_goes_from_one_process_to_another() -> None:
    assert pickle.loads(pickle.dumps(AtTop(3))) == AtTop(3, "a")


def test_what_is_not_frozen_is_the_standard_librarys() -> None:
    @frozen.dataclass(slots=True, eq=False)
    class Open:
        x: int

    one = Open(1)
    one.x = 2
    assert one.x == 2 and not hasattr(one, "__dict__")
