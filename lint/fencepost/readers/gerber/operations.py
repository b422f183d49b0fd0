"""The coordinate operations of a whole file, decoded in bulk into columns."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fencepost.frozen import dataclass
from fencepost.limits import Limits
from fencepost.source import SourceFile

DRAW, MOVE, FLASH = 1, 2, 3
"""Operation codes D01, D02, D03."""

LINE, CLOCKWISE, COUNTERCLOCKWISE = 1, 2, 3
"""Interpolation modes G01, G02, G03."""

INT32_DIGITS = 9
"""Digits of a number up to which half the memory does to work it out."""

_AXIS_OF = {ord("X"): 0, ord("Y"): 1, ord("I"): 2, ord("J"): 3}
_FLASH_PREFIX = 55


@dataclass(frozen=True)
class Format:
    """What FS and MO say: digits before and after the point for x and y, zeros left out, millimetres a unit."""

    integers: tuple[int, int]
    decimals: tuple[int, int]
    trailing_zeros_omitted: bool
    incremental: bool
    unit_mm: float

    @property
    def resolution_mm(self) -> float:
        """The smallest step of a coordinate, the coarser axis."""
        return max(float(10.0**-decimals) for decimals in self.decimals) * self.unit_mm


@dataclass(frozen=True, eq=False)
class Operations:
    """n operations in file order; what only sets a mode has been applied and is not among them. Lengths in mm.

    run      int64 (n)       which run of operations it belongs to
    offset   int64 (n)       byte offset of its first character
    code     uint8 (n)       DRAW, MOVE or FLASH
    mode     uint8 (n)       LINE, CLOCKWISE or COUNTERCLOCKWISE
    placed   bool (n)        both X and Y are given
    start    float64 (n, 2)  the current point before it; (0, 0) before the first
    end      float64 (n, 2)  the current point after it
    centre   float64 (n, 2)  I and J, 0 where they are not given
    """

    run: NDArray[np.int64]
    offset: NDArray[np.int64]
    code: NDArray[np.uint8]
    mode: NDArray[np.uint8]
    placed: NDArray[np.bool_]
    start: NDArray[np.float64]
    end: NDArray[np.float64]
    centre: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.run)


@dataclass(frozen=True, eq=False)
class _Words:
    """k words of operations, a letter and a whole number each; `operation` counts over the file."""

    operation: NDArray[np.int64]
    letter: NDArray[np.uint8]
    value: NDArray[np.int64]
    digits: NDArray[np.int64]
    offset: NDArray[np.int64]


def decode(source: SourceFile, runs: Sequence[tuple[int, int]], form: Format, limits: Limits) -> Operations:
    """Decode runs of operations, (start, end) offsets each, that the grammar has let through.

    Raises InputError where a coordinate has more digits than the format or a limit allows, or where X and Y stand
    without an operation code and D01 was not the last one (the deprecated modal use is for D01 alone).
    """
    words, run, count = _split(source, runs, limits)
    given = np.zeros((count, 4), bool)
    value = np.zeros((count, 4), np.int64)
    for letter, axis in _AXIS_OF.items():
        of_letter = np.flatnonzero(words.letter == letter)
        rows = words.operation[of_letter]
        given[rows, axis] = True
        value[rows, axis] = _scaled(source, words, of_letter, axis % 2, form)
    code = _codes(words, b"D", count)
    mode = _codes(words, b"G", count)
    mode[mode == _FLASH_PREFIX] = 0

    offset = words.offset[np.searchsorted(words.operation, np.arange(count))]
    acts = given.any(axis=1) | (code > 0)
    last_code = _carried(code, code > 0, 0)
    unclear = np.flatnonzero(acts & (code == 0) & (last_code != DRAW))
    if len(unclear):
        raise source.error(int(offset[unclear[0]]), "expected D01, D02 or D03 after the coordinates")
    mode = _carried(mode, mode > 0, LINE)

    point = np.stack([_absolute(value[:, axis], given[:, axis], form.incremental) for axis in (0, 1)], axis=1)
    end = _to_mm(point, form)[acts]
    _check_reach(source, end, offset[acts], limits)
    return Operations(
        run=run[acts],
        offset=offset[acts],
        code=last_code[acts].astype(np.uint8),
        mode=mode[acts].astype(np.uint8),
        placed=given[acts, 0] & given[acts, 1],
        start=np.concatenate([np.zeros((1, 2)), end[:-1]])[: len(end)],
        end=end,
        centre=_to_mm(value[acts, 2:], form),
    )


def _split(
    source: SourceFile, runs: Sequence[tuple[int, int]], limits: Limits
) -> tuple[_Words, NDArray[np.int64], int]:
    """The words of all runs, the run of each operation, and how many operations there are."""
    text = np.frombuffer(b"".join([source.data[start:end] for start, end in runs]), dtype=np.uint8)
    starts, ends = np.array(runs, dtype=np.int64).reshape(-1, 2).T
    run_begins = np.cumsum(ends - starts) - (ends - starts)

    # Numbers are what is left of the text between what is no digit: letters, signs, stars and white space.
    other_at = np.flatnonzero((text < ord("0")) | (text > ord("9")))
    other = text[other_at]
    letters, stars = np.flatnonzero(other >= ord("A")), other == ord("*")
    letter_at = other_at[letters]
    offset = letter_at + _repeated(starts - run_begins, run_begins, letter_at)

    sign = other[letters + 1]
    signed = (other_at[letters + 1] == letter_at + 1) & ((sign == ord("+")) | (sign == ord("-")))
    number_ends = other_at[letters + 1 + signed]
    digits = number_ends - letter_at - 1 - signed
    too_long = np.flatnonzero(digits > limits.coordinate_digits)
    if len(too_long):
        message = f"expected at most {limits.coordinate_digits} digits (limit coordinate_digits)"
        raise source.error(int(offset[too_long[0]]), message)
    value = _numbers(text, number_ends, digits)
    value[signed & (sign == ord("-"))] *= -1

    operation = np.cumsum(stars)[letters]
    run = _repeated(np.arange(len(starts)), run_begins, other_at[stars])
    return _Words(operation, other[letters], value, digits, offset), run, len(run)


def _repeated(values: NDArray[np.int64], begins: NDArray[np.int64], places: NDArray[np.int64]) -> NDArray[np.int64]:
    """For each place, ascending, the value of the run that it is in; run i begins at begins[i], the first at 0."""
    return np.repeat(values, np.diff(np.searchsorted(places, begins), append=len(places)))


def _numbers(text: NDArray[np.uint8], ends: NDArray[np.int64], digits: NDArray[np.int64]) -> NDArray[np.int64]:
    """The whole numbers of so many digits each that end before these places of a text."""
    width = int(digits.max(initial=1))
    padded = np.concatenate([np.zeros(width, dtype=np.uint8), text - np.uint8(ord("0"))])
    value: NDArray[np.signedinteger] = np.zeros(len(ends), dtype=np.int32 if width <= INT32_DIGITS else np.int64)
    for place in range(width):
        value *= 10
        value += np.multiply(padded[ends + place], digits >= width - place)
    return value.astype(np.int64)


def _scaled(
    source: SourceFile, words: _Words, of_letter: NDArray[np.int64], axis: int, form: Format
) -> NDArray[np.int64]:
    """Whole numbers of the format's smallest step, with the omitted trailing zeros put back."""
    value, digits = words.value[of_letter], words.digits[of_letter]
    total = form.integers[axis] + form.decimals[axis]
    beyond = digits > total if form.trailing_zeros_omitted else np.abs(value) >= 10**total
    if beyond.any():
        offset = int(words.offset[of_letter[np.flatnonzero(beyond)[0]]])
        raise source.error(offset, f"expected a coordinate of at most {total} digits, as FS says")
    if form.trailing_zeros_omitted:
        value = value * 10 ** (total - digits)
    return value


