"""The coordinates of a drill file, decoded in bulk."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from fencepost.frozen import dataclass

LONGEST = 15
"""Digits that a float64 holds exactly."""

POWERS = np.array([float(f"1e{k}") for k in range(23)])
"""The powers of ten that a float64 holds exactly."""

_LF, _CR, _MINUS, _DOT, _0, _9, _A, _Z = (ord(c) for c in "\n\r-.09AZ")


@dataclass(frozen=True, eq=False)
class Words:
    """Letters with the numbers after them, w words on k lines.

    letter    uint8 (w)    ord("X") and so on
    number    float64 (w)  all its digits as one whole number, the decimal point left out, with its sign
    digits    int64 (w)    how many there are
    decimals  int64 (w)    how many stand after the decimal point, -1 where there is none
    line      int64 (w)    which line the word is on, from 0
    offset    int64 (w)    byte offset in the run
    start     int64 (k)    byte offset in the run of each line
    """

    letter: NDArray[np.uint8]
    number: NDArray[np.float64]
    digits: NDArray[np.int64]
    decimals: NDArray[np.int64]
    line: NDArray[np.int64]
    offset: NDArray[np.int64]
    start: NDArray[np.int64]


def split_words(run: str) -> Words:
    """All words of a run of lines such as X1.5Y-2.25. The grammar has seen to it that every letter has its number.

    Numbers of more than LONGEST digits come out as not a number.
    """
    text = np.frombuffer(run.encode("latin-1"), dtype=np.uint8)
    is_letter = (text >= _A) & (text <= _Z)
    offset = np.flatnonzero(is_letter)
    word = np.cumsum(is_letter) - 1
    count = len(offset)

    digit_at = np.flatnonzero((text >= _0) & (text <= _9))
    digit_word = word[digit_at]
    digits = np.bincount(digit_word, minlength=count)
    first = np.cumsum(digits) - digits
    place = digits[digit_word] - 1 - (np.arange(len(digit_at)) - first[digit_word])
    worth = (text[digit_at] - _0) * POWERS[np.minimum(place, LONGEST)]
    number = np.bincount(digit_word, weights=worth, minlength=count).astype(np.float64)
    number[word[text == _MINUS]] *= -1
    number[digits > LONGEST] = np.nan

    dot_at = np.full(count, len(text))
    dots = np.flatnonzero(text == _DOT)
    dot_at[word[dots]] = dots
    decimals = np.bincount(digit_word[digit_at > dot_at[digit_word]], minlength=count)
    decimals[dot_at == len(text)] = -1

    before = text[np.maximum(offset - 1, 0)]
    begins = (offset == 0) | (before == _LF) | (before == _CR)
    return Words(text[offset], number, digits, decimals, np.cumsum(begins) - 1, offset, offset[begins])


def column(words: Words, values: NDArray[np.float64], letter: str, among: NDArray[np.bool_]) -> NDArray[np.float64]:
    """One value a line for a letter, not a number where the line does not have it. `among` picks words, bool (w)."""
    values_by_line = np.full(len(words.start), np.nan)
    chosen = among & (words.letter == ord(letter))
    values_by_line[words.line[chosen]] = values[chosen]
    return values_by_line


def carried(values: NDArray[np.float64], before: float) -> NDArray[np.float64]:
    """Modal values: what is not a number repeats the last one, `before` at the start."""
    known = np.where(np.isnan(values), -1, np.arange(len(values)))
    last: NDArray[np.integer[Any]] = np.maximum.accumulate(known)
    return np.where(last < 0, before, values[last])
