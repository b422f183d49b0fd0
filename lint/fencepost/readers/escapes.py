"""Characters that a file writes by their numbers.

Source: Ucamco, The Gerber Layer Format Specification, 2024.05; the `\\002C` of earlier revisions, and the eight digits
after `\\U` that drill files have, as they are in use.
"""

from __future__ import annotations

import re

_ESCAPE = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|([0-9A-Fa-f]{4}))")
_UNKNOWN = "\ufffd"


def unescaped(text: str) -> str:
    """A text with the characters in the place of their numbers. A backslash that begins none is kept.

    A number that stands for no character, half of a pair among them, becomes U+FFFD: it could not be written again.
    """
    return _ESCAPE.sub(_character, text) if "\\" in text else text


def _character(match: re.Match[str]) -> str:
    code = int(next(group for group in match.groups() if group), 16)
    return _UNKNOWN if 0xD800 <= code <= 0xDFFF or code > 0x10FFFF else chr(code)
