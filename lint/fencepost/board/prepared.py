"""Outlines of many points made ready for many questions."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import shapely
from numpy.typing import NDArray

LARGE = 200
"""Points of a shape from which on it is worth while."""

KEPT = 100_000
"""Points of a layer up to which its shapes stay ready: what is made for them takes 50 bytes a point."""


@contextmanager
def prepared(geometry: NDArray[np.object_]) -> Iterator[None]:
    """The large shapes of a layer are ready for as long as this lasts, and longer where they are not very many.

    Shapes that were ready before stay so.
    """
    size = shapely.get_num_coordinates(geometry)
    chosen = (size >= LARGE) & ~shapely.is_prepared(geometry)
    shapely.prepare(geometry[chosen])
    yield
    if size[chosen].sum() > KEPT:
        shapely.destroy_prepared(geometry[chosen])
