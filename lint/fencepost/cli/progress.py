"""What a long run is doing, on the terminal's last line; nothing in a pipe, and nothing where it is soon over."""

from __future__ import annotations

import sys
from threading import Lock, Timer
from types import TracebackType
from typing import TYPE_CHECKING, Self, TextIO

from fencepost.report.escape import escape

if TYPE_CHECKING:
    from rich.status import Status
    from rich.text import Text

DELAY_S = 1.0


class Progress:
    """Inside it, `tell` says what is being done. The line is gone when it ends, however it ends."""

    def __init__(self, wanted: bool = True, stream: TextIO | None = None, delay_s: float = DELAY_S) -> None:
        self._stream: TextIO | None = stream or sys.stderr  # None where the process was started without.
        self._wanted = wanted and self._stream is not None and self._stream.isatty()
        self._delay_s = delay_s
        self._said = ""
        self._status: Status | None = None
        self._timer: Timer | None = None
        self._lock = Lock()

    def tell(self, said: str) -> None:
        """Names in it are strangers': it is escaped, and no markup to rich."""
        with self._lock:
            self._said = escape(said)
            if self._status is not None:
                self._status.update(_plain(self._said))

    def __enter__(self) -> Self:
        if self._wanted:
            self._timer = Timer(self._delay_s, self._show)
            self._timer.daemon = True
            self._timer.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._timer is not None:
            self._timer.cancel()
        with self._lock:
            self._wanted = False
            if self._status is not None:
                self._status.stop()

    def _show(self) -> None:
        from rich.console import Console
        from rich.status import Status

        with self._lock:
            if self._wanted:
                console = Console(file=self._stream, highlight=False, markup=False, emoji=False)
                # "line" is drawn with ASCII alone: not every terminal has more.
                self._status = Status(_plain(self._said), console=console, spinner="line")
                self._status.start()


def _plain(said: str) -> Text:
    from rich.text import Text

    return Text(said, overflow="ellipsis", no_wrap=True)
