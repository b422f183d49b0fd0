"""Parsers of the grammars that ship, from tables made ahead: to work these out takes longer than to read most files.

`python -m fencepost.readers.grammars` writes the tables anew. Those that are not of the very grammar, its options and
the lark at hand are left aside.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from contextlib import suppress
from functools import cache, partial
from io import BytesIO
from pathlib import Path
from pkgutil import get_data
from types import MappingProxyType

import lark
from lark.lexer import PatternRE, TerminalDef

from fencepost.frozen import dataclass


@dataclass(frozen=True)
class Grammar:
    """How the parser of a grammar is built.

    starts  the rules that a text may be
    runs    words "(...)+" of many lines, not to remember each of them for a second try: that takes 1 kB a line
    gaps    what is not there, and may be, is a None among the children of a rule
    """

    starts: tuple[str, ...] = ("start",)
    runs: tuple[str, ...] = ()
    gaps: bool = False


GRAMMARS: Mapping[str, Grammar] = MappingProxyType(
    {
        "gerber": Grammar(gaps=True),
        "drill": Grammar(runs=("HITS", "SLOTS")),
        "testnet": Grammar(("start", "record"), runs=("TESTS",)),
    }
)
"""By the names of their files."""


@cache
def parser_of(name: str) -> lark.Lark:
    """The parser of a grammar: from its tables where they are of this grammar, else built."""
    with suppress(FileNotFoundError):
        identity, _, data = _shipped(f"{name}.tables").partition(b"\n")
        if identity == identity_of(name):
            return lark.Lark.load(BytesIO(data))
    return built(name)


def built(name: str) -> lark.Lark:
    """The parser of a grammar, from its text."""
    grammar = GRAMMARS[name]
    # By what may follow, the lexer tells apart what looks alike: F200 after T1, and F200 on a line of its own.
    return lark.Lark(
        _text(name),
        parser="lalr",
        lexer="contextual",
        start=list(grammar.starts),
        maybe_placeholders=grammar.gaps,
        edit_terminals=partial(_run_on, grammar.runs),
    )


def identity_of(name: str, version: str = lark.__version__) -> bytes:
    """Of the grammar, its options and what builds the parser."""
    made_of = f"{version}\n{GRAMMARS[name]}\n{_text(name)}"
    return hashlib.sha256(made_of.encode()).hexdigest().encode()


def write_tables(name: str, folder: Path) -> None:
    """Work out the tables of a grammar."""
    parser, data = built(name), BytesIO()
    parser.options.edit_terminals = None  # It is done, and no plain data.
    parser.save(data)
    (folder / f"{name}.tables").write_bytes(identity_of(name) + b"\n" + data.getvalue())


def _text(name: str) -> str:
    return _shipped(f"{name}.lark").decode()


def _shipped(file: str) -> bytes:
    # Not by importlib.resources, which imports all that reads archives.
    data = get_data("fencepost.grammars", file)
    if data is None:
        raise FileNotFoundError(file)
    return data


def _run_on(runs: tuple[str, ...], terminal: TerminalDef) -> TerminalDef:
    if terminal.name in runs:
        terminal.pattern = PatternRE(f"{terminal.pattern.value}+", terminal.pattern.flags)  # "(...)+" to "(...)++"
    return terminal


if __name__ == "__main__":
    from importlib.resources import files

    for each in GRAMMARS:
        write_tables(each, Path(str(files("fencepost.grammars").joinpath(""))))
