"""Inputs in a process of their own, with no more time and memory than is allowed: for long runs by hand."""

from __future__ import annotations

import faulthandler
import multiprocessing
import resource
import signal
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path

LONGEST_S = 10.0
"""Of processor time, so that others on the machine do not count."""

NO_ANSWER_S = 300.0
"""Of real time, after which a worker is given up."""

MOST_BYTES = 1_000_000_000
"""What a worker may take beyond what it has once everything is imported."""

Case = Callable[[int], str]
"""From a seed to what came of its input, in one word. What it raises is a defect."""


@dataclass
class Tally:
    """What came of many inputs."""

    counts: Counter[str] = field(default_factory=Counter)
    defects: list[str] = field(default_factory=list)
    slowest: tuple[float, int] = (0.0, -1)
    largest: tuple[int, int] = (0, -1)
    seconds: float = 0.0

    def __str__(self) -> str:
        said = ", ".join(f"{count} {word}" for word, count in sorted(self.counts.items()))
        return (
            f"{self.counts.total()} inputs in {self.seconds:.0f} s of processor time: {said}; "
            f"slowest {self.slowest[0]:.2f} s (seed {self.slowest[1]}), "
            f"largest {self.largest[0] / 1e6:.0f} MB more (seed {self.largest[1]}), {len(self.defects)} defects"
        )


def run_confined(case: Case, seeds: Iterable[int], batch: int = 400) -> Tally:
    """All seeds, a batch of them in each worker. A worker that dies or hangs is a defect of the seed it was at."""
    tally = Tally()
    waiting = list(seeds)
    while waiting:
        now, waiting = waiting[:batch], waiting[batch:]
        done = _worker(case, now, tally)
        waiting = now[done:] + waiting
    return tally


def _worker(case: Case, seeds: list[int], tally: Tally) -> int:
    """One worker; how many seeds it has dealt with."""
    context = multiprocessing.get_context("fork")
    receive, send = context.Pipe(duplex=False)
    process = context.Process(target=_work, args=(case, seeds, send))
    process.start()
    send.close()
    done = 0
    try:
        while done < len(seeds):
            if not receive.poll(NO_ANSWER_S):
                raise EOFError
            word, defect, seconds, size = receive.recv()
            seed = seeds[done]
            done += 1
            tally.counts[word] += 1
            tally.seconds += seconds
            tally.slowest = max(tally.slowest, (seconds, seed))
            tally.largest = max(tally.largest, (size, seed))
            if defect:
                tally.defects.append(f"seed {seed}: {defect}")
    except EOFError:
        tally.counts["died"] += 1
        tally.defects.append(f"seed {seeds[done]}: the process died, or took more than {LONGEST_S:g} s")
        done += 1
    process.kill()
    process.join()
    receive.close()
    return done


def _work(case: Case, seeds: list[int], send: Connection) -> None:
    used = _status("VmSize")
    resource.setrlimit(resource.RLIMIT_AS, (used + MOST_BYTES, used + MOST_BYTES))
    faulthandler.register(signal.SIGPROF, chain=True)  # where it was, and then the signal ends it
    for seed in seeds:
        Path("/proc/self/clear_refs").write_text("5")  # the peak of memory begins anew
        before, begun = _status("VmRSS"), time.process_time()
        signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
        word, defect = "defect", ""
        try:
            word = case(seed)
        except Exception:
            defect = traceback.format_exc(limit=-6)
        signal.setitimer(signal.ITIMER_PROF, 0)
        send.send((word, defect, time.process_time() - begun, _status("VmHWM") - before))


def _status(name: str) -> int:
    """A figure of this process, in bytes."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) * 1024 for line in lines if line.startswith(f"{name}:"))
