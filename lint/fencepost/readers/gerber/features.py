"""Columns of features: taking, joining, placing them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from functools import cached_property
from typing import Self

import numpy as np
from numpy.typing import NDArray

from fencepost.frozen import dataclass
from fencepost.ranges import ranges
from fencepost.readers.gerber.transform import Transform


@dataclass(frozen=True, eq=False)
class Features:
    """n features of m points, columns as in `Artwork`; `count` is the number of points of each.

    `tool` is an index into the tool table; where that is a block aperture, the flash is still to be expanded.
    """

    kind: NDArray[np.uint8]
    dark: NDArray[np.bool_]
    count: NDArray[np.int64]
    xy: NDArray[np.float64]
    tool: NDArray[np.int32]
    net: NDArray[np.int32]
    pin: NDArray[np.int32]
    component: NDArray[np.int32]
    function: NDArray[np.int32]
    offset: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.kind)

    @cached_property
    def first(self) -> NDArray[np.int64]:
        """Index of each feature's first point, with the number of points at the end, (n + 1)."""
        return np.concatenate([[0], np.cumsum(self.count)]).astype(np.int64)

    def take(self, rows: NDArray[np.int64]) -> Self:
        """The features of some rows, in that order."""
        columns = {name: getattr(self, name)[rows] for name in _ROW_COLUMNS}
        return type(self)(xy=self.xy[ranges(self.first[rows], columns["count"])], **columns)

    def repeated(self, steps: NDArray[np.float64]) -> Self:
        """All features once for each step (k, 2), moved by it."""
        columns = {name: np.tile(getattr(self, name), len(steps)) for name in _ROW_COLUMNS}
        return type(self)(xy=np.tile(self.xy, (len(steps), 1)) + np.repeat(steps, len(self.xy), axis=0), **columns)

    def placed(
        self, transform: Transform, at: NDArray[np.float64], toggled: bool, tool: NDArray[np.int32], offset: int
    ) -> Self:
        """Mirrored, rotated and scaled about the origin, then moved; with other tools, one offset and, if `toggled`,
        the other polarity."""
        columns = {name: getattr(self, name) for name in _ROW_COLUMNS}
        columns["tool"] = tool
        columns["dark"] = ~self.dark if toggled else self.dark
        columns["offset"] = np.full(len(self), offset, np.int64)
        return type(self)(xy=self.xy @ transform.matrix.T + at, **columns)

    def labelled(self, **labels: int) -> Self:
        """With the given attribute indices where a feature has none of its own."""
        columns = {field.name: getattr(self, field.name) for field in fields(self)}
        for name, value in labels.items():
            columns[name] = np.where(columns[name] < 0, np.int32(value), columns[name])
        return type(self)(**columns)


def joined(pieces: Sequence[Features]) -> Features:
    """One after the other; at least one piece."""
    if len(pieces) == 1:
        return pieces[0]
    names = [field.name for field in fields(Features)]
    return Features(**{name: np.concatenate([getattr(piece, name) for piece in pieces]) for name in names})


_ROW_COLUMNS = tuple(field.name for field in fields(Features) if field.name != "xy")
