"""Text from a file, made harmless to print.

Names in fabrication data are written by strangers. Printed as they are they could move the cursor, forge lines, reorder
what is read (bidirectional marks) or give orders to the machine that shows a build's log. Each character that could is
shown by its number instead, as in `\\x1b` or `\\u202e`, so that the name stays recognisable.
"""

from __future__ import annotations

import re

_LOG_COMMAND = re.compile(r"^( *):(?=:)|#(?=#\w*\[)")
"""What build services obey in a log: a line that starts with `::`, and `##[...` or `##word[...` anywhere."""


def escape(text: str) -> str:
    """One line that a terminal and a build's log show and do not obey."""
    visible = text if text.isprintable() else "".join(_visible(char) for char in text)
    return _LOG_COMMAND.sub(lambda match: f"{match[1]}\\x3a" if match[1] is not None else "\\x23", visible)


def _visible(char: str) -> str:
    """Not printable by Unicode: controls, formats, surrogates, private, unassigned, separators other than the space."""
    return char if char.isprintable() else char.encode("unicode_escape").decode("ascii")
