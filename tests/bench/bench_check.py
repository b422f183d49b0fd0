"""Whole checks as commands, as ratios within one run; medians of turns in which what is compared is run by turns.

    python tests/bench/bench_check.py PACKAGE          against a reference parser of the copper files, memory, cache
    python tests/bench/bench_check.py --start          --version and --help against a bare interpreter
    python tests/bench/bench_check.py --growth 1 4 16  time per feature on boards of fixtures/scaled.py
    python tests/bench/bench_check.py --large          16 tiles, 24 layers, 50,000 holes, 2 million strokes

The reference parser is gerbonara, which reads the copper layers of PACKAGE and does nothing else.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter, sleep

sys.path.insert(0, str(Path(__file__).parents[2] / "fixtures"))

PROGRAM = [sys.executable, "-m", "fencepost"]
PARSE = """
import sys, time
from gerbonara import GerberFile
began, worked = time.perf_counter(), time.process_time()
for name in sys.argv[1:]:
    GerberFile.open(name)
print(time.perf_counter() - began, time.process_time() - worked)
"""
STARTED = {"--version": ["--version"], "--help": ["--help"]}


@dataclass(frozen=True)
class Cost:
    """Seconds by the clock and of the processor of a process and its copies; the peak of memory, in bytes, of one."""

    wall: float
    cpu: float
    memory: int


def cost_of(command: Sequence[str], cache: Path | None = None, most: int = 1) -> Cost:
    """Run a command. Raises RuntimeError where it ends with more than `most`."""
    environment = {**os.environ, **({"FENCEPOST_CACHE": str(cache)} if cache else {})}
    began = perf_counter()
    process = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    wall = perf_counter() - began
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode > most:
        raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}")
    return Cost(wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024)


def memory_of(command: Sequence[str]) -> int:
    """The peak of what a process and its copies have in memory together, in bytes: what they share is counted once.

    Looked at every hundredth of a second, in a run of its own, since looking takes time.
    """
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    peak = 0
    while process.poll() is None:
        peak = max(peak, sum(map(_proportional, _family(process.pid))))
        sleep(0.01)
    return peak


def _family(pid: int) -> list[int]:
    """A process and all that it started."""
    try:
        started = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return []
    return [pid, *(each for child in started for each in _family(int(child)))]


def _proportional(pid: int) -> int:
    """Memory of a process, what it shares with others divided by their number."""
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0
    return sum(int(line.split()[1]) * 1024 for line in lines if line.startswith("Pss:"))


def middle(costs: Sequence[Cost]) -> Cost:
    """The median of each."""
    return Cost(
        statistics.median(cost.wall for cost in costs),
        statistics.median(cost.cpu for cost in costs),
        max(cost.memory for cost in costs),
    )


def parsed(files: Sequence[Path]) -> Cost:
    """What the reference parser takes for these files, without its imports."""
    done = subprocess.run([sys.executable, "-c", PARSE, *map(str, files)], capture_output=True, text=True, check=True)
    wall, cpu = map(float, done.stdout.split())
    return Cost(wall, cpu, 0)


def against_parsing(package: Path, turns: int) -> None:
    """The whole check, the same with an empty and with a filled cache, and the parse of its copper."""
    files = [path for path in package.iterdir() if path.is_file()]
    copper = sorted(path for path in files if b"FileFunction,Copper" in path.read_bytes())
    size = sum(path.stat().st_size for path in files)
    check, parse, first, again = [], [], [], []
    with tempfile.TemporaryDirectory() as folder:
        for turn in range(turns):
            cache = Path(folder) / str(turn)
            check.append(cost_of([*PROGRAM, "check", str(package), "--no-cache"]))
            parse.append(parsed(copper))
            first.append(cost_of([*PROGRAM, "check", str(package)], cache))
            again.append(cost_of([*PROGRAM, "check", str(package)], cache))
    whole, reference, filling, kept = map(middle, (check, parse, first, again))
    say("check, no cache", whole)
    say(f"parse of {len(copper)} copper files", reference)
    say("check that fills the cache", filling)
    say("check again", kept)
    clock, processor = whole.wall / reference.wall, whole.cpu / reference.cpu
    print(f"check / parse: {clock:.2f} by the clock, {processor:.2f} of the processor")
    print(f"again / first: {kept.wall / filling.wall:.1%} by the clock")
    bar, memory = 25 * size + 200e6, memory_of([*PROGRAM, "check", str(package), "--no-cache"])
    print(
        f"memory: {memory / 1e6:.0f} MB in all processes for {size / 1e6:.1f} MB; "
        f"25 bytes a byte and 200 MB: {bar / 1e6:.0f} MB"
    )


def start(turns: int) -> None:
    """Over the start of an interpreter that does nothing."""
    bare, costs = [], {name: list[Cost]() for name in STARTED}
    for _ in range(turns):
        bare.append(cost_of([sys.executable, "-c", "pass"]))
        for name, arguments in STARTED.items():
            costs[name].append(cost_of([*PROGRAM, *arguments]))
    for name, each in costs.items():
        print(f"{name}: {(middle(each).wall - middle(bare).wall) * 1000:.0f} ms over a bare interpreter")


def growth(tiles: Sequence[int], turns: int, **options: int) -> None:
    """Time for each feature, against the smallest board."""
    from scaled import scaled_package
    from sketch import write_package

    with tempfile.TemporaryDirectory() as folder:
        costs: dict[int, list[Cost]] = {times: [] for times in tiles}
        for times in tiles:
            write_package(Path(folder) / str(times), scaled_package(times, **options))
        for _ in range(turns):
            for times, each in costs.items():
                each.append(cost_of([*PROGRAM, "check", str(Path(folder) / str(times)), "--no-cache"]))
    first = middle(costs[tiles[0]])
    for times, each in costs.items():
        cost, more = middle(each), times / tiles[0]
        say(f"{times} tiles", cost)
        clock, processor = cost.wall / first.wall / more, cost.cpu / first.cpu / more
        print(f"    per feature, of the first: {clock:.2f} by the clock, {processor:.2f} of the processor")


def say(name: str, cost: Cost) -> None:
    print(f"{name}: {cost.wall:.2f} s, of the processor {cost.cpu:.2f} s, {cost.memory / 1e6:.0f} MB")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("package", nargs="?", type=Path)
    parser.add_argument("--start", action="store_true")
    parser.add_argument("--growth", nargs="+", type=int, metavar="TILES")
    parser.add_argument("--large", action="store_true")
    parser.add_argument("--turns", type=int, default=5)
    for name, default in (("layers", 4), ("holes", 600), ("strokes", 20_000)):
        parser.add_argument(f"--{name}", type=int, default=default, help=f"of a tile; {default} unless given")
    asked = parser.parse_args()
    if asked.package:
        against_parsing(asked.package, asked.turns)
    if asked.start:
        start(asked.turns)
    if asked.growth:
        growth(asked.growth, asked.turns, layers=asked.layers, holes=asked.holes, strokes=asked.strokes)
    if asked.large:
        growth([16], 1, layers=24, holes=3125, strokes=125_000)


if __name__ == "__main__":
    main()
