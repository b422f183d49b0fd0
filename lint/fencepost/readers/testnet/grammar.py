"""From the bytes of a netlist to its statements, by grammars/testnet.lark."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import NamedTuple

from lark import Token, Tree, UnexpectedCharacters, UnexpectedToken

from fencepost.errors import InputError
from fencepost.limits import Limits
from fencepost.readers.drill.grammar import quoted
from fencepost.readers.grammars import parser_of
from fencepost.readers.parsing import parsed
from fencepost.source import SourceFile

_COLUMNS = {
    "NET": (17, "a net name in columns 4 to 17"),
    "GAP": (20, "blanks in columns 18 to 20; a longer net name needs an NNAME"),
    "PART": (26, "a reference designator in columns 21 to 26"),
    "DASH": (27, "- or a blank in column 27"),
    "PIN": (31, "a pin in columns 28 to 31"),
    "MIDDLE": (32, "M or a blank in column 32"),
    "HOLE": (38, "a hole as D0118P, or blanks, in columns 33 to 38"),
    "ACCESS": (41, "a layer as A01 in columns 39 to 41"),
    "PLACE": (57, "a place as X+012345Y-012345 in columns 42 to 57"),
    "SIZE": (67, "a size as X0236Y0000 in columns 58 to 67"),
}
"""Terminals of a test record, the column that each must reach, and what it is."""

_EXPECTED = {"UNIT": "CUST 0, CUST 1, CUST 2 or SI", "TEXT": "a name"}
_AFTER_SIZE = (0, "R000, S0 or blanks after the size")
COLUMNS = 80
_TEST = re.compile(r"[03][0126]7")
_LINE = re.compile(r"[^\r\n]*")


class Statement(NamedTuple):
    """One statement: the name of its rule in the grammar, its byte offset and its terminals."""

    name: str
    offset: int
    tokens: tuple[str, ...]


def read_statements(source: SourceFile, limits: Limits) -> list[Statement]:
    """The statements in the order of the file. Raises InputError where the text is not of the grammar,
    or passes a limit.
    """
    # Latin-1 maps every byte to one character, so that positions in the text are byte offsets.
    text = source.data.decode("latin-1")
    if not text.endswith(("\n", "\r")):
        text += "\n"
    try:
        tree = parsed(parser_of("testnet"), text, source, limits, "start")
    except UnexpectedCharacters as error:
        raise _unexpected(source, text, error.pos_in_stream or 0, error.allowed or ()) from None
    except UnexpectedToken as error:
        if error.token.type == "$END":
            raise source.error(len(source.data), "the netlist ends without 999: it may be cut short") from None
        raise _unexpected(source, text, error.token.start_pos or 0, error.expected) from None
    return [_statement(child) for child in tree.children if isinstance(child, Tree)]


def _statement(tree: Tree[Token]) -> Statement:
    tokens = [token for token in tree.children if isinstance(token, Token)]
    return Statement(str(tree.data), tokens[0].start_pos or 0, tuple(map(str, tokens)))


def _unexpected(source: SourceFile, text: str, offset: int, expected: Collection[str]) -> InputError:
    start = max(text.rfind("\n", 0, offset), text.rfind("\r", 0, offset)) + 1
    match = _LINE.match(text, start)
    line = match[0] if match else ""
    if "END" not in expected and not text[start:offset].strip():
        return source.error(start, f"{quoted(line)} stands after 999, the end of the netlist")
    if _TEST.match(line):
        return _wrong_column(source, line, start)
    if text[start:offset].strip():
        said = next((words for name, words in _EXPECTED.items() if name in expected), "nothing more")
        shown = text[offset : start + len(line)] or line
        return source.error(offset, f"{quoted(shown)}: expected {said}")
    return source.error(start, f"{quoted(line)} is not understood; expected a record of a netlist: C, P, 317, 327, ...")


def _wrong_column(source: SourceFile, line: str, start: int) -> InputError:
    """The first column at which a test record goes wrong."""
    if len(line.rstrip()) > COLUMNS:
        return source.error(start + COLUMNS, f"{quoted(line[COLUMNS:])}: a record has {COLUMNS} columns")
    at, expected = len(line), set[str]()
    try:
        parser_of("testnet").parse(f"{line}\n", start="record")
    except UnexpectedCharacters as error:
        at, expected = error.pos_in_stream or 0, error.allowed or set()
    except UnexpectedToken as error:
        at, expected = error.token.start_pos or 0, error.expected
    reach, words = next((_COLUMNS[name] for name in _COLUMNS if name in expected), _AFTER_SIZE)
    if len(line.rstrip()) < reach:
        return source.error(start + len(line), f"the record is cut short: expected {words}")
    return source.error(start + at, f"{quoted(line[at:].strip())}: expected {words}")
