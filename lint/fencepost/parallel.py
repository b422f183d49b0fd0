"""Several processors: how many, threads on them, and whether this process may be copied."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterable
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
    from concurrent.futures import ThreadPoolExecutor  # Not needed at each start, and not light.

    with ThreadPoolExecutor(cpu_count()) as threads:
        return tuple(threads.map(function, items))


def can_fork() -> bool:
    """Whether this process may share its work with copies of itself.

    Not where it is one of several already, nor in a thread: others may hold what the copy would wait for.
    """
    alone = not _is_one_of_several() and threading.current_thread() is threading.main_thread()
    return sys.platform == "linux" and hasattr(os, "memfd_create") and alone and cpu_count() > 1


def _is_one_of_several() -> bool:
    """Whether `multiprocessing` has started this process, which it then has in memory."""
    started_by = sys.modules.get("multiprocessing.process")
    return started_by is not None and started_by.parent_process() is not None
