"""From the text of a Gerber file to its statements, by the grammar in `gerber.lark`."""

from __future__ import annotations

import re
from collections.abc import Iterator

from lark import Token, Tree
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from fencepost.errors import InputError
from fencepost.limits import Limits
from fencepost.readers.grammars import parser_of
from fencepost.readers.parsing import parsed, too_many_words
from fencepost.source import SourceFile

Statement = Token | Tree[Token]
"""A token for a statement of one word, else a tree whose first child is the word that the statement begins with."""

_WORDS = {
    "OPERATIONS": "an operation",
    "DRAWING": "an operation",
    "SELECT": "an aperture number",
    "_G54": "an aperture number",
    "QUADRANT": "G74 or G75",
    "_PERCENT": "%",
    "STAR": "*",
    "COMMA": ",",
    "EQUAL": "=",
    "LPAR": "(",
    "RPAR": ")",
    "PLUS": "+",
    "MINUS": "-",
    "SLASH": "/",
    "_TIMES": "x",
    "END": "M02",
    "ZEROS": "L or T",
    "NOTATION": "A or I",
    "DIGITS": "two digits from 0 to 7",
    "_CODE_LENGTHS": "the lengths of codes",
    "UNIT": "MM or IN",
    "APERTURE": "an aperture number from D10 up",
    "NAME": "a name",
    "ATTRIBUTE": "the name of an attribute and its fields",
    "ATTRIBUTE_NAME": "the name of an attribute",
    "DECIMAL": "a decimal number",
    "INTEGER": "a whole number",
    "NUMBER": "a number",
    "VARIABLE": "a variable",
    "DARK_OR_CLEAR": "D or C",
    "MIRROR_AXES": "N, X, Y or XY",
    "COLUMNS": "X and a whole number above 0",
    "ROWS": "Y and a whole number above 0",
    "STEP_X": "I and a decimal number",
    "STEP_Y": "J and a decimal number",
    "SIGN": "POS or NEG",
    "AXES": "AXBY or AYBX",
    "A_VALUE": "A and a decimal number",
    "B_VALUE": "B and a decimal number",
    "_PRIMITIVE_0": "the code of a primitive",
    "CIRCLE": "the code of a primitive",
    "VECTOR_LINE": "the code of a primitive",
    "CENTRE_LINE": "the code of a primitive",
    "CORNER_LINE": "the code of a primitive",
    "OUTLINE": "the code of a primitive",
    "POLYGON": "the code of a primitive",
    "MOIRE": "the code of a primitive",
    "THERMAL": "the code of a primitive",
}
_MOST_WORDS = 6

_STATEMENT = re.compile(
    r"(?P<DELETE_ATTRIBUTE>%TD[^%]*+%\s*+)|(?P<APERTURE>%A[^%]*+%\s*+)|(?P<SET_ATTRIBUTE>%[^%]*+%\s*+)"
    r"|(?P<SELECT>D0*+[1-9][0-9]++[^*]*+\*\s*+)|(?P<G36>G36[^*]*+\*\s*+)|(?P<G37>G37[^*]*+\*\s*+)"
    r"|(?P<OPERATIONS>(?:[XYIJ][^*]*+\*\s*+|(?!D0*+[1-9][0-9]|G3[67])[^%*]++\*\s*+)++)"
)
"""What a word DRAWING consists of, which has been found to be nothing else."""

_OPERATION_BEGUN = re.compile(
    rb"(?=[GXYIJD])(?:G0*[123](?![0-9]))?\s*(?:X[+-]?[0-9]+)?\s*(?:Y[+-]?[0-9]+)?\s*(?:I[+-]?[0-9]+)?\s*(?:J[+-]?[0-9]+)?\s*"
    rb"(?:D0*[123](?![0-9]))?\s*"
)
_FOUND = re.compile(rb"[^*%\r\n]{0,16}[*%]?")


class _Part(Token):
    """A word within another one: made in a third of the time, without line and column, for which nobody asks."""

    __slots__ = ()

    def __new__(cls, type_: str, text: str, begin: int) -> _Part:
        word = str.__new__(cls, text)
        word.type, word.start_pos, word.end_pos = type_, begin, begin + len(text)
        return word


