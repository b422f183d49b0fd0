"""Reports. Each format is a module here with one function, `render(results) -> str`, and a line in this table."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fencepost.report.result import Result

FORMATS = {
    "text": "fencepost.report.text",
    "json": "fencepost.report.json",
    "sarif": "fencepost.report.sarif",
    "junit": "fencepost.report.junit",
    "github": "fencepost.report.github",
    "gitlab": "fencepost.report.gitlab",
    "html": "fencepost.report.page",
}
"""Format name to its module, which is imported when it is asked for."""

FOLDERS = {"svg": "fencepost.report.page.pictures"}
"""Formats of several files, which go to a folder: name to a module with `pictures(results) -> file name to text`."""

DRAWN = frozenset({"html", "svg"})
"""Formats that need the drawing of the board."""

Render = Callable[[Sequence["Result"]], str]
"""A report of one or more packages as one text that ends with a line break."""


def renderer(name: str) -> Render:
    """The `render` of a format in the table."""
    render: Render = import_module(FORMATS[name]).render
    return render