def _codes(words: _Words, letter: bytes, count: int) -> NDArray[np.int64]:
    """The code that each operation gives with one letter, 0 for none."""
    found = np.zeros(count, np.int64)
    of_letter = words.letter == ord(letter)
    found[words.operation[of_letter]] = words.value[of_letter]
    return found


def _carried(value: NDArray[np.int64], given: NDArray[np.bool_], initial: int) -> NDArray[np.int64]:
    """Each value, and where it is not given the last that was."""
    at = np.maximum.accumulate(np.where(given, np.arange(1, len(value) + 1), 0))
    return np.concatenate([np.array([initial], np.int64), value])[at]


def _absolute(value: NDArray[np.int64], given: NDArray[np.bool_], incremental: bool) -> NDArray[np.int64]:
    return np.cumsum(value) if incremental else _carried(value, given, 0)


def _to_mm(value: NDArray[np.int64], form: Format) -> NDArray[np.float64]:
    return value / 10.0 ** np.array(form.decimals) * form.unit_mm


def _check_reach(source: SourceFile, point: NDArray[np.float64], offset: NDArray[np.int64], limits: Limits) -> None:
    beyond = np.flatnonzero((np.abs(point) > limits.reach).any(axis=1))
    if len(beyond):
        raise source.error(int(offset[beyond[0]]), f"expected a coordinate within {limits.reach:g} mm (limit reach)")
