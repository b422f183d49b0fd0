"""A package goes through `fencepost check`, and what comes of it is looked at from outside."""

from __future__ import annotations

import contextlib
import io
import multiprocessing
import resource
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from fencepost.cli import main
from sketch import Sketch, write_package

Files = dict[str, bytes]

LONGEST_S = 10
MOST_BYTES = 1_000_000_000
"""Processor time and memory that one check may take, beyond what the process has before."""

_KEPT = "\n\t"


@dataclass(frozen=True)
class Outcome:
    """What a check came to."""

    code: int | None
    out: str
    err: str

    @property
    def errors(self) -> list[str]:
        """The lines that say what is wrong."""
        return [line for line in self.err.splitlines() if ": error: " in line]

    def assert_harmless(self) -> None:
        """Nothing that was printed is a traceback, or moves the cursor, or turns the direction of what is read."""
        assert "Traceback" not in self.err
        assert self.code != 3, self.err
        for text in (self.out, self.err):
            assert all(char.isprintable() or char in _KEPT for char in text), ascii(text)

    def assert_refused(self, said: str) -> None:
        """Exit code 2, the text in what is said, all of it of one file; nothing on stdout that looks like a result."""
        self.assert_harmless()
        assert (self.code, self.out) == (2, ""), (self.code, self.err)
        assert len({line.split(": error: ")[0] for line in self.errors}) == 1, self.err
        assert said in self.err, self.err


def check(path: str, *options: str) -> Outcome:
    """`fencepost check PATH` in this process and the working directory."""
    out, err, code = io.StringIO(), io.StringIO(), None
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            main(["check", path, *options])
        except SystemExit as ended:
            code = ended.code
    return Outcome(code, out.getvalue(), err.getvalue())


def check_files(files: Mapping[str, bytes], settings: str = "", *options: str) -> Outcome:
    """The same for a package of these files in the folder `fab`, with settings beside it."""
    write_package("fab", files)
    if settings:
        Path("fencepost.toml").write_text(settings)
    return check("fab", "--quiet", *options)


def confined(check: Callable[[], Outcome]) -> Outcome:
    """The check in a process of its own, which is ended where it takes too long and cannot take more memory."""
    context = multiprocessing.get_context("fork")
    receive, send = context.Pipe(duplex=False)
    process = context.Process(target=_confined, args=(check, send))
    process.start()
    send.close()
    try:
        outcome: Outcome = receive.recv()
    except EOFError:
        process.join()
        raise AssertionError(f"the check ended with {process.exitcode}: too much time or memory") from None
    process.join()
    return outcome


def _confined(check: Callable[[], Outcome], send: Connection) -> None:
    used = resource.getrusage(resource.RUSAGE_SELF)
    seconds = int(used.ru_utime + used.ru_stime) + LONGEST_S
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    size = next(
        int(line.split()[1]) * 1024
        for line in Path("/proc/self/status").read_text().splitlines()
        if line.startswith("VmSize:")
    )
    resource.setrlimit(resource.RLIMIT_AS, (size + MOST_BYTES, size + MOST_BYTES))
    send.send(check())


PLACES = [
    *((2, 3), (5.3, 2.1), (8.7, 4.4), (3.1, 7.9), (11.4, 6.2), (14.9, 3.3)),
    *((17.2, 8.8), (6.6, 12.7), (10.1, 15.3), (15.8, 13.6), (3.9, 16.4), (18.3, 17.1)),
]
"""Where the vias of the board stand: in places that fit themselves nowhere else."""


def board() -> Sketch:
    """Four layers of 20 x 20 mm with ground vias, some traces and a hole without plating."""
    sketch = Sketch(layers=4, name="b")
    sketch.vias("GND", PLACES)
    for row in range(30):
        for layer in (1, 4):
            y = 0.5 + row * 0.6
            sketch.trace("SIG", layer, [(1, y), (1.4, y), (1.4, y + 0.2)])
    sketch.hole((19, 1), 0.8)
    return sketch


FILES: Files = board().gerber()
"""The board as a package; its names are b-L1.gbr to b-L4.gbr, b-profile.gbr, b-PTH.drl, b-NPTH.drl and b.gbrjob."""

DISC = "%ADD10C,0.5*%\nD10*\n"


def gerber(body: str, function: str = "Copper,L1,Top") -> bytes:
    """A Gerber file in mm, six decimals, whose body begins in line 4."""
    return f"%TF.FileFunction,{function}*%\n%FSLAX46Y46*%\n%MOMM*%\n{body}M02*\n".encode()


def with_layer(body: str) -> Files:
    """The board with another first copper layer."""
    return {**FILES, "b-L1.gbr": gerber(body)}


def with_profile(body: str) -> Files:
    """The board with another profile."""
    return {**FILES, "b-profile.gbr": gerber(body, "Profile,NP")}


def with_drill(lines: str) -> Files:
    """The board with more lines at the end of its drill file."""
    return {**FILES, "b-PTH.drl": FILES["b-PTH.drl"].replace(b"M30", lines.encode() + b"M30")}
