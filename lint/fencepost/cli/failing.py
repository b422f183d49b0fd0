"""Errors on their way out: one line each on stderr, and the exit code."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Iterator
from dataclasses import replace

import click

from fencepost.errors import FencepostError, InputError, InputErrors, RuleCrash, SettingsError
from fencepost.report.escape import escape

FOUND, NOT_CHECKED, FAULT, INTERRUPTED = 1, 2, 3, 130

LONGEST_LINE = 2_000
"""Characters of a line on stderr."""

TRACEBACK = "FENCEPOST_TRACEBACK"
"""Environment variable: where it is set, a fault is printed with its traceback."""


def exit_code_of(error: BaseException) -> int:
    """Print what went wrong, and say how the process ends."""
    if isinstance(error, click.Abort | KeyboardInterrupt):
        return INTERRUPTED
    if isinstance(error, click.ClickException):
        _complain_of_usage(error)
        return NOT_CHECKED
    code, lines = told(error)
    for line in lines:
        say(line)
    return code


def told(error: BaseException) -> tuple[int, tuple[str, ...]]:
    """The exit code for an error, and its lines for stderr, which are not escaped yet."""
    if isinstance(error, FencepostError):
        return NOT_CHECKED, tuple(_lines(error))
    if isinstance(error, OSError):
        name = f"{error.filename}: " if error.filename else ""
        return NOT_CHECKED, (f"{name}error: {error.strerror or error}",)
    if isinstance(error, MemoryError):
        return NOT_CHECKED, ("fencepost: error: there is not enough memory to check this package",)
    if os.environ.get(TRACEBACK):
        return FAULT, tuple("".join(traceback.format_exception(error)).splitlines())
    said = str(error) if isinstance(error, RuleCrash) else f"{type(error).__name__}: {error}"
    return FAULT, (f"fencepost: fault: {said}; set {TRACEBACK}=1 to see where",)


def _lines(error: FencepostError) -> Iterator[str]:
    if isinstance(error, InputErrors):
        for each in error.errors:
            yield from _lines(each)
    elif isinstance(error, InputError):
        yield str(replace(error, cure=""))
        if error.cure:
            yield from ("", *error.cure.splitlines(), "")
    elif isinstance(error, SettingsError):
        yield str(error)
    else:
        yield f"fencepost: error: {error}"


def _complain_of_usage(error: click.ClickException) -> None:
    say(f"fencepost: error: {error.format_message()}")
    if isinstance(error, click.UsageError) and error.ctx is not None:
        say(f"{error.ctx.command_path} --help shows how it is used")


def say(line: str) -> None:
    """A line on stderr, escaped, and not longer than a person reads: files may hold any words."""
    print(escape(line if len(line) <= LONGEST_LINE else f"{line[:LONGEST_LINE]}…"), file=sys.stderr)
