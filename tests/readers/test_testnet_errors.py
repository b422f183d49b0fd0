"""A netlist that is cut short, or says what is not of the format, is an error with its place."""

from __future__ import annotations

import pytest

from fencepost.errors import InputError
from fencepost.readers.testnet.reader import read_testnet
from fencepost.source import SourceFile
from readers.test_testnet_records import HEAD, record

GOOD = record()


def failure(text: str) -> InputError:
    """The error that reading this text ends in."""
    with pytest.raises(InputError) as caught:
        read_testnet(SourceFile("fab/a.ipc", text.encode()))
    return caught.value


def changed(column: int, text: str) -> str:
    """A file with one record, other characters in it from a column on (from 1)."""
    return HEAD + GOOD[: column - 1] + text + GOOD[column - 1 + len(text) :] + "999\n"


# The text, the line and column of the error, and a part of its message.
BAD = {
    "nothing": ("", 1, 1, "ends without 999"),
    "no end": (HEAD + GOOD, 5, 1, "ends without 999"),
    "no end and no last line end": (HEAD + GOOD.rstrip(), 4, 74, "ends without 999"),
    "no records": (HEAD + "999\n", 1, 1, "no test record"),
    "no unit": (GOOD + "999\n", 1, 1, "gives no unit"),
    "an unknown unit": ("P  UNITS CUST 9\n" + GOOD + "999\n", 1, 10, "expected CUST 0, CUST 1, CUST 2 or SI"),
    "a unit that is none": ("P  UNITS MM\n" + GOOD + "999\n", 1, 10, "expected CUST 0"),
    "two units": (HEAD + "P  UNITS SI\n" + GOOD + "999\n", 4, 1, "UNITS SI here, but CUST0 before"),
    "an unknown record": (HEAD + "333GND\n999\n", 4, 1, '"333GND" is not understood'),
    "a code of another kind": (HEAD + "357" + GOOD[3:] + "999\n", 4, 1, "is not understood"),
    "small letters": (HEAD + "p  JOB a\n999\n", 4, 1, "is not understood"),
    "a control character": (HEAD + "\x1b[2J\n999\n", 4, 1, '"\\x1b[2J" is not understood'),
    "more after the end": (HEAD + GOOD + "999\n" + GOOD, 6, 1, "stands after 999"),
    "a comment after the end": (HEAD + GOOD + "999\nC  more\n", 6, 1, "stands after 999"),
    "a name that is too long": (changed(4, "A" * 17), 4, 18, "a longer net name needs an NNAME"),
    "no dash": (changed(27, "x"), 4, 27, "- or a blank in column 27"),
    "no M": (changed(32, "m"), 4, 32, "M or a blank in column 32"),
    "no diameter": (changed(33, "E"), 4, 33, "a hole as D0118P"),
    "a diameter that is no number": (changed(35, "x"), 4, 33, "a hole as D0118P"),
    "neither plated nor unplated": (changed(38, "Q"), 4, 33, "a hole as D0118P"),
    "no access": (changed(39, "B"), 4, 39, "a layer as A01"),
    "access to no number": (changed(40, "x"), 4, 39, "a layer as A01"),
    "no place": (changed(42, "Z"), 4, 42, "a place as X+012345Y-012345"),
    "a place that is no number": (changed(45, "x"), 4, 42, "a place as"),
    "a decimal point": (changed(45, "."), 4, 42, "a place as"),
    "a size that is no number": (changed(60, "x"), 4, 58, "a size as X0236Y0000"),
    "a turn that is no number": (changed(70, "x"), 4, 68, "expected R000"),
    "an unknown mask": (changed(73, "9"), 4, 72, "expected R000, S0 or blanks"),
    "more than 80 columns": (HEAD + GOOD.rstrip() + " " * 7 + "X\n999\n", 4, 81, "a record has 80 columns"),
    "cut after the code": (HEAD + "317\n999\n", 4, 4, "cut short: expected a net name"),
    "cut in the name": (HEAD + GOOD[:8] + "\n999\n", 4, 9, "cut short: expected a net name"),
    "cut after the name": (HEAD + GOOD[:26] + "\n999\n", 4, 27, "cut short: expected - or a blank"),
    "cut in the hole": (HEAD + GOOD[:35] + "\n999\n", 4, 36, "cut short: expected a hole"),
    "cut in the place": (HEAD + GOOD[:50] + "\n999\n", 4, 51, "cut short: expected a place"),
    "cut before the size": (HEAD + GOOD[:57] + "\n999\n", 4, 58, "cut short: expected a size"),
    "cut in the last record": (HEAD + GOOD + GOOD[:50], 5, 51, "cut short: expected a place"),
    "a record that goes on with nothing": (HEAD + "017" + GOOD[3:] + "999\n", 4, 1, "goes on with a 317"),
    "a record that goes on with another kind": (HEAD + GOOD + "027" + GOOD[3:] + "999\n", 5, 1, "goes on with a 327"),
    "an alias of nothing": (HEAD + record(net="NNAME00007") + "999\n", 4, 4, "NNAME00007 is not given anywhere"),
    "an alias of two names": (
        HEAD + "P  NNAME1 a\nP  NNAME1 b\n" + GOOD + "999\n",
        5,
        1,
        'is "b" here, and "a" before',
    ),
    "an alias without a name": (HEAD + "P  NNAME1\n" + GOOD + "999\n", 4, 10, "expected a name"),
    "two images": (HEAD + "P  IMAGE A\nP  IMAGE B\n" + GOOD + "999\n", 5, 1, "a second image"),
}


@pytest.mark.parametrize(("text", "line", "column", "message"), BAD.values(), ids=BAD.keys())
def test_what_is_not_a_whole_netlist_is_refused(text: str, line: int, column: int, message: str) -> None:
    """With the place at which it goes wrong."""
    error = failure(text)
    assert message in error.message
    assert (error.file, error.line, error.column) == ("fab/a.ipc", line, column)


def test_a_message_shows_no_more_of_a_line_than_it_must() -> None:
    """And no control characters."""
    message = failure(HEAD + "333" + "x\x07" * 500 + "\n999\n").message
    assert len(message) < 200
    assert "\x07" not in message
