"""Lists of names as a person would write them: `D0..7, CLK, and 12 more`.

Boards have hundreds of nets. Names that differ in a number only are drawn together, and a list that grows too long ends
in how many names it leaves out.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from itertools import pairwise

_NUMBER = re.compile(r"([0-9]{1,9})")

FEWEST = 3
"""Names that a range stands for; of two, both are written."""

LONGEST = 200
"""Characters of a list where nothing else is said."""


def tail(name: str) -> str:
    """A net's own name, without the path of sheets before the last slash."""
    return name.rsplit("/", 1)[-1] or name


def listed(names: Iterable[str], longest: int | None = LONGEST) -> str:
    """The names in one line, in the order of their letters and numbers.

    Sheet paths are left out where that leaves all names different. The list ends in `and 12 more` rather than exceed
    `longest` characters by much; None lists all.
    """
    items = ranges(short_names(names))
    shown: list[str] = []
    length = 0
    for item, _ in items:
        length += len(item) + 2
        if longest is not None and shown and length > longest:
            break
        shown.append(item)
    rest = sum(count for _, count in items[len(shown) :])
    return ", ".join([*shown, f"and {rest} more"] if rest else shown)


def short_names(names: Iterable[str]) -> list[str]:
    """Each name without its sheet path, or whole where another one would read the same."""
    known = list(names)
    count = Counter(map(tail, known))
    return [tail(name) if count[tail(name)] == 1 else name for name in known]


def ranges(names: Iterable[str]) -> list[tuple[str, int]]:
    """Names, those that count up drawn together, and how many names each item stands for.

    `D0`, `D1`, `D2` become `D0..2`; `D0A0`, `D1A1`, `D2A2` become `D0..2A0..2`: several numbers may count up together.
    """
    parts = sorted((_NUMBER.split(name) for name in set(names)), key=_order)
    runs: list[list[list[str]]] = []
    step: tuple[int, ...] = ()
    for before, one in pairwise([[], *parts]):
        found = _step(before, one)
        if runs and any(found) and (len(runs[-1]) == 1 or found == step):
            runs[-1].append(one)
        else:
            runs.append([one])
        step = found
    return [item for run in runs for item in _items(run)]


def _order(parts: list[str]) -> tuple[list[str], list[tuple[int, str]]]:
    """Names alike but for their numbers stand together, in the order of these."""
    return parts[::2], [(int(number), number) for number in parts[1::2]]


def _step(before: list[str], after: list[str]) -> tuple[int, ...]:
    """For each number 1 where it counts up by one, 0 where it stays; () where the names differ in more."""
    if before[::2] != after[::2]:
        return ()
    steps = []
    for one, other in zip(before[1::2], after[1::2], strict=True):
        if one == other:
            steps.append(0)
        elif other == str(int(one) + 1).zfill(len(one)):
            steps.append(1)
        else:
            return ()
    return tuple(steps)


def _items(run: list[list[str]]) -> list[tuple[str, int]]:
    if len(run) < FEWEST:
        return [("".join(parts), 1) for parts in run]
    first, last = run[0], run[-1]
    drawn = (a if a == b else f"{a}..{b}" for a, b in zip(first, last, strict=True))
    return [("".join(drawn), len(run))]
