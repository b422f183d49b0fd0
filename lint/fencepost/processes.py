"""Copies of this process that take part in its work."""

from __future__ import annotations

import gc
import os
import pickle
import signal
import sys
import traceback
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, suppress
from functools import partial
from io import BufferedWriter
from mmap import mmap
from typing import Generic, Self, TypeVar

from fencepost.frozen import dataclass
from fencepost.parallel import can_fork, cpu_count

Item = TypeVar("Item")
Made = TypeVar("Made")

TOKENS = 4_096
"""Chunks of work that are handed out; so many fit into a pipe."""

NUMBER = 4
"""Bytes of the number of a chunk, or of how many there are."""

Spare = Callable[[Made, Callable[[], bool]], Made]


def in_processes(
    function: Callable[[Item], Made], items: Sequence[Item], spare: Spare[Made] | None = None
) -> tuple[Made, ...]:
    """The function of each item, in their order, by this process and copies of it, one for each processor.

    They see all that this one has in memory, and hand back what they made. Whoever is done takes the next item. What
    the function raises is raised here: of several, that of the first item. A copy that dies is a RuntimeError.

    Once no item is left, whoever is done does more on what it made, in the time to spare: `spare` is called with that
    and with a function that says whether others still are at their items.
    """
    with Work(function, items, spare=spare) as work:
        return work.finished()


