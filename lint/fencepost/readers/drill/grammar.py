"""From the bytes of a drill file to its statements, by grammars/drill.lark."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import NamedTuple

from lark import Token, Tree, UnexpectedCharacters, UnexpectedToken

from fencepost.errors import InputError
from fencepost.limits import Limits
from fencepost.readers.grammars import parser_of
from fencepost.readers.parsing import parsed
from fencepost.source import SourceFile

_EXPECTED = {
    "WORD": "a coordinate",
    "PARAMETER": "a size as in C0.3",
    "ZEROS": "LZ or TZ",
    "PICTURE": "digits as in 000.000",
    "COMMA": "a comma",
    "_EOL": "the end of the line",
}
_REST_OF_LINE = re.compile(r"[^\r\n]*")
_BYTE_ORDER_MARK = "\xef\xbb\xbf"


class Statement(NamedTuple):
    """One statement: the name of its rule in the grammar, its byte offset and its terminals."""

    name: str
    offset: int
    tokens: tuple[Token, ...]

    @property
    def first(self) -> str:
        """The text of its first terminal: the command, or the whole run."""
        return str(self.tokens[0])

    @property
    def rest(self) -> tuple[Token, ...]:
        """The terminals after the command."""
        return self.tokens[1:]


def read_statements(source: SourceFile, limits: Limits) -> list[Statement]:
    """The statements in the order of the file. Raises InputError where the text is not of the grammar,
    or passes a limit.
    """
    # Latin-1 maps every byte to one character, so that positions in the text are byte offsets.
    text = source.data.decode("latin-1")
    if text.startswith(_BYTE_ORDER_MARK):
        text = " " * len(_BYTE_ORDER_MARK) + text[len(_BYTE_ORDER_MARK) :]
    if not text.endswith(("\n", "\r")):
        text += "\n"
    try:
        tree = parsed(parser_of("drill"), text, source, limits)
    except UnexpectedCharacters as error:
        raise _unexpected(source, text, error.pos_in_stream or 0, error.allowed or ()) from None
    except UnexpectedToken as error:
        if error.token.type == "$END":
            raise source.error(len(source.data), "the file ends without M30: it may be cut short") from None
        raise _unexpected(source, text, error.token.start_pos or 0, error.expected) from None
    return [_statement(child) for child in tree.children if isinstance(child, Tree)]


def quoted(text: str, longest: int = 40) -> str:
    """Text of a file for a message: between quotes, without control characters, not longer than it must be."""
    shown = text if len(text) <= longest else text[: longest - 1] + "…"
    return '"' + "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in shown) + '"'


def _statement(tree: Tree[Token]) -> Statement:
    tokens = tuple(token for token in tree.children if isinstance(token, Token))
    return Statement(str(tree.data), tokens[0].start_pos or 0, tokens)


def _unexpected(source: SourceFile, text: str, offset: int, expected: Collection[str]) -> InputError:
    start = max(text.rfind("\n", 0, offset), text.rfind("\r", 0, offset)) + 1
    line = _to_end_of_line(text, start)
    if text[start:offset].strip():
        words = sorted(_EXPECTED[name] for name in expected if name in _EXPECTED)
        return source.error(offset, f"{quoted(_to_end_of_line(text, offset))}: expected {' or '.join(words)}")
    if "TOOL" not in expected:
        return source.error(start, f"{quoted(line)} stands after the end of the program; expected nothing but comments")
    return source.error(start, f"{quoted(line)} is not understood; expected a command of a drill file")


def _to_end_of_line(text: str, start: int) -> str:
    match = _REST_OF_LINE.match(text, start)
    return match[0] if match else ""
