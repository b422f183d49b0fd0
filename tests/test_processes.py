"""Work shared with copies of a process: nothing is lost, nothing is done twice, and what goes wrong is told."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from fencepost import parallel, processes
from fencepost.errors import InputError, InputErrors, RuleCrash, SettingsError, UsageError
from fencepost.parallel import can_fork
from fencepost.processes import Work, in_processes

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="processes are not copied on this system")


@pytest.fixture(autouse=True)
def two_processors(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(processes, "cpu_count", lambda: 2)
    monkeypatch.setattr(processes, "can_fork", lambda: True)


@pytest.mark.parametrize("count", (0, 1, 2, 7, processes.TOKENS, 2 * processes.TOKENS + 3))
def test_each_item_is_done_once_and_in_its_place(count: int, tmp_path: Path) -> None:
    log = os.open(tmp_path / "log", os.O_CREAT | os.O_APPEND | os.O_WRONLY)

    def square(i: int) -> int:
        os.write(log, b"x")
        return i * i

    assert in_processes(square, range(count)) == tuple(i * i for i in range(count))
    assert (tmp_path / "log").stat().st_size == count


def test_both_processes_work(tmp_path: Path) -> None:
    """Each waits for the other: alone, one would wait for ever."""
    read, write = zip(os.pipe(), os.pipe(), strict=True)

    def meet(i: int) -> int:
        os.write(write[i], b"x")
        os.read(read[1 - i], 1)
        return os.getpid()

    assert len(set(in_processes(meet, (0, 1)))) == 2


def test_the_first_item_is_for_a_copy() -> None:
    here = os.getpid()
    assert in_processes(lambda _: os.getpid(), range(5))[0] != here


def test_where_no_process_may_be_made_this_one_does_all_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse() -> int:
        raise BlockingIOError

    monkeypatch.setattr(os, "fork", refuse)
    assert in_processes(lambda i: (i, os.getpid()), range(5)) == tuple((i, os.getpid()) for i in range(5))


def test_what_is_made_may_be_larger_than_a_pipe_holds() -> None:
    assert [len(made) for made in in_processes(lambda size: b"x" * size, (3_000_000, 5_000_000))] == [
        3_000_000,
        5_000_000,
    ]


@pytest.mark.parametrize(
    "error",
    (
        InputError("a.gbr", 3, 4, "is wrong", cure="x = 1"),
        InputError(file="a.gbr", line=0, column=0, message="is wrong"),
        InputErrors(errors=(InputError("a", 1, 2, "b"), InputError("c", 3, 4, "d"))),
        SettingsError("", key="board", message="is empty"),
        UsageError("no such rule"),
        RuleCrash("rule x failed"),
        MemoryError(),
        OSError(2, "No such file", "x"),
    ),
    ids=repr,
)
def test_what_is_raised_in_any_process_is_raised_here(error: Exception) -> None:
    def fail(i: int) -> None:
        raise error

    with pytest.raises(type(error)) as raised:
        in_processes(fail, range(8))
    assert str(raised.value) == str(error)
    assert repr(raised.value) == repr(error)


def test_of_several_errors_that_of_the_first_item_is_raised() -> None:
    """The first waits for the second to fail."""
    read, write = os.pipe()

    def fail(i: int) -> None:
        if i == 0:
            os.read(read, 1)
        if i == 1:
            os.write(write, b"x")
        raise ValueError(i)

    with pytest.raises(ValueError, match="0"):
        in_processes(fail, range(20))


def test_an_error_elsewhere_brings_its_traceback() -> None:
    here = os.getpid()
    read, write = os.pipe()

    def fail_there(i: int) -> None:
        if os.getpid() != here:
            os.write(write, b"x")
            raise ValueError("there")
        os.read(read, 1)

    with pytest.raises(ValueError, match="there") as raised:
        in_processes(fail_there, range(2))
    assert "in fail_there" in str(raised.value.__cause__)


def test_a_copy_that_dies_is_an_error() -> None:
    here = os.getpid()
    read, write = os.pipe()

    def die(i: int) -> None:
        if os.getpid() != here:
            os.write(write, b"x")
            os.kill(os.getpid(), signal.SIGKILL)
        os.read(read, 1)

    with pytest.raises(RuntimeError, match="ended early"):
        in_processes(die, range(2))


def told(pipe: int) -> int:
    """The number that another process wrote."""
    return int.from_bytes(os.read(pipe, 8), "big")


def tell(pipe: int, number: int) -> None:
    os.write(pipe, number.to_bytes(8, "big"))


def test_nothing_is_left_behind_when_work_is_interrupted() -> None:
    """The copy is in the middle of an item that would take an hour."""
    here = os.getpid()
    read, write = os.pipe()
    copies: list[int] = []

    def wait(i: int) -> None:
        if os.getpid() == here:
            copies.append(told(read))
            raise KeyboardInterrupt
        tell(write, os.getpid())
        signal.sigtimedwait([], 3600)

    with pytest.raises(KeyboardInterrupt):
        in_processes(wait, range(2))
    with pytest.raises(ProcessLookupError):
        os.kill(copies[0], 0)


def test_a_copy_whose_process_is_gone_takes_no_more() -> None:
    """Killed while both are at an item: the copy ends with its own, and the log with it."""
    log, noted = os.pipe()
    go, free = os.pipe()

    def wait(i: int) -> None:
        os.write(noted, b"x")
        os.read(go, 1)

    process = os.fork()
    if not process:
        try:
            in_processes(wait, range(6))
        finally:
            os._exit(0)
    os.close(noted)
    assert os.read(log, 1) + os.read(log, 1) == b"xx"
    os.kill(process, signal.SIGKILL)
    os.waitpid(process, 0)
    os.write(free, b"......")
    assert os.read(log, 1) == b""


def test_copies_begin_at_once_and_this_process_joins_them() -> None:
    """The copy has done both items before this process asks for any."""
    here = os.getpid()
    read, write = os.pipe()

    def noted(i: int) -> int:
        os.write(write, b"x")
        return os.getpid()

    with Work(noted, (0, 1)) as work:
        assert os.read(read, 1) + os.read(read, 1) == b"xx"
        assert here not in work.finished()


def test_work_that_is_given_up_leaves_no_copy_behind() -> None:
    read, write = os.pipe()
    copies: list[int] = []

    def wait(i: int) -> None:
        tell(write, os.getpid())
        signal.sigtimedwait([], 3600)

    with pytest.raises(KeyError), Work(wait, (0, 1)):
        copies.append(told(read))
        raise KeyError
    with pytest.raises(ProcessLookupError):
        os.kill(copies[0], 0)


def test_who_is_done_does_more_while_others_are_at_work() -> None:
    """One item ends when more was done on the other, which would never be without time to spare."""
    read, write = os.pipe()

    def wait(i: int) -> list[int]:
        if i == 0:
            os.read(read, 1)
        return [i]

    def more(made: list[int], others_at_work: Callable[[], bool]) -> list[int]:
        if not others_at_work():
            return made
        os.write(write, b"x")
        while others_at_work():
            pass
        return [*made, 100]

    assert in_processes(wait, (0, 1), more) == ([0], [1, 100])


def test_what_fails_in_the_time_to_spare_is_raised() -> None:
    def more(made: int, others_at_work: Callable[[], bool]) -> int:
        raise ValueError(made)

    with pytest.raises(ValueError, match="0"):
        in_processes(abs, (0, 1, 2), more)


@pytest.mark.parametrize("asked", ["fork", "memfd_create", "pipe"])
def test_where_no_process_may_be_started_this_one_does_it_all(asked: str, monkeypatch: pytest.MonkeyPatch) -> None:
    whole, first = getattr(os, asked), iter([asked == "pipe"])  # The first pipe is that of the numbers of chunks.

    def refused(*given: object) -> object:
        if next(first, False):
            return whole(*given)
        raise BlockingIOError

    monkeypatch.setattr(os, asked, refused)
    open_before = set(Path("/proc/self/fd").iterdir())
    assert in_processes(abs, (-1, 2, -3)) == (1, 2, 3)
    assert set(Path("/proc/self/fd").iterdir()) == open_before


def test_a_thread_is_not_copied() -> None:
    assert parallel.side_by_side(lambda _: can_fork(), range(1)) == (False,)
