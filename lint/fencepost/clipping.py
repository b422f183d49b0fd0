"""Shapes cut at the sides of boxes, the fast way."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry


def clipped(shapes: NDArray[np.object_], boxes: NDArray[np.float64]) -> NDArray[np.object_]:
    """What of each shape (n) lies in its own box (n, 4): least x, least y, greatest x, greatest y.

    Many times faster than an intersection. It may leave a ring that touches itself, and may lose some: whoever needs to
    know must look whether the shapes are valid, and whether their areas add up.
    """
    found = np.empty(len(shapes), dtype=object)
    found[:] = [_clip(shape, box) for shape, box in zip(shapes, boxes.tolist(), strict=True)]
    return found


def shortened(shapes: NDArray[np.object_], boxes: NDArray[np.float64]) -> NDArray[np.object_]:
    """The same, valid, and all of a shape where that is not to be had: for what is cut further inside of the boxes,
    and costs less the fewer corners there are."""
    found = clipped(shapes, boxes)
    wrong = ~shapely.is_valid(found)
    found[wrong] = shapes[wrong]
    return found


def _clip(shape: BaseGeometry, box: list[float]) -> BaseGeometry:
    try:
        return shapely.clip_by_rect(shape, *box)
    except shapely.GEOSException:  # A ring was left with too few corners.
        return shapely.intersection(shape, shapely.box(*box))
