"""The command line. Each command is a module here, imported only when it runs, with a line in this table.

Exit codes: 0 nothing at or above the fail level, 1 something, 2 not checked, 3 a fault of fencepost or of a rule.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from typing import NoReturn

import click

from fencepost._version import VERSION
from fencepost.cli.failing import exit_code_of

COMMANDS = {
    "check": "Look for faults in fabrication packages.",
    "describe": "Show what was read from a package, and how it was understood.",
    "explain": "Print the page of a rule.",
    "init": "Write settings for a package, from what is recognised in it.",
    "pitch": "Work out the pitch of a fence of ground vias, without a board.",
    "rules": "List the rules that are installed.",
    "suggest": "Propose ground vias that mend what was found.",
}


class _Commands(click.Group):
    """Commands by name from the table, so that help and version need none of them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"fencepost.cli.{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=_Commands, no_args_is_help=False, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(VERSION, message="%(prog)s %(version)s")
def commands() -> None:
    """Check from fabrication data that the ground of a printed circuit board holds."""


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run a command line, that of the process where none is given, and exit."""
    # Many small matrices: threads of the linear algebra library would cost more than they save.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Millions of small objects that live to the end, and hardly a cycle among them: looking for some takes a twentieth.
    gc.set_threshold(500_000, 20, 20)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    code = _run(arguments)
    if arguments is None:
        _leave(code)
    sys.exit(code)


def _leave(code: int) -> None:
    """End the process at once, once all that it has to say is out.

    The interpreter would first take apart all that is in memory, which on a large board takes longer than to start it.
    """
    with suppress(OSError, ValueError):
        for stream in (sys.stdout, sys.stderr):
            if stream is not None:
                stream.flush()
        os._exit(code)


def _run(arguments: Sequence[str] | None) -> int:
    try:
        code = commands.main(args=arguments, prog_name="fencepost", standalone_mode=False)
    except (Exception, KeyboardInterrupt) as error:
        return exit_code_of(error)
    return code if isinstance(code, int) else 0
