"""The text report on a terminal, in colours. rich decides by NO_COLOR and TERM whether there are any."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TextIO

from rich.console import Console
from rich.text import Text
from rich.theme import Theme

from fencepost.report.result import Result
from fencepost.report.text import QUIET, lines

STYLES = {
    "place": "bold",
    "error": "bold red",
    "warning": "bold yellow",
    "note": "cyan",
    "rule": "dim",
    QUIET: "dim",
}


def show(results: Sequence[Result], stream: TextIO, quiet: bool = False) -> None:
    """Print the report. Nothing in it is read as markup, and lines are left for the terminal to wrap."""
    console = Console(file=stream, theme=Theme(STYLES), highlight=False, markup=False, emoji=False)
    for line in lines(results, quiet):
        console.print(Text.assemble(*line), soft_wrap=True)
