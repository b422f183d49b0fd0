"""`--version` and `--help` start without the libraries that reading a board needs."""

from __future__ import annotations

import subprocess
import sys

import pytest

from fencepost import __version__
from fencepost.cli import COMMANDS

HEAVY = {"numpy", "shapely", "scipy", "networkx", "lark", "msgspec", "rich"}

RUN = """
import sys
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
