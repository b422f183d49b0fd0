"""Work on several things at the same time: in threads, where a library lets go of the interpreter, or in processes."""

from __future__ import annotations

import gc
import multiprocessing
import os
import pickle
import signal
import sys
import threading
import traceback
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Generic, TypeVar

Item = TypeVar("Item")
Made = TypeVar("Made")

TOKENS = 4_096
"""Chunks of work that are handed out; so many fit into a pipe."""

NUMBER = 4
"""Bytes of the number of a chunk."""


def cpu_count() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def side_by_side(function: Callable[[Item], Made], items: Iterable[Item]) -> tuple[Made, ...]:
    """The function of each item, in their order, in as many threads as there are processors."""
    with ThreadPoolExecutor(cpu_count()) as threads:
        return tuple(threads.map(function, items))


def can_fork() -> bool:
    """Whether this process may share its work with copies of itself.

    Not where it is one of several already, nor in a thread: others may hold what the copy would wait for.
    """
    alone = multiprocessing.parent_process() is None and threading.current_thread() is threading.main_thread()
    return sys.platform == "linux" and alone and cpu_count() > 1


def in_processes(function: Callable[[Item], Made], items: Sequence[Item]) -> tuple[Made, ...]:
    """The function of each item, in their order, by this process and copies of it, one for each processor.

    They see all that this one has in memory, and hand back what they made. Whoever is done takes the next item. What
    the function raises is raised here: of several, that of the first item. A copy that dies is a RuntimeError.
    """
    count = min(cpu_count(), len(items)) if can_fork() else 1
    if count < 2:
        return tuple(map(function, items))
    size = -(-len(items) // TOKENS)
    chunks = [items[i : i + size] for i in range(0, len(items), size)]
    with _numbers(len(chunks)) as numbers, _frozen():
        copies: list[_Copy[Made]] = []
        try:
            copies.extend(_started(lambda: _worked(function, chunks, numbers)) for _ in range(count - 1))
            made = _worked(function, chunks, numbers)
            for copy in copies:
                made |= copy.made()
        finally:
            for copy in copies:
                copy.end()
    done = [made[i] for i in sorted(made)]
    for each in done:
        if isinstance(each, _Raised):
            if each.trace:
                each.error.__cause__ = _Elsewhere(each.trace)
            raise each.error
    return tuple(each for chunk in done if not isinstance(chunk, _Raised) for each in chunk)


@dataclass(frozen=True)
class _Raised:
    """What a function raised; `trace` where that was in another process, which keeps it from being shown."""

    error: Exception
    trace: str = ""


class _Elsewhere(Exception):
    """The traceback of an error in another process."""

    def __str__(self) -> str:
        return f"\n{self.args[0]}"


Worked = dict[int, "list[Made] | _Raised"]


def _worked(function: Callable[[Item], Made], chunks: Sequence[Sequence[Item]], numbers: int) -> Worked[Made]:
    """Chunks done by this process, until none is left or one fails: then those after it are left undone by all."""
    made: Worked[Made] = {}
    while number := os.read(numbers, NUMBER):
        i = int.from_bytes(number, sys.byteorder)
        try:
            made[i] = [function(item) for item in chunks[i]]
        except Exception as error:
            made[i] = _Raised(error)
            while os.read(numbers, NUMBER * TOKENS):
                pass
    return made


class _Copy(Generic[Made]):
    """Another process, and the pipe in which it hands back what it made."""

    def __init__(self, process: int, pipe: int) -> None:
        self._process = process
        self._pipe = os.fdopen(pipe, "rb")
        self._ended = False

    def made(self) -> Worked[Made]:
        data = self._pipe.read()
        self._ended = True
        if not data:
            raise RuntimeError("a process of the check ended early, perhaps for want of memory")
        made: Worked[Made] = pickle.loads(data)
        return made

    def end(self) -> None:
        """Whatever it is doing. Where nobody is told of the end of processes, there is nothing to wait for."""
        self._pipe.close()
        with suppress(ProcessLookupError, ChildProcessError):
            if not self._ended:
                os.kill(self._process, signal.SIGKILL)
            os.waitpid(self._process, 0)


def _started(work: Callable[[], Worked[Made]]) -> _Copy[Made]:
    ours, theirs = os.pipe()
    with warnings.catch_warnings():
        # Other threads, as that of the progress line, hold nothing that a copy asks for.
        warnings.simplefilter("ignore", DeprecationWarning)
        process = os.fork()
    if process:
        os.close(theirs)
        return _Copy(process, ours)
    # Nothing of what this process would do at its end is the copy's to do.
    try:
        os.close(ours)
        data = pickle.dumps({i: _sent(each) for i, each in work().items()}, pickle.HIGHEST_PROTOCOL)
        with os.fdopen(theirs, "wb") as file:
            file.write(data)
    finally:
        os._exit(0)


def _sent(each: list[Made] | _Raised) -> list[Made] | _Raised:
    if isinstance(each, _Raised):
        return _Raised(each.error, "".join(traceback.format_exception(each.error)))
    return each


@contextmanager
def _numbers(count: int) -> Iterator[int]:
    """A pipe that holds the numbers of all chunks: who reads one does that chunk."""
    numbers, into = os.pipe()
    try:
        os.write(into, b"".join(i.to_bytes(NUMBER, sys.byteorder) for i in range(count)))
        os.close(into)
        yield numbers
    finally:
        os.close(numbers)


@contextmanager
def _frozen() -> Iterator[None]:
    """What is in memory now stays shared: the collector would write to all of it."""
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()
