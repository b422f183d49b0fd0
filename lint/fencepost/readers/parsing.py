"""Parsing under limits: a file that goes on and on is left before it has taken all time and memory."""

from __future__ import annotations

from lark import Lark, Token, Tree

from fencepost.errors import InputError
from fencepost.limits import Deadline, Limits
from fencepost.source import SourceFile

_ASKED_EVERY = 1024
"""Words between two looks at the clock."""


def parsed(parser: Lark, text: str, source: SourceFile, limits: Limits, start: str | None = None) -> Tree[Token]:
    """The tree of a text with one character for each byte of the file.

    Raises UnexpectedInput where it leaves the grammar, and InputError where it has too many words or takes too long.
    """
    deadline = Deadline(limits)
    parsing = parser.parse_interactive(text, start)
    token = None
    for count, token in enumerate(parsing.iter_parse()):
        if count % _ASKED_EVERY == 0 and (late := deadline.passed()):
            raise source.error(token.start_pos or 0, f"reading {late}")
        if count >= limits.words:
            raise too_many_words(source, token.start_pos or 0, limits)
    tree: Tree[Token] = parsing.feed_eof(token)  # type: ignore[no-untyped-call]
    return tree


def too_many_words(source: SourceFile, offset: int, limits: Limits) -> InputError:
    """What to raise at the first word that is too many."""
    return source.error(offset, f"the file has more than {limits.words:,} words (limit words)")
