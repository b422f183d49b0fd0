"""A page in a browser, as tests look at it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any


@dataclass
class Opened:
    """A page in the browser, what stood on its console, and what it asked for beyond its own file."""

    page: Any
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    @property
    def shown(self) -> list[str]:
        """The names of the findings that can be seen in the list, from the top."""
        items = self.page.locator("li.finding:not([hidden])")
        return [str(name) for name in items.evaluate_all("items => items.map((item) => item.id)")]

    @property
    def markers(self) -> set[str]:
        """The names of the findings whose markers can be seen."""
        marks = self.page.locator(".marker:not([hidden])")
        return set(marks.evaluate_all("marks => marks.map((mark) => mark.dataset.name)"))

    @property
    def scale(self) -> float:
        """Pixels to a millimetre, from two markers' distance on the screen: no word of the page's own for it."""
        script = """() => {
            const spots = Object.entries(JSON.parse(document.getElementById("data").textContent).findings);
            const at = (name) => document.querySelector(`.marker[data-name="${name}"]`).getAttribute("transform")
                .match(/-?[\\d.]+/g).map(Number);
            spots.sort((a, b) => a[1].at[0] - b[1].at[0]);
            const [first, last] = [spots[0], spots[spots.length - 1]];
            return (at(last[0])[0] - at(first[0])[0]) / (last[1].at[0] - first[1].at[0]);
        }"""
        return float(self.page.evaluate(script))


Open = Callable[..., Opened]
