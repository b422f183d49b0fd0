"""Ranges of whole numbers, many at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def ranges(begins: NDArray[np.integer], lengths: NDArray[np.integer]) -> NDArray[np.int64]:
    """All whole numbers of the ranges of some lengths, one range after the other."""
    shift = np.repeat(begins - (np.cumsum(lengths) - lengths), lengths)
    whole: NDArray[np.int64] = np.arange(len(shift)) + shift
    return whole


def from_zero(lengths: NDArray[np.integer]) -> NDArray[np.int64]:
    """0, 1, ... lengths[0] - 1, 0, 1, ... lengths[1] - 1, and so on."""
    return ranges(np.zeros_like(lengths), lengths)
