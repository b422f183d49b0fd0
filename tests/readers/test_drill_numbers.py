"""Coordinates decoded in bulk against Python's own decimal arithmetic."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from fencepost.readers.drill.excellon import read_drill
from fencepost.readers.drill.numbers import split_words
from fencepost.source import SourceFile

signs = st.sampled_from(["", "+", "-"])
fixed = st.builds(str.__add__, signs, st.text("0123456789", min_size=1, max_size=6))
pointed = st.builds(
    lambda sign, whole, part: f"{sign}{whole}.{part}",
    signs,
    st.text("0123456789", min_size=1, max_size=3),
    st.text("0123456789", max_size=6),
)
ends = st.sampled_from(["\n", "\r\n", "\r", " \n"])


@given(st.lists(st.tuples(pointed, pointed, ends), min_size=1, max_size=20))
def test_numbers_with_a_point_are_what_they_say(points: list[tuple[str, str, str]]) -> None:
    run = "".join(f"X{x}Y{y}{end}" for x, y, end in points)
    hits = read_drill(SourceFile("a", f"METRIC\nT1C1.0\n{run}M30\n".encode()))
    expected = [[float(Decimal(x)), float(Decimal(y))] for x, y, _ in points]
    np.testing.assert_array_equal(hits.start, expected)


@given(st.lists(st.tuples(fixed, ends), min_size=1, max_size=20), st.sampled_from(["LZ", "TZ"]))
def test_numbers_without_a_point_are_padded_where_zeros_were_left_out(
    numbers: list[tuple[str, str]], kept: str
) -> None:
    """The digits of 000.000, written out by padding on the side whose zeros are not kept."""
    run = "".join(f"X{x}{end}" for x, end in numbers)
    hits = read_drill(SourceFile("a", f"METRIC,{kept},000.000\nT1C1.0\n{run}M30\n".encode()))

    def padded(number: str) -> float:
        sign, digits = ("-" if number[0] == "-" else ""), number.lstrip("+-")
        digits = digits.ljust(6, "0") if kept == "LZ" else digits.rjust(6, "0")
        return float(Decimal(f"{sign}{digits[:3]}.{digits[3:]}"))

    np.testing.assert_array_equal(hits.start[:, 0], [padded(x) for x, _ in numbers])


def test_words_know_their_lines_and_offsets() -> None:
    words = split_words("X1.5Y-20\r\nY+.25 \nX7\n")
    assert bytes(words.letter) == b"XYYX"
    assert words.number.tolist() == [15, -20, 25, 7]
    assert words.digits.tolist() == [2, 2, 2, 1]
    assert words.decimals.tolist() == [1, -1, 2, -1]
    assert words.line.tolist() == [0, 0, 1, 2]
    assert words.offset.tolist() == [0, 4, 10, 17]
    assert words.start.tolist() == [0, 10, 17]
