"""The stages of a check: what is being done, and how long each took."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from time import perf_counter

from fencepost.errors import InputError
from fencepost.limits import Deadline


class Stages:
    """`tell` is called with the name of each stage as it begins, in this process and in no copy of it.

    What several rules share is computed by the first that asks for it, and counts as that rule's time.
    """

    def __init__(self, tell: Callable[[str], None] | None = None) -> None:
        self._tell = tell
        self._process = os.getpid()
        self.seconds: dict[str, float] = {}
        self._package = ""
        self._deadline: Deadline | None = None

    def limited(self, package: str, deadline: Deadline) -> None:
        """From now on no stage of this package begins, or goes on, after the deadline."""
        self._package, self._deadline = package, deadline

    def ask(self) -> None:
        """Raise InputError where the time is over."""
        if self._deadline is not None and (late := self._deadline.passed()):
            raise InputError(self._package, 0, 0, f"the check {late}")

    def took(self, seconds: Mapping[str, float]) -> None:
        """Stages that were done side by side, in whatever process: here is their order."""
        self.seconds = {name: s for name, s in self.seconds.items() if name not in seconds} | dict(seconds)

    @contextmanager
    def of(self, name: str) -> Iterator[None]:
        """A stage is what is done inside. Raises InputError where the time is over before it begins."""
        self.ask()
        if self._tell is not None and self._process == os.getpid():
            self._tell(name)
        start = perf_counter()
        try:
            yield
        finally:
            self.seconds[name] = self.seconds.get(name, 0.0) + perf_counter() - start
