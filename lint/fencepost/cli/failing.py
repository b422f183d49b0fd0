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

TRACEBACK = "FENCEPOST_TRACEBACK"
"""Environment variable: where it is set, a fault is printed with its traceback."""


def exit_code_of(error: BaseException) -> int:
    """Print what went wrong, and say how the process ends."""
    if isinstance(error, click.Abort | KeyboardInterrupt):
        return INTERRUPTED
    if isinstance(error, click.ClickException):
        _complain_of_usage(error)
        return NOT_CHECKED
    if isinstance(error, FencepostError):
        complain(error)
        return NOT_CHECKED
    if isinstance(error, OSError):
        name = f"{error.filename}: " if error.filename else ""
        say(f"{name}error: {error.strerror or error}")
        return NOT_CHECKED
    _complain_of_fault(error)
    return FAULT


def complain(error: FencepostError) -> None:
    """Print an error, or several, with the settings that would mend it."""
    for line in _lines(error):
        say(line)


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


def _complain_of_fault(error: BaseException) -> None:
    if os.environ.get(TRACEBACK):
        traceback.print_exception(error)
        return
    said = str(error) if isinstance(error, RuleCrash) else f"{type(error).__name__}: {error}"
    say(f"fencepost: fault: {said}; set {TRACEBACK}=1 to see where")


def say(line: str) -> None:
    """A line on stderr, escaped."""
    print(escape(line), file=sys.stderr)
