"""Ranges of rows, many at once, against Python's own."""

from __future__ import annotations

import numpy as np
import pytest

from fencepost.ranges import from_zero, ranges


@pytest.mark.parametrize("lengths", [(), (0,), (3,), (2, 0, 3), (0, 0, 1, 4), (5, 1, 0)])
def test_they_are_those_of_python_one_after_the_other(lengths: tuple[int, ...]) -> None:
    begins = [7 * i for i in range(len(lengths))]
    arrays = np.array(begins, dtype=np.int64), np.array(lengths, dtype=np.int64)
    assert ranges(*arrays).tolist() == [
        i for begin, length in zip(begins, lengths, strict=True) for i in range(begin, begin + length)
    ]
    assert from_zero(arrays[1]).tolist() == [i for length in lengths for i in range(length)]
