"""Lines and points as straight segments."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray


class Segments(NamedTuple):
    """s segments: from `start` to `end`, float64 (s, 2), and int64 (s) the row of the shape that each is of, ascending.

    A point is a segment that ends where it begins.
    """

    start: NDArray[np.float64]
    end: NDArray[np.float64]
    owner: NDArray[np.int64]


def segments_of(geometry: NDArray[np.object_]) -> Segments:
    """All of LineStrings and Points (n)."""
    xy, owner = shapely.get_coordinates(geometry, return_index=True)
    goes_on = np.append(owner[1:] == owner[:-1], False)
    alone = np.bincount(owner, minlength=len(geometry))[owner] == 1
    first = np.flatnonzero(goes_on | alone)
    return Segments(xy[first], xy[first + goes_on[first]], owner[first])
