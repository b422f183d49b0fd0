"""A run of test records, decoded in bulk by its columns. The grammar has seen to it that they hold what they must."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from fencepost.frozen import dataclass

WIDTH = 82
"""Columns of a record, 80, and what may be looked at behind them."""

Characters = NDArray[np.uint8]
"""(k, WIDTH): a row for each record, filled up with blanks."""


@dataclass(frozen=True, eq=False)
class Records:
    """k records, in the file's unit. Columns as in `Netlist`; text as bytes, blanks around it removed.

    Of sizes and diameters 0 stands for nothing written; of `span` likewise.
    """

    kind: NDArray[np.uint8]
    goes_on: NDArray[np.bool_]
    net: NDArray[np.bytes_]
    part: NDArray[np.bytes_]
    pin: NDArray[np.bytes_]
    middle: NDArray[np.bool_]
    hole: NDArray[np.float64]
    plated: NDArray[np.bool_]
    access: NDArray[np.int16]
    xy: NDArray[np.float64]
    size: NDArray[np.float64]
    rotation: NDArray[np.float64]
    mask: NDArray[np.int8]
    span: NDArray[np.int16]
    offset: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.kind)


def decode(run: bytes, at: int) -> Records:
    """All records of a run that begins at byte `at` of its file."""
    text, start = _rows(run)
    turn = text[:, 67] == ord("R")
    mask, free = _after_the_turn(text)
    return Records(
        kind=text[:, 1] - np.uint8(ord("0")),
        goes_on=text[:, 0] == ord("0"),
        net=_text(text[:, 3:17]),
        part=_text(text[:, 20:26]),
        pin=_text(text[:, 27:31]),
        middle=text[:, 31] == ord("M"),
        hole=_number(text[:, 33:37]),
        plated=text[:, 37] == ord("P"),
        access=_number(text[:, 39:41]).astype(np.int16),
        xy=np.stack([_signed(text[:, 42:49]), _signed(text[:, 50:57])], axis=1),
        size=np.stack([_number(text[:, 58:62]), _number(text[:, 63:67])], axis=1),
        rotation=np.where(turn & (text[:, 70] != ord(" ")), _number(text[:, 68:71]), np.nan),
        mask=mask,
        span=_spans(free),
        offset=start + at,
    )


def joined(runs: list[Records]) -> Records:
    """Several runs as one."""
    return Records(*(np.concatenate([getattr(run, field.name) for run in runs]) for field in fields(Records)))


def _rows(run: bytes) -> tuple[Characters, NDArray[np.int64]]:
    """The records as rows of characters, and where each begins."""
    text = np.frombuffer(run, dtype=np.uint8)
    ends = (text == ord("\n")) | (text == ord("\r"))
    first = np.flatnonzero(~ends & np.concatenate([[True], ends[:-1]]))
    last = np.flatnonzero(ends & np.concatenate([[False], ~ends[:-1]]))
    rows = np.full((len(first), WIDTH), ord(" "), dtype=np.uint8)
    for column in range(WIDTH):
        inside = first + column < last
        rows[inside, column] = text[first[inside] + column]
    return rows, first.astype(np.int64)


def _number(text: Characters) -> NDArray[np.float64]:
    """Whole numbers; blanks count nothing."""
    digits = np.where(text == ord(" "), 0, text.astype(np.int64) - ord("0"))
    worth: NDArray[np.float64] = digits @ 10.0 ** np.arange(text.shape[1])[::-1]
    return worth


def _signed(text: Characters) -> NDArray[np.float64]:
    return np.where(text[:, 0] == ord("-"), -1.0, 1.0) * _number(text[:, 1:])


def _text(text: Characters) -> NDArray[np.bytes_]:
    return np.char.strip(np.ascontiguousarray(text).view(f"S{text.shape[1]}")[:, 0])


def _after_the_turn(text: Characters) -> tuple[NDArray[np.int8], Characters]:
    """The solder mask, whose S stands in column 72 or 73, and 7 columns behind it."""
    later = (text[:, 71] != ord("S")) & (text[:, 72] == ord("S"))
    begin = np.where(later, 72, 71)
    has = text[np.arange(len(text)), begin] == ord("S")
    free = np.take_along_axis(text, begin[:, None] + np.arange(9), axis=1)
    code = free[:, 1]
    mask = np.where(has & (code != ord(" ")), code.astype(np.int16) - ord("0"), -1).astype(np.int8)
    return mask, np.where(has[:, None], free[:, 2:], free[:, :7])


def _spans(free: Characters) -> NDArray[np.int16]:
    """The two layers of L01L03, wherever it begins; 0, 0 where there is none."""
    span = np.zeros((len(free), 2), dtype=np.int16)
    for row in np.flatnonzero((free == ord("L")).any(axis=1)):
        digits = bytes(free[row]).replace(b"L", b" ").replace(b"-", b" ").split()
        if len(digits) == 2 and all(number.isdigit() for number in digits):
            span[row] = [int(number) for number in digits]
    return span
