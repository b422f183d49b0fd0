"""Work on several things at the same time, where a library lets go of the interpreter."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")
Made = TypeVar("Made")


def cpu_count() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def side_by_side(function: Callable[[Item], Made], items: Iterable[Item]) -> tuple[Made, ...]:
    """The function of each item, in their order, in as many threads as there are processors."""
    with ThreadPoolExecutor(cpu_count()) as threads:
        return tuple(threads.map(function, items))
