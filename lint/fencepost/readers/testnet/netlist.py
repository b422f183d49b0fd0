"""What a netlist says: points on the board, and the net that each of them is on."""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from fencepost.frozen import dataclass
from fencepost.source import Location, SourceFile


class Point(IntEnum):
    """What a test record is about: the digit in the middle of its code."""

    BLIND = 0
    THROUGH = 1
    SURFACE = 2
    TOOLING = 6


@dataclass(frozen=True, eq=False)
class Netlist:
    """n test points in the order of the file. Lengths in mm.

    kind       uint8 (n)       a `Point`
    goes_on    bool (n)        the record goes on with the one before: a further pad of the same pin or via
    net        int32 (n)       index into `nets`, -1 where it is on none
    part, pin  str (n)         reference designator and number; "VIA" and "" of a via
    middle     bool (n)        a point that is no end of its net
    hole       float64 (n)     diameter, 0 for none
    plated     bool (n)        its hole is plated
    access     int16 (n)       the layer it is reached from, 0 for both outer ones
    xy         float64 (n, 2)
    size       float64 (n, 2)  of the pad along x and y before it is turned; y is 0 where it is round
    rotation   float64 (n)     of the pad, degrees, as the file writes it; not a number where it does not
    mask       int8 (n)        solder mask: 0 none, 1 on the first side, 2 on the other, 3 both; -1 where it is silent
    span       int16 (n, 2)    first and last layer of a blind or buried via; 0 where the file does not say
    offset     int64 (n)       byte offset of the record
    """

    source: SourceFile
    kind: NDArray[np.uint8]
    goes_on: NDArray[np.bool_]
    net: NDArray[np.int32]
    part: NDArray[np.str_]
    pin: NDArray[np.str_]
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
    nets: tuple[str, ...]
    notes: tuple[str, ...] = ()
    """What was passed over, for the user."""

    def __len__(self) -> int:
        return len(self.kind)

    def location(self, point: int) -> Location:
        """Line and column of a point's record."""
        return self.source.locate(int(self.offset[point]))
