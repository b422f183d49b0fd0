"""The columns of DrillHits while they grow."""

from __future__ import annotations

from dataclasses import field

import numpy as np
from numpy.typing import NDArray

from fencepost.frozen import dataclass
from fencepost.readers.artwork import Attributes, DrillHits
from fencepost.source import SourceFile


@dataclass(frozen=True)
class Marks:
    """What every hit of a batch has in common: diameter in mm, and its attributes, () for none."""

    diameter: float
    function: tuple[str, ...] = ()
    net: tuple[str, ...] = ()
    pin: tuple[str, ...] = ()


@dataclass(eq=False)
class Rows:
    """Batches of hits in the order of the file."""

    source: SourceFile
    most: int
    count: int = 0
    start: list[NDArray[np.float64]] = field(default_factory=lambda: [np.empty((0, 2))])
    end: list[NDArray[np.float64]] = field(default_factory=lambda: [np.empty((0, 2))])
    offset: list[NDArray[np.int64]] = field(default_factory=lambda: [np.empty(0, dtype=np.int64)])
    marks: list[tuple[Marks, int]] = field(default_factory=list)

    def check_room(self, count: int, at: int) -> None:
        """Raises InputError where `count` more hits are too many, before they are made."""
        if self.count + count > self.most:
            raise self.source.error(at, f"the file makes more than {self.most:,} hits (limit hits)")

    def add(
        self, start: NDArray[np.float64], end: NDArray[np.float64], offset: NDArray[np.int64], marks: Marks
    ) -> None:
        """k hits: start and end (k, 2) in mm, byte offset (k)."""
        self.check_room(len(start), int(offset[0]))
        self.count += len(start)
        self.start.append(start)
        self.end.append(end)
        self.offset.append(offset)
        self.marks.append((marks, len(start)))

    def finish(self, attributes: Attributes) -> DrillHits:
        """All of it as one table."""
        values: dict[tuple[str, ...], int] = {}

        def index(fields: tuple[str, ...]) -> int:
            return values.setdefault(fields, len(values)) if fields else -1

        counts = [count for _, count in self.marks]

        def spread(indices: list[int]) -> NDArray[np.int32]:
            return np.repeat(np.array(indices, dtype=np.int32), counts)

        return DrillHits(
            source=self.source,
            attributes=attributes,
            start=np.concatenate(self.start),
            end=np.concatenate(self.end),
            diameter=np.repeat(np.array([marks.diameter for marks, _ in self.marks], dtype=np.float64), counts),
            function=spread([index(marks.function) for marks, _ in self.marks]),
            net=spread([index(marks.net) for marks, _ in self.marks]),
            pin=spread([index(marks.pin) for marks, _ in self.marks]),
            offset=np.concatenate(self.offset),
            values=tuple(values),
        )
