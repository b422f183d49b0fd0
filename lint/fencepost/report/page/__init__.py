"""The report that people look at: one HTML file that holds everything and asks the network for nothing.

drawing    the board as shapes that can be drawn; made where the board is, and carried in the result
paths      shapes as path data
shown      what is drawn of a finding
section    a cut through the stackup at a transition
listing    the findings as a list
summary    verdict, counts, stackup, assumptions, what was not checked
document   the file as a whole: markup, data, style and script
pictures   a small picture of each finding
"""

from __future__ import annotations

from collections.abc import Sequence

from fencepost.report.page.document import inventory, page
from fencepost.report.result import Result

__all__ = ["inventory", "render"]


def render(results: Sequence[Result]) -> str:
    """The page of one or more packages."""
    return page(results)
