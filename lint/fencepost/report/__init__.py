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
}
"""Format name to its module, which is imported when it is asked for."""

Render = Callable[[Sequence["Result"]], str]
"""A report of one or more packages as one text that ends with a line break."""


def renderer(name: str) -> Render:
    """The `render` of a format in the table."""
    render: Render = import_module(FORMATS[name]).render
    return render
