"""Output to stdout and to files."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Mapping
from pathlib import Path


def print_text(text: str) -> None:
    """Write to stdout. Where the reader has gone, as `head` does, the rest is dropped in silence.

    So it is where the process was started without a stdout: the exit code tells all the same.
    """
    if sys.stdout is None:
        return
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        # Or else Python would complain once more when it closes the stream at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def write_file(path: Path, text: str) -> None:
    """Write as UTF-8 with plain line ends, whole or not at all. Raises OSError."""
    data = text.encode("utf-8")
    if path.exists() and not path.is_file():
        path.write_bytes(data)  # A pipe or a device, which cannot be replaced.
        return
    target = Path(os.path.realpath(path))
    part = target.with_name(f".{target.name}.{os.getpid()}")
    try:
        part.write_bytes(data)
        if target.exists():
            shutil.copymode(target, part)
        part.replace(target)
    except FileNotFoundError as error:
        raise FileNotFoundError(error.errno, error.strerror, str(path)) from None
    finally:
        part.unlink(missing_ok=True)


def write_folder(folder: Path, files: Mapping[str, str]) -> None:
    """Write files into a folder, which is made where there is none; others in it stay. Raises OSError."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        write_file(folder / name, text)
