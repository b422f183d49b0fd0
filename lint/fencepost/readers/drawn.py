"""What the shapes of tools come to, drawn out wherever they stand: one of many points is soon flashed too often."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.limits import Limits
from fencepost.readers.artwork import Tool
from fencepost.source import SourceFile


def check_drawn(
    source: SourceFile,
    tools: Sequence[Tool],
    tool: NDArray[np.int32],
    places: NDArray[np.int64],
    offset: NDArray[np.int64],
    limits: Limits,
) -> None:
    """Raise InputError, at the feature, where shapes that are not round come to more points than `limits` allows.

    `tool` (n) is -1 for none, `places` (n) are the points of each feature, `offset` (n) where it stands.
    """
    shapes = np.array([tool.shape for tool in tools], dtype=object)
    round_ = np.array([tool.width > 0 for tool in tools], dtype=bool)
    size = np.append(np.where(round_, 0, shapely.get_num_coordinates(shapes)), 0).astype(np.int64)
    drawn = np.cumsum(size[tool] * places)
    if len(drawn) and drawn[-1] > limits.points:
        at = int(offset[np.searchsorted(drawn, limits.points, side="right")])
        raise source.error(at, f"more than {limits.points:,} points in the shapes that it draws with (limit points)")
