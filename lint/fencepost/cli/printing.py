"""Output to stdout and to files."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def print_text(text: str) -> None:
    """Write to stdout. Where the reader has gone, as `head` does, the rest is dropped in silence."""
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        # Or else Python would complain once more when it closes the stream at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def write_file(path: Path, text: str) -> None:
    """Write as UTF-8 with plain line ends. Raises OSError."""
    path.write_bytes(text.encode("utf-8"))
