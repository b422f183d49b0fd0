"""Faults alike are one line and not five hundred."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from typing import TypeVar

FEW = 3
"""Faults alike that are still reported one by one."""

SHOWN = 5
"""Places of many faults alike that are named."""

F = TypeVar("F")


def folded(faults: Iterable[F], alike: Callable[[F], Hashable], worst: Callable[[F], float]) -> list[list[F]]:
    """Faults in groups that are one finding each, the worst (lowest figure) first.

    Up to FEW faults that are alike stay by themselves: each of them is somebody's own mistake. More of them are one
    fault of a rule or a tool that made them all.
    """
    groups: dict[Hashable, list[F]] = {}
    for fault in faults:
        groups.setdefault(alike(fault), []).append(fault)
    result: list[list[F]] = []
    for group in groups.values():
        group.sort(key=worst)
        result.extend([group] if len(group) > FEW else ([fault] for fault in group))
    return result
