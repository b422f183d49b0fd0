"""Memory that is no longer used."""

from __future__ import annotations

import ctypes
import sys
from contextlib import suppress


def give_back() -> None:
    """Hand what was freed back to the system, where the C library can be asked to (glibc).

    By itself it keeps it for what comes next, which after millions of small shapes may be as much as is in use.
    """
    if sys.platform == "linux":
        with suppress(OSError, AttributeError):
            ctypes.CDLL(None).malloc_trim(0)
