"""Files damaged at random, the same way for the same seed."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

CHARACTERS = b"0123456789XYIJDGMT*%,.+-()/x$ABCLMNOPRST<>\"'= \n\r\t\0\xff"
WORDS = (
    b"G36*", b"G37*", b"D03*", b"D02*", b"G75*", b"G74*", b"G02*", b"M02*", b"%LPC*%", b"%LPD*%",
    b"%LMXY*%", b"%LR45*%",
    b"%SRX3Y2I1J1*%", b"%SR*%", b"%ABD99*%", b"%AB*%", b"%MOIN*%", b"%MOMM*%", b"99999999999999999999", b"nan", b"inf",
    b"1e308", b"-1", b"0", b"G85", b"M15", b"M16", b"G00", b"G05", b"R9999999", b"INCH,TZ", b"METRIC,LZ", b"M30", b"%",
    b"999", b"P  UNITS CUST 0", b"\xe2\x80\xae", b"\x1b[31m", b"</", b"/>", b"<![CDATA[", b"&amp;", b"&x;", b"<!--",
    b'units="INCH"', b"null", b"[[[[", b"{", b"}", b":",
)  # fmt: skip


def mutated(seed: int, originals: Sequence[bytes], most: int = 2) -> bytes:
    """One of the originals with one to `most` changes."""
    chance = random.Random(seed)
    data = bytearray(chance.choice(originals))
    for _ in range(chance.randint(1, most)):
        chance.choice(_CHANGES)(chance, data)
    return bytes(data)


def _replace(chance: random.Random, data: bytearray) -> None:
    if data:
        data[chance.randrange(len(data))] = chance.choice(CHARACTERS)


def _flip(chance: random.Random, data: bytearray) -> None:
    if data:
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)


def _insert(chance: random.Random, data: bytearray) -> None:
    at = chance.randint(0, len(data))
    data[at:at] = chance.choice(WORDS)


def _delete(chance: random.Random, data: bytearray) -> None:
    at = chance.randint(0, len(data))
    del data[at : at + chance.choice((1, 1, 2, 5, 20, 200))]


def _copy(chance: random.Random, data: bytearray) -> None:
    at, to = chance.randint(0, len(data)), chance.randint(0, len(data))
    data[to:to] = data[at : at + chance.randint(1, 60)]


def _lines(chance: random.Random, data: bytearray) -> None:
    """Two lines change places, or one is dropped or doubled."""
    lines = bytes(data).split(b"\n")
    a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
    kind = chance.randrange(3)
    if kind == 0:
        lines[a], lines[b] = lines[b], lines[a]
    elif kind == 1:
        del lines[a]
    else:
        lines.insert(b, lines[a])
    data[:] = b"\n".join(lines)


def _number(chance: random.Random, data: bytearray) -> None:
    """The digits at some place become others, of more or fewer digits."""
    at = chance.randint(0, len(data))
    while at < len(data) and not 48 <= data[at] <= 57:
        at += 1
    end = at
    while end < len(data) and 48 <= data[end] <= 57:
        end += 1
    size = chance.choice((0, 1, 2, 3, end - at, end - at, 9, 30))
    data[at:end] = bytes(chance.choice(b"0123456789") for _ in range(size))


def _cut(chance: random.Random, data: bytearray) -> None:
    del data[chance.randint(0, len(data)) :]


_CHANGES: tuple[Callable[[random.Random, bytearray], None], ...] = (
    _replace, _replace, _flip, _insert, _insert, _delete, _delete, _copy, _lines, _lines, _number, _number, _number,
    _cut,
)  # fmt: skip
