"""What a file is, by what stands in it. Its name is never asked."""

from __future__ import annotations

import re
from enum import Enum

HEAD_BYTES = 64 * 1024
"""How much of a file is looked at."""


class FileKind(Enum):
    """What a file of a package is. Its value is the word for the user."""

    GERBER = "Gerber file"
    DRILL = "drill file"
    JOB = "Gerber job file"
    NETLIST = "IPC-D-356 netlist"
    IPC2581 = "IPC-2581 file"
    OTHER = "other file"


_BYTE_ORDER_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))

_XML_BEFORE_ROOT = re.compile(r"\s+|<\?.*?\?>|<!--.*?-->|<!DOCTYPE[^>\[]*(?:\[[^\]]*\])?\s*>", re.DOTALL)
_XML_ROOT = re.compile(r"<(?:[\w.-]+:)?IPC-2581[\s/>]")

_JOB = re.compile(r'"(?:GeneralSpecs|FilesAttributes|MaterialStackup|DesignRules)"\s*:')

_NETLIST_LINE = re.compile(r"[CP](?:\s|$)|\d{3}|\s*$")
_NETLIST_SIGN = re.compile(r"(?:P\s+(?:JOB|CODE|UNITS|TITLE|NUM|REV|VER|IMAGE|DIM|NNAME)|3[0-7]7\S)", re.MULTILINE)

_GERBER = re.compile(
    r"^[ \t]*%?[ \t]*FS[LTD]?[AI](?:[NG]\d)?X\d\d|%\s*(?:MO(?:IN|MM)|TF[.\w]|AD\s*D\d+|AM\w|LP[DC]|IP(?:POS|NEG))"
    r"|^[ \t]*G04[^*\r\n]*\*|^[ \t]*(?:G0?[123])?(?:X[-+]?\d+)?(?:Y[-+]?\d+)?D0?[123]\*",
    re.MULTILINE,
)

_DRILL_NOTE = re.compile(r";.*|%|\s*$")
_DRILL_LINE = re.compile(r"(?:METRIC|INCH|FMAT|VER|ICI|DETECT|ATC)\b.*|(?:[A-Z][-+]?[.\d]+)+\s*(?:;.*)?")
_DRILL_SIGN = re.compile(r"(?:METRIC|INCH)\b|M7[12]$|T\d+(?:[FHS]\d+)*C[.\d]|X[-+.\d]+Y[-+.\d]")
_DRILL_LINES_ASKED = 50


def classify(data: bytes) -> FileKind:
    """The kind of a file from its beginning, HEAD_BYTES of it or all.

    A file that is broken further on, or cut short, is still of its kind: its reader says what is wrong with it.
    """
    text = _text(data[:HEAD_BYTES])
    start = text.lstrip()[:1]
    if start == "<":
        return FileKind.IPC2581 if _is_ipc2581(text) else FileKind.OTHER
    if start == "{":
        return FileKind.JOB if _JOB.search(text) else FileKind.OTHER
    if "\0" in text:
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


def _is_ipc2581(text: str) -> bool:
    at = 0
    while (match := _XML_BEFORE_ROOT.match(text, at)) is not None:
        at = match.end()
    return _XML_ROOT.match(text, at) is not None


def _is_netlist(lines: list[str]) -> bool:
    """IPC-D-356: records of fixed columns that begin with C, P or a code of three digits."""
    return (
        bool(lines)
        and all(_NETLIST_LINE.match(line) for line in lines[:200])
        and any(_NETLIST_SIGN.match(line) for line in lines)
    )


def _is_drill(lines: list[str]) -> bool:
    """A header (M48), or lines most of which are drill commands: the first, and a tool, a unit or a hit among them."""
    spoken = [line.strip() for line in lines if not _DRILL_NOTE.fullmatch(line.strip())][:_DRILL_LINES_ASKED]
    if "M48" in spoken[:1]:
        return True
    commands = [line for line in spoken if _DRILL_LINE.fullmatch(line)]
    return (
        len(commands) > len(spoken) / 2
        and commands[0] == spoken[0]
        and any(_DRILL_SIGN.match(line) for line in commands)
    )
