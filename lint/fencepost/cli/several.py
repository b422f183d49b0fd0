"""Several packages at once, each in a process of its own."""

from __future__ import annotations

import signal
from collections import deque
from collections.abc import Generator, Iterator, Sequence
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from typing import cast

from fencepost.cli.executor import Numbered
from fencepost.cli.failing import FAULT, INTERRUPTED
from fencepost.cli.job import Answer, Job, Tell, check_package


class Processes:
    """A process for each package, so many at a time.

    They are started afresh, since threads of numerical libraries do not outlive a fork. One that dies is a fault of its
    package and of no other.
    """

    def __init__(self, count: int) -> None:
        self._count = count

    def run(self, jobs: Sequence[Job], tell: Tell) -> Generator[Numbered, None, None]:
        context = get_context("spawn")
        waiting = deque(enumerate(jobs))
        running: dict[Connection, tuple[int, SpawnProcess]] = {}
        done = 0
        try:
            while waiting or running:
                while waiting and len(running) < self._count:
                    i, job = waiting.popleft()
                    ours, theirs = context.Pipe(duplex=False)
                    process = context.Process(target=_work, args=(job, theirs), daemon=True)
                    running[ours] = (i, process)
                    with _no_interruption():
                        process.start()
                    theirs.close()
                tell(f"{done} of {len(jobs)} packages checked")
                for pipe in cast("list[Connection]", wait(list(running))):
                    i, process = running[pipe]
                    answer = _answer(pipe, process, jobs[i])
                    del running[pipe]
                    done += 1
                    yield i, answer
        finally:
            for _, process in running.values():
                _end(process)


def _work(job: Job, pipe: Connection) -> None:
    """What a process does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        answer = check_package(job)
    except KeyboardInterrupt:
        raise SystemExit(INTERRUPTED) from None
    try:
        pipe.send(answer)
    except BrokenPipeError:
        raise SystemExit(INTERRUPTED) from None


def _answer(pipe: Connection, process: SpawnProcess, job: Job) -> Answer:
    try:
        answer: Answer = pipe.recv()
    except EOFError:
        process.join()
        if process.exitcode == INTERRUPTED:
            raise KeyboardInterrupt from None
        said = (
            f"{job.shown}: fault: the process that checked it ended with {process.exitcode}, perhaps for want of memory"
        )
        return Answer(job.shown, None, FAULT, (said,))
    finally:
        pipe.close()
    process.join()
    return answer


def _end(process: SpawnProcess) -> None:
    if process.pid is not None:
        process.terminate()
        process.join()


@contextmanager
def _no_interruption() -> Iterator[None]:
    """Whoever is started here is not reached by Ctrl-C: the one who started it is, and ends it."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
