"""`--version` and `--help` start without the libraries that reading a board needs."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from fencepost import __version__
from fencepost.cli import COMMANDS

DEMO = str(Path(__file__).parents[2] / "fixtures" / "tide-gauge" / "fab")

HEAVY = {"numpy", "shapely", "scipy", "networkx", "lark", "msgspec", "rich"}

RUN = """
import sys
from pathlib import Path
from fencepost.cli import main
try:
    main(sys.argv[1:])
finally:
    print(*sorted({name.partition(".")[0] for name in sys.modules}), file=sys.stderr)
"""


def modules_after(*arguments: str) -> tuple[str, set[str]]:
    done = subprocess.run([sys.executable, "-c", RUN, *arguments], capture_output=True, text=True, check=True)
    return done.stdout, set(done.stderr.split())


def test_the_version_is_printed_without_loading_anything_heavy():
    said, modules = modules_after("--version")
    assert said == f"fencepost {__version__}\n"
    assert "click" in modules
    assert modules & HEAVY == set()


@pytest.mark.parametrize("option", ["--help", "-h"])
def test_help_lists_every_command_without_loading_anything_heavy(option):
    said, modules = modules_after(option)
    assert [name for name in COMMANDS if f"  {name} " not in said] == []
    assert modules & HEAVY == set()


def test_a_command_does_load_what_it_needs():
    """So that the two tests above can fail."""
    _, modules = modules_after("check", "--help")
    assert modules & HEAVY


def test_the_module_can_be_run_as_a_program():
    done = subprocess.run([sys.executable, "-m", "fencepost", "--version"], capture_output=True, text=True, check=True)
    assert done.stdout == f"fencepost {__version__}\n"


@pytest.mark.parametrize(("page", "code"), [("pour-tie", 0), ("no-such-rule", 2)])
def test_all_is_said_before_the_process_leaves_at_once(page, code):
    """A page is longer than what a pipe's stream holds back, and comes out whole."""
    in_process = subprocess.run([sys.executable, "-c", RUN, "explain", page], capture_output=True, text=True)
    program = subprocess.run([sys.executable, "-m", "fencepost", "explain", page], capture_output=True, text=True)
    assert (program.stdout, program.returncode) == (in_process.stdout, code)
    assert (program.stderr != "") == (code != 0)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_output_that_cannot_be_written_is_no_success():
    with Path("/dev/full").open("w") as full:
        done = subprocess.run([sys.executable, "-m", "fencepost", "explain", "pour-tie"], stdout=full)
    assert done.returncode != 0


@pytest.mark.skipif(os.name != "posix", reason="a shell that can close a stream")
@pytest.mark.parametrize("stream", ["1", "2"])
@pytest.mark.parametrize(
    ("arguments", "code"),
    [(["check", "no such folder"], 2), (["check", DEMO], 1), (["explain", "pour-tie"], 0), (["--version"], 0)],
    ids=["no such folder", "demo", "explain", "version"],
)
def test_a_process_that_was_started_without_a_stream_ends_as_others_do(stream, arguments, code):
    command = [sys.executable, "-m", "fencepost", *arguments]
    closed = subprocess.run(["/bin/sh", "-c", f'"$@" {stream}>&-', "sh", *command], capture_output=True)
    assert closed.returncode == subprocess.run(command, capture_output=True).returncode == code
