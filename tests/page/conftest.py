"""A browser for tests of the report page: Chromium without a window, and a page of the demo board.

The browser is the one that FENCEPOST_BROWSER names, or else chromium on the path. Without one these tests are skipped.
"""

from __future__ import annotations

import datetime
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from fencepost.cli.job import Job, check_package
from fencepost.cli.order import Order
from fencepost.report.page import render
from fencepost.report.result import Result
from page.opened import Open, Opened

TIDE = Path(__file__).parents[2] / "fixtures" / "tide-gauge" / "fab"

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip


@pytest.fixture(scope="session")
def demo() -> Result:
    """The demo board after its check."""
    answer = check_package(Job(TIDE, Order(datetime.date(2026, 1, 1), drawn=True)))
    assert answer.result is not None, answer.lines
    return answer.result


@pytest.fixture(scope="session")
def demo_page(demo: Result, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the demo board, on disk."""
    file = tmp_path_factory.mktemp("page") / "demo.html"
    file.write_text(render([demo]), encoding="utf-8")
    return file


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    playwright = pytest.importorskip("playwright.sync_api", reason="the report page is tested with playwright")
    program = os.environ.get("FENCEPOST_BROWSER") or shutil.which("chromium")
    if program is None:
        pytest.skip("no browser: install chromium, or name one in FENCEPOST_BROWSER")
    with playwright.sync_playwright() as run:
        window = run.chromium.launch(executable_path=program, args=FLAGS)
        yield window
        window.close()


@pytest.fixture
def open_page(browser: Any) -> Iterator[Open]:
    """Open a file with options of a browser context, as its size and colour scheme; `at` is the link's fragment."""
    contexts = []

    def opened(file: Path, at: str = "", **options: Any) -> Opened:
        context = browser.new_context(**{"viewport": {"width": 1300, "height": 900}, **options})
        contexts.append(context)
        own = Opened(context.new_page())
        own.page.on("console", lambda message: own.said.append(message.text))
        own.page.on("pageerror", lambda error: own.said.append(str(error)))
        own.page.on("request", lambda request: own.asked.append(request.url))
        own.page.goto(file.as_uri() + at)
        own.page.wait_for_selector("html[data-ready]", state="attached")
        own.asked.remove(file.as_uri())
        return own

    yield opened
    for context in contexts:
        context.close()
