"""What a file is, by what stands in it. Its name is never asked."""

from __future__ import annotations

import re
from enum import Enum
from itertools import islice

HEAD_BYTES = 64 * 1024
"""How much of a file is looked at."""

SIGNATURES = (b"PK\x03\x04", b"PK\x05\x06")
"""What a .zip archive begins with: a file in it, or the end of an empty one."""


class FileKind(Enum):
    """What a file of a package is. Its value is the word for the user."""

    GERBER = "Gerber file"
    DRILL = "drill file"
    JOB = "Gerber job file"
    NETLIST = "IPC-D-356 netlist"
    IPC2581 = "IPC-2581 file"
    OTHER = "other file"


_BYTE_ORDER_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))

_XML_BEFORE_ROOT = re.compile(r"\s+|<\?.*?\?>|<!--.*?-->|<!DOCTYPE[^>\[]*+(?:\[[^\]]*\])?\s*>", re.DOTALL)
_XML_ROOT = re.compile(r"<(?:[\w.-]+:)?IPC-2581[\s/>]")

_JOB = re.compile(r'"(?:GeneralSpecs|FilesAttributes|MaterialStackup|DesignRules)"\s*:')

_NETLIST_LINES_ASKED = 200
_NETLIST_LINE = re.compile(r"[CP](?:\s|$)|\d{3}|\s*$")
_NETLIST_RECORD = re.compile(r"^[03][0126]7.{35,}A\d\dX[-+ ][\d ]{6}Y[-+ ]|^P\s+UNITS\s+(?:CUST|SI)", re.MULTILINE)
_NETLIST_SIGN = re.compile(r"(?:P\s+(?:JOB|CODE|UNITS|TITLE|NUM|REV|VER|IMAGE|DIM|NNAME)|3[0-7]7\S)", re.MULTILINE)

_GERBER = re.compile(
    r"^[ \t]*+%?[ \t]*+FS[LTD]?[AI](?:[NG]\d)?X\d\d|%\s*(?:MO(?:IN|MM)|TF[.\w]|AD\s*D\d+|AM\w|LP[DC]|IP(?:POS|NEG))"
    r"|^[ \t]*G04[^*\r\n]*\*|^[ \t]*(?:G0?[123])?(?:X[-+]?\d+)?(?:Y[-+]?\d+)?D0?[123]\*",
    re.MULTILINE,
)

_DRILL_NOTE = re.compile(r";.*|%|\s*$")
_DRILL_LINE = re.compile(r"(?:METRIC|INCH|FMAT|VER|ICI|DETECT|ATC)\b.*|(?:[A-Z][-+]?[.\d]+)+\s*(?:;.*)?")
_DRILL_SIGN = re.compile(r"(?:METRIC|INCH)\b|M7[12]$|T\d+(?:[FHS]\d+)*C[.\d]|X[-+.\d]+Y[-+.\d]")
_DRILL_LINES_ASKED = 50

_FEWEST_LINES = 4
_MOST_DAMAGED = 0.25
"""Files in which no more of the lines than this are strange to their format are still of it, and their readers say so.

What is not known as anything is left aside, so that a line that was damaged must not make a file unknown.
"""
_MOST_BINARY = 0.02


def classify(data: bytes) -> FileKind:
    """The kind of a file from its beginning, HEAD_BYTES of it or all.

    A file that is broken further on, or cut short, is still of its kind: its reader says what is wrong with it.
    """
    text = _text(data[:HEAD_BYTES])
    start = text.lstrip()[:1]
    if start == "<":
        return FileKind.IPC2581 if _is_ipc2581(text) else FileKind.OTHER
    if _JOB.search(text):
        return FileKind.JOB
    if start == "{" or _is_binary(text):
        return FileKind.OTHER
    lines = text.splitlines()
    if len(data) >= HEAD_BYTES:
        lines = lines[:-1]
    if _is_netlist(lines):
        return FileKind.NETLIST
    if _is_drill(lines):
        return FileKind.DRILL
    return FileKind.GERBER if _GERBER.search(text) else FileKind.OTHER


def _text(head: bytes) -> str:
    for mark, encoding in _BYTE_ORDER_MARKS:
        if head.startswith(mark):
            return head[len(mark) :].decode(encoding, errors="replace")
    return head.decode("utf-8", errors="replace")


def _is_binary(text: str) -> bool:
    return "\0" in text and text.count("\0") + text.count("\ufffd") > _MOST_BINARY * len(text)


def _is_ipc2581(text: str) -> bool:
    at = 0
    while (match := _XML_BEFORE_ROOT.match(text, at)) is not None:
        at = match.end()
    return _XML_ROOT.match(text, at) is not None


def _is_netlist(lines: list[str]) -> bool:
    """IPC-D-356: records of fixed columns that begin with C, P or a code of three digits."""
    asked = [line for line in lines[:_NETLIST_LINES_ASKED] if line.strip()]
    known = sum(_NETLIST_LINE.match(line) is not None for line in asked)
    sign = _NETLIST_SIGN if known == len(asked) else _NETLIST_RECORD
    return _enough(known, len(asked)) and any(sign.match(line) for line in lines)


def _is_drill(lines: list[str]) -> bool:
    """A header (M48), or lines most of which are drill commands: the first, and a tool, a unit or a hit among them."""
    stripped = (line.strip() for line in lines)
    spoken = list(islice((line for line in stripped if not _DRILL_NOTE.fullmatch(line)), _DRILL_LINES_ASKED))
    if "M48" in spoken[:1]:
        return True
    commands = [line for line in spoken if _DRILL_LINE.fullmatch(line)]
    if not any(_DRILL_SIGN.match(line) for line in commands):
        return False
    return (len(commands) > len(spoken) / 2 and commands[0] == spoken[0]) or _enough(len(commands), len(spoken))


def _enough(known: int, asked: int) -> bool:
    """Whether so many lines of a format make a file of it."""
    return known > 0 and (known == asked or (asked >= _FEWEST_LINES and asked - known <= _MOST_DAMAGED * asked))