class Work(Generic[Item, Made]):
    """Items that copies of this process work on at once; this process may do something else first.

    The first items are for the copies. What takes long is best put there: what a copy keeps in memory is lost with it.
    As a context it leaves none of them running behind. Where there can be no copies, nothing is done before the end.
    """

    def __init__(
        self,
        function: Callable[[Item], Made],
        items: Sequence[Item],
        copied: bool = True,
        spare: Spare[Made] | None = None,
    ) -> None:
        self._function = function
        self._spare = spare
        size = max(-(-len(items) // TOKENS), 1)
        self._chunks = [items[i : i + size] for i in range(0, len(items), size)]
        self._left = iter(range(len(self._chunks)))
        self._first: int | None = None
        self._shared: _Shared | None = None
        self._begun_by = os.getpid()
        self._copies: list[_Copy[Made]] = []
        others = min(cpu_count(), len(self._chunks)) - 1 if copied and can_fork() else 0
        if others > 0:
            self._shared = _Shared(len(self._chunks))
            # What is in memory now stays shared: the collector would write to all of it.
            gc.freeze()
            for _ in range(others):
                self._first = self._taken()
                try:
                    self._copies.append(_started(self._worked))
                except OSError:  # Where no more processes may be, fewer do it.
                    break
                self._first = None

    def finished(self) -> tuple[Made, ...]:
        """What the function made of each item, once this process has taken part. Raises what the function raised."""
        made = dict(self._worked())
        for copy in self._copies:
            made |= copy.made()
        done = [made[i] for i in sorted(made)]
        for each in done:
            if isinstance(each, _Raised):
                if each.trace:
                    each.error.__cause__ = _Elsewhere(each.trace)
                raise each.error
        return tuple(each for chunk in done if not isinstance(chunk, _Raised) for each in chunk)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *ended: object) -> None:
        for copy in self._copies:
            copy.end()
        if self._shared is not None:
            self._shared.close()
            gc.unfreeze()

    def _worked(self) -> Iterator[Worked[Made]]:
        """Chunks done by this process, until none is left or one fails: then those after it are left undone by all.

        Each comes as soon as nothing more will be done on it.
        """
        shared, spare = self._shared, self._spare
        rough: dict[int, list[Made]] = {}
        for i in iter(self._taken, None):
            made = self._tried(partial(self._of_chunk, i))
            if shared is not None:
                shared.done[i] = 1
            if shared is None or spare is None or isinstance(made, _Raised):
                yield i, made
            else:
                rough[i] = made
        if shared is not None and spare is not None:
            for i, each in rough.items():
                yield i, self._tried(partial(self._more_of, each, spare, shared.undone))

    def _taken(self) -> int | None:
        """The next chunk, which then is nobody else's; of a copy its own first one, to begin with.

        None once the process that began this is gone: nobody would hear of it.
        """
        if self._begun_by not in (os.getpid(), os.getppid()):
            return None
        if self._first is not None:
            first, self._first = self._first, None
            return first
        return next(self._left, None) if self._shared is None else self._shared.taken()

    def _of_chunk(self, i: int) -> list[Made]:
        return [self._function(item) for item in self._chunks[i]]

    def _more_of(self, made: list[Made], spare: Spare[Made], undone: Callable[[], bool]) -> list[Made]:
        return [spare(each, undone) for each in made]

    def _tried(self, function: Callable[[], list[Made]]) -> list[Made] | _Raised:
        try:
            return function()
        except Exception as error:
            for _ in iter(self._taken, None):
                pass
            return _Raised(error)


class _Shared:
    """What all processes take from and write to: the numbers of chunks that nobody has taken, and which are done."""

    def __init__(self, count: int) -> None:
        self._numbers, into = os.pipe()
        os.write(into, b"".join(i.to_bytes(NUMBER, sys.byteorder) for i in range(count)))
        os.close(into)
        self.done = mmap(-1, count)

    def taken(self) -> int | None:
        number = os.read(self._numbers, NUMBER)
        return int.from_bytes(number, sys.byteorder) if number else None

    def undone(self) -> bool:
        return self.done.find(b"\0", 0) >= 0

    def close(self) -> None:
        os.close(self._numbers)
        self.done.close()


@dataclass(frozen=True)
class _Raised:
    """What a function raised; `trace` where that was in another process, which keeps it from being shown."""

    error: Exception
    trace: str = ""


class _Elsewhere(Exception):
    """The traceback of an error in another process."""

    def __str__(self) -> str:
        return f"\n{self.args[0]}"


Worked = tuple[int, "list[Made] | _Raised"]
"""The number of a chunk, and what was made of it."""


class _Copy(Generic[Made]):
    """Another process, the file in memory in which it leaves what it made, and the pipe in which it says how much."""

    def __init__(self, process: int, told: int, left: int) -> None:
        self._process = process
        self._told = told
        self._left = os.fdopen(left, "rb")
        self._ended = False

    def made(self) -> dict[int, list[Made] | _Raised]:
        count = os.read(self._told, NUMBER)
        self._ended = True
        if not count:
            raise RuntimeError("a process of the check ended early, perhaps for want of memory")
        self._left.seek(0)
        return dict(pickle.load(self._left) for _ in range(int.from_bytes(count, sys.byteorder)))

    def end(self) -> None:
        """Whatever it is doing. Where nobody is told of the end of processes, there is nothing to wait for."""
        os.close(self._told)
        self._left.close()
        with suppress(ProcessLookupError, ChildProcessError):
            if not self._ended:
                os.kill(self._process, signal.SIGKILL)
            os.waitpid(self._process, 0)


def _started(work: Callable[[], Iterator[Worked[Made]]]) -> _Copy[Made]:
    with ExitStack() as undo:
        told, tell = os.pipe()
        undo.callback(os.close, tell)
        undo.callback(os.close, told)
        left = os.memfd_create("made")
        undo.callback(os.close, left)
        with warnings.catch_warnings():
            # Other threads, as that of the progress line, hold nothing that a copy asks for.
            warnings.simplefilter("ignore", DeprecationWarning)
            process = os.fork()
        undo.pop_all()
    if process:
        os.close(tell)
        return _Copy(process, told, left)
    # Nothing of what this process would do at its end is the copy's to do.
    try:
        os.close(told)
        count = 0
        with os.fdopen(left, "wb") as file:
            for worked in work():
                _leave(file, worked)
                count += 1
        os.write(tell, count.to_bytes(NUMBER, sys.byteorder))
    finally:
        os._exit(0)


def _leave(file: BufferedWriter, worked: Worked[Made]) -> None:
    """Put down what was made of a chunk, as soon as that is: nobody waits for it yet."""
    i, each = worked
    if isinstance(each, _Raised):
        each = _Raised(each.error, "".join(traceback.format_exception(each.error)))
    pickle.dump((i, each), file, pickle.HIGHEST_PROTOCOL)
