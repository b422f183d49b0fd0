"""Files and packages damaged at random, the same way for the same seed."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Sequence

Files = dict[str, bytes]
"""A package: file name to what stands in it."""

CHARACTERS = b"0123456789XYIJDGMT*%,.+-()/x$ABCLMNOPRST<>\"'= \n\r\t\0\xff"
WORDS = (
    b"G36*", b"G37*", b"D03*", b"D02*", b"G75*", b"G74*", b"G02*", b"M02*", b"%LPC*%", b"%LPD*%",
    b"%LMXY*%", b"%LR45*%", b"%LS0.001*%", b"%LS1000*%", b"G04 x*", b"G54", b"G55", b"%TD*%", b"%TO.N,\\uD800*%",
    b"%SRX3Y2I1J1*%", b"%SRX9999Y9999I0J0*%", b"%SR*%", b"%ABD99*%", b"%AB*%", b"%MOIN*%", b"%MOMM*%",
    b"99999999999999999999", b"nan", b"inf", b"1e308", b"1e-320", b"-1", b"-0", b"0", b"G85", b"M15", b"M16", b"G00",
    b"G05", b"G91", b"G93X1Y1", b"R9999999", b"R3X1", b"INCH,TZ", b"METRIC,LZ", b"M30", b"M48", b"T0", b"%", b";",
    b"999", b"P  UNITS CUST 0", b"P  NNAME00001 ", b"\xe2\x80\xae", b"\x1b[31m", b"\xed\xa0\x80", b"\xef\xbb\xbf",
    b"</", b"/>", b"<![CDATA[", b"&amp;", b"&x;", b"&#0;", b"<!--", b"-->", b"<?x?>", b'units="INCH"', b"null", b"true",
    b"[[[[", b"{", b"}", b":", b"1e999", b'""', b"[rules]\n", b"= 1 =", b"'''",
)  # fmt: skip
FACTORS = (10.0, 0.1, 25.4, 1 / 25.4, 1000.0, 0.001, -1.0, 0.0, 1.01, 1e6, 1e12)
NAMES = ("a", "board.gbr", "x.zip", ".hidden", "sub/folder/a.gbr", "\x1b[31m.gbr", "::error::.drl", "<b>.gbr", "é.gbr")

_NUMBER = re.compile(rb"[-+]?\d+(?:\.\d+)?")
_TOKEN = re.compile(rb"[A-Za-z_]+|[-+]?\d+(?:\.\d+)?|\s+|.", re.DOTALL)
_STATEMENT = re.compile(rb"[^*\n>]*[*\n>]?")
_PLACE = re.compile(rb"(?<=[XYIJ])[-+]?[\d.]+|(?<=\")[-+]?[\d.]+(?=\")")
_BETWEEN = b"\n\x1d"

Change = Callable[[random.Random, bytearray], None]


def mutated(seed: int, originals: Sequence[bytes], most: int = 2) -> bytes:
    """One of the originals with one to `most` changes; one in eight begins as the head of one and the tail of one."""
    chance = random.Random(seed)
    data = bytearray(chance.choice(originals))
    if chance.random() < 0.125:
        data = _spliced(chance, data, chance.choice(originals))
    changes = chance.choice((CHANGES, GENTLE))
    for _ in range(chance.randint(1, most)):
        chance.choice(changes)(chance, data)
    return bytes(data)


def mutated_package(seed: int, originals: Sequence[Files], most: int = 2, gently: bool = False) -> Files:
    """One of the packages with one to `most` changes: to which files there are, to their names, or in one of them.

    `gently`: changes of which many leave a package that is read, and is then another board.
    """
    chance = random.Random(seed)
    files = dict(chance.choice(originals))
    changes = GENTLE_PACKAGE_CHANGES if gently else PACKAGE_CHANGES
    for _ in range(chance.randint(1, most)):
        if files:
            chance.choice(changes)(chance, files, chance.choice(originals))
    return files


def mutated_near(seed: int, files: Files, places: Sequence[tuple[str, int]], lines: int = 3) -> Files:
    """The package with a change to one statement within some lines of one of these places, (file, line) each."""
    chance = random.Random(seed)
    name, line = chance.choice(places)
    rows = files[name].splitlines(keepends=True)
    at = min(max(line - 1 + chance.randint(-lines, lines), 0), len(rows) - 1)
    row = bytearray(rows[at])
    kind = chance.randrange(4)
    if kind == 0:
        row.clear()
    elif kind == 1:
        _digits(chance, row)
    elif kind == 2:
        chance.choice(CHANGES)(chance, row)
    else:
        other = chance.randrange(len(rows))
        rows[other], row = bytes(row), bytearray(rows[other])
    rows[at] = bytes(row)
    return {**files, name: b"".join(rows)}


def packed(files: Files) -> bytes:
    """A package as one run of bytes, so that any of it can be damaged."""
    return _BETWEEN.join(name.encode("utf-8", "surrogatepass") + b"\n" + data for name, data in sorted(files.items()))


def unpacked(data: bytes) -> Files:
    """The package again."""
    parts = [part.partition(b"\n") for part in data.split(_BETWEEN)]
    return {name.decode("utf-8", "replace"): content for name, _, content in parts}


# Bytes


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


def _cut(chance: random.Random, data: bytearray) -> None:
    del data[chance.randint(0, len(data)) :]


def _spliced(chance: random.Random, data: bytearray, other: bytes) -> bytearray:
    return data[: chance.randint(0, len(data))] + other[chance.randint(0, len(other)) :]


# Tokens, statements and lines


def _tokens(chance: random.Random, data: bytearray) -> None:
    _rearrange(chance, data, _TOKEN)


def _statements(chance: random.Random, data: bytearray) -> None:
    _rearrange(chance, data, _STATEMENT)


def _rearrange(chance: random.Random, data: bytearray, pattern: re.Pattern[bytes]) -> None:
    """Two of them change places, or one is dropped, doubled or put in the place of another."""
    spans = [match.span() for match in pattern.finditer(data) if match.group().strip()]
    if not spans:
        return
    (a, b), (c, d) = sorted(chance.choices(spans, k=2))
    first, second = bytes(data[a:b]), bytes(data[c:d])
    kind = chance.randrange(5)
    if kind == 0 and b <= c:
        data[:] = bytes(data[:a]) + second + bytes(data[b:c]) + first + bytes(data[d:])
    elif kind == 1:
        data[c:c] = first
    elif kind == 2:
        data[c:d] = first
    else:
        del data[c:d]


def _lines(chance: random.Random, data: bytearray) -> None:
    """A run of lines is dropped, doubled or turned round."""
    lines = bytes(data).split(b"\n")
    a = chance.randrange(len(lines))
    b = a + chance.choice((1, 1, 2, 8))
    run = lines[a:b]
    lines[a:b] = chance.choice(([], run * 2, run[::-1]))
    data[:] = b"\n".join(lines)


# Numbers


def _digits(chance: random.Random, data: bytearray) -> None:
    """A number becomes another one, of more or fewer digits."""
    if span := _number_in(chance, data):
        at, end = span
        size = chance.choice((0, 1, 2, 3, end - at, end - at, 9, 30))
        data[at:end] = bytes(chance.choice(b"0123456789") for _ in range(size))


def _scale(chance: random.Random, data: bytearray) -> None:
    """One number, or all from some place on, times a factor, with the decimals that they had."""
    factor = chance.choice(FACTORS)

    def scaled(match: re.Match[bytes]) -> bytes:
        decimals = len(match.group().partition(b".")[2])
        return f"{float(match.group()) * factor:.{decimals}f}".encode()

    if span := _number_in(chance, data):
        tail = bytes(data[span[0] :])
        data[span[0] :] = _NUMBER.sub(scaled, tail, count=chance.choice((1, 1, 1, 0)))


def _number_in(chance: random.Random, data: bytearray) -> tuple[int, int] | None:
    match = _NUMBER.search(data, chance.randint(0, len(data)))
    return match.span() if match else None


CHANGES: tuple[Change, ...] = (
    _replace, _replace, _flip, _insert, _insert, _delete, _delete, _copy, _cut, _tokens, _tokens, _statements,
    _statements, _lines, _lines, _digits, _digits, _scale, _scale,
)  # fmt: skip
GENTLE: tuple[Change, ...] = (_replace, _delete, _tokens, _statements, _statements, _lines, _digits, _scale)
"""Those after which a file is often read, and is then another one."""


# Packages


def _drop(chance: random.Random, files: Files, other: Files) -> None:
    del files[chance.choice(sorted(files))]


def _double(chance: random.Random, files: Files, other: Files) -> None:
    name = chance.choice(sorted(files))
    files[chance.choice((f"copy-{name}", f"{name}~", chance.choice(NAMES)))] = files[name]


def _swap(chance: random.Random, files: Files, other: Files) -> None:
    a, b = chance.choices(sorted(files), k=2)
    files[a], files[b] = files[b], files[a]


def _rename(chance: random.Random, files: Files, other: Files) -> None:
    name = chance.choice(sorted(files))
    data = files.pop(name)
    files[chance.choice((name.upper(), f"sub/{name}", name.rpartition(".")[0] or name, *NAMES))] = data


def _empty(chance: random.Random, files: Files, other: Files) -> None:
    files[chance.choice(sorted(files))] = chance.choice((b"", b"\n", b"M02*\n", b"M48\n%\nM30\n", b"999\n"))


def _foreign(chance: random.Random, files: Files, other: Files) -> None:
    name = chance.choice(sorted(other))
    files[name] = other[name]


def _damage(chance: random.Random, files: Files, other: Files) -> None:
    name = chance.choice(sorted(files))
    data = bytearray(files[name])
    chance.choice(GENTLE)(chance, data)
    files[name] = bytes(data)


def _lose(chance: random.Random, files: Files, other: Files) -> None:
    """Some statements of one kind are gone from a file: of one command, one net, one tool."""
    name = chance.choice(sorted(files))
    statements, alike = _of_a_kind(chance, files[name])
    gone = set(chance.sample(alike, min(len(alike), chance.choice((1, 1, 2, 5, 1000)))))
    files[name] = b"".join(said for number, said in enumerate(statements) if number not in gone)


def _nudge(chance: random.Random, files: Files, other: Files) -> None:
    """One digit is another one."""
    name = chance.choice(sorted(files))
    statements, alike = _of_a_kind(chance, files[name])
    number = chance.choice(alike)
    data = bytearray(statements[number])
    if digits := [at for at, byte in enumerate(data) if 48 <= byte <= 57]:
        data[chance.choice(digits)] = chance.choice(b"0123456789")
    statements[number] = bytes(data)
    files[name] = b"".join(statements)


def _of_a_kind(chance: random.Random, data: bytes) -> tuple[list[bytes], list[int]]:
    """All statements, and which are alike but for their numbers: each kind is as likely, however many there are."""
    statements = _STATEMENT.findall(data)
    kinds: dict[bytes, list[int]] = {}
    for number, said in enumerate(statements):
        kinds.setdefault(_PLACE.sub(b"", said), []).append(number)
    return statements, kinds[chance.choice(sorted(kinds))]


PACKAGE_CHANGES: tuple[Callable[[random.Random, Files, Files], None], ...] = (
    _drop, _double, _swap, _swap, _rename, _empty, _foreign, *[_damage] * 7,
)  # fmt: skip
GENTLE_PACKAGE_CHANGES: tuple[Callable[[random.Random, Files, Files], None], ...] = (
    _drop, _double, _swap, _foreign, *[_damage] * 2, *[_lose] * 5, *[_nudge] * 5,
)  # fmt: skip