def parse(source: SourceFile, limits: Limits) -> list[Statement]:
    """The statements of a file in order, up to and with M02. Raises InputError where the file leaves the grammar
    or passes a limit.
    """
    try:
        tree = parsed(parser_of("gerber"), source.data.decode("latin-1"), source, limits)
    except UnexpectedInput as error:
        raise _explained(source, error) from None
    return list(_statements(source, tree, limits))


def _statements(source: SourceFile, tree: Tree[Token], limits: Limits) -> Iterator[Statement]:
    """Those that the lexer took for one word, one by one; they count as words."""
    count = len(tree.children)
    for child in tree.children:
        if not isinstance(child, Token) or child.type != "DRAWING":
            yield child
            continue
        begin = child.start_pos or 0
        for found in _STATEMENT.finditer(child):
            count += 1
            if count > limits.words:
                raise too_many_words(source, begin + found.start(), limits)
            yield _Part(found.lastgroup or "", found.group(), begin + found.start())


def aperture_words(word: Token) -> Iterator[Token]:
    """The words of an aperture that is one word: its number, its name or template, and its parameters."""
    begin = (word.start_pos or 0) + len("%AD")
    head, _, numbers = word[len("%AD") : word.index("*")].partition(",")
    name = head[1:].lstrip("0123456789")
    yield _Part("APERTURE", head.removesuffix(name), begin)
    yield _Part("NAME", name, begin + len(head) - len(name))
    begin += len(head) + 1
    for number in numbers.split("X") if numbers else ():
        yield _Part("DECIMAL", number, begin)
        begin += len(number) + 1


def offset_of(statement: Statement) -> int:
    """Byte offset at which a statement, or a part of one, stands."""
    while not isinstance(statement, Token):
        statement = next(child for child in statement.children if child is not None)
    return statement.start_pos or 0


def tokens_of(statement: Tree[Token]) -> list[Token]:
    """The words of a statement that has no inner structure, those that are not there left out."""
    return [child for child in statement.children if isinstance(child, Token)]


def number_in(source: SourceFile, token: Token, limits: Limits) -> float:
    """The number of a token, without its letter. Raises InputError for more characters than the limit."""
    return float(_digits(source, token, limits))


def whole_number_in(source: SourceFile, token: Token, limits: Limits) -> int:
    """Likewise, of a token that holds a whole number."""
    return int(_digits(source, token, limits))


def _digits(source: SourceFile, token: Token, limits: Limits) -> str:
    if len(token) > limits.number_characters:
        message = f"expected a number of at most {limits.number_characters} characters (limit number_characters)"
        raise source.error(offset_of(token), message)
    return token.strip("ABDIJXY$* \t\r\n")


def _explained(source: SourceFile, error: UnexpectedInput) -> InputError:
    offset = error.pos_in_stream if error.pos_in_stream is not None else len(source.data)
    allowed: set[str] = set()
    if isinstance(error, UnexpectedToken):
        allowed = set(error.accepts or error.expected)
        if error.token.type == "$END":
            offset = len(source.data)
    elif isinstance(error, UnexpectedCharacters):
        allowed = set(error.allowed)
    begun = _OPERATION_BEGUN.match(source.data, offset)
    if not allowed.isdisjoint(("OPERATIONS", "DRAWING")) and begun and begun.end() > offset:
        offset, wanted = begun.end(), "the rest of an operation, as X, Y, I, J, D01, D02 or D03, then *"
    else:
        wanted = _wanted(allowed)
    return source.error(offset, f"expected {wanted}; found {_found(source.data, offset)}")


def _wanted(allowed: set[str]) -> str:
    words = sorted({_WORDS.get(name, name.lstrip("_")) for name in allowed if not name.startswith("_COMMENT")})
    if words in ([], ["$END"]):
        return "nothing after M02"
    if len(words) <= _MOST_WORDS:
        return " or ".join(words)
    if "END" in allowed:
        return "a command, or M02 at the end"
    return "a command of the kind that stands between % and %" if "AD" in allowed else "one of " + ", ".join(words)


def _found(data: bytes, offset: int) -> str:
    if offset >= len(data):
        return "the end of the file"
    match = _FOUND.match(data, offset)
    text = match.group().decode("latin-1") if match else ""
    return ascii(text or chr(data[offset]))
