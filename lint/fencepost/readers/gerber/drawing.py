"""Operations and the state of each to features: strokes, flashes and filled contours."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fencepost.limits import Limits
from fencepost.ranges import ranges
from fencepost.readers.artwork import Kind
from fencepost.readers.gerber.apertures import ToolTable
from fencepost.readers.gerber.arcs import Arcs, arcs_of
from fencepost.readers.gerber.features import Features
from fencepost.readers.gerber.interpreter import RunState
from fencepost.readers.gerber.operations import CLOCKWISE, DRAW, FLASH, LINE, MOVE, Operations
from fencepost.source import SourceFile

_SINGLE_QUADRANT = 74

_FEWEST_CORNERS = 3
_UNPLACED = RunState._fields.index("unplaced")


def draw(
    source: SourceFile,
    operations: Operations,
    states: Sequence[RunState],
    tools: ToolTable,
    resolution_mm: float,
    limits: Limits,
) -> tuple[Features, NDArray[np.int64], NDArray[np.int64]]:
    """The features, and for each one the run of operations that made it and the container that it is in.

    A contour of fewer than three corners has no area and makes none. Raises InputError for an operation that its state
    does not allow, an arc without a centre that fits, and a contour that does not end where it began.
    """
    table = np.array(states, dtype=np.int64).reshape(-1, len(RunState._fields))
    column = {name: table[operations.run, index] for index, name in enumerate(RunState._fields)}
    block = np.array([aperture.block is not None for aperture, _ in tools.entries] + [False])
    drawing, flashing = operations.code == DRAW, operations.code == FLASH
    is_arc = drawing & (operations.mode != LINE)
    _check_state(source, operations, column, is_arc, block[column["tool"]], table[:, _UNPLACED])

    region = column["region"]
    filling = drawing & (region > 0)
    follows = filling[1:] & filling[:-1] & (region[1:] == region[:-1])
    begins = flashing | (drawing & ~np.concatenate([[False], follows]))
    closes = filling & ~np.concatenate([follows, [False]])

    chords = drawing.astype(np.int64)
    arcs = _arcs(source, operations, is_arc, column["quadrant"], resolution_mm)
    chords[is_arc] = arcs.chords()
    count = begins + chords
    past = np.cumsum(count)
    _check_size(source, operations, past, np.cumsum(begins), limits)

    xy = np.empty((int(past[-1]) if len(past) else 0, 2))
    xy[(past - count)[begins]] = np.where(flashing[:, None], operations.end, operations.start)[begins]
    xy[ranges((past - chords)[is_arc], chords[is_arc])] = arcs.points(chords[is_arc])
    xy[past[drawing] - 1] = operations.end[drawing]

    open_ones = np.flatnonzero((operations.start[begins & filling] != operations.end[closes]).any(axis=1))
    if len(open_ones):
        x, y = operations.start[begins & filling][open_ones[0]]
        message = f"expected the contour to end where it began, at ({x:.6g}, {y:.6g}) mm"
        raise source.error(int(operations.offset[closes][open_ones[0]]), message)
    keep = np.ones(len(xy), bool)
    keep[past[closes] - 1] = False

    feature = np.cumsum(begins) - 1
    part = begins | drawing
    points = np.bincount(feature[part], (count - closes)[part], minlength=int(begins.sum())).astype(np.int64)
    features = Features(
        kind=np.select([flashing, filling], [Kind.FLASH, Kind.FILL], Kind.STROKE)[begins].astype(np.uint8),
        dark=column["dark"][begins].astype(bool),
        count=points,
        xy=xy[keep],
        tool=np.where(filling, -1, column["tool"])[begins].astype(np.int32),
        net=column["net"][begins].astype(np.int32),
        pin=column["pin"][begins].astype(np.int32),
        component=column["component"][begins].astype(np.int32),
        function=column["function"][begins].astype(np.int32),
        offset=_beginnings(operations, filling, region)[begins],
    )
    run, container = operations.run[begins], column["container"][begins]
    if (points[features.kind == Kind.FILL] < _FEWEST_CORNERS).any():
        rows = np.flatnonzero((features.kind != Kind.FILL) | (points >= _FEWEST_CORNERS))
        return features.take(rows), run[rows], container[rows]
    return features, run, container


def _check_state(
    source: SourceFile,
    operations: Operations,
    column: dict[str, NDArray[np.int64]],
    is_arc: NDArray[np.bool_],
    is_block: NDArray[np.bool_],
    unplaced: NDArray[np.int64],
) -> None:
    """Raise InputError for the first operation of each kind that its state does not allow."""
    drawing = operations.code == DRAW
    outside = column["region"] == 0
    after_block = np.zeros(len(operations), bool)
    first_after = np.searchsorted(operations.run, np.flatnonzero(unplaced))
    after_block[first_after[first_after < len(operations)]] = True
    for wrong, message in (
        (after_block & (drawing | ~operations.placed), "expected D02 or D03 with X and Y at the edge of a block"),
        (~outside & (operations.code == FLASH), "expected D01 or D02 in a region, not D03"),
        (outside & (operations.code != MOVE) & (column["tool"] < 0), "expected an aperture to be selected before"),
        (outside & drawing & is_block, "expected D03 with a block aperture, not D01"),
        (~is_arc & operations.centre.any(axis=1), "expected I and J in an arc only"),
        (is_arc & (column["quadrant"] == 0), "expected G75 or G74 before the first arc"),
    ):
        if wrong.any():
            raise source.error(int(operations.offset[np.argmax(wrong)]), message)


def _arcs(
    source: SourceFile,
    operations: Operations,
    is_arc: NDArray[np.bool_],
    quadrant: NDArray[np.int64],
    resolution_mm: float,
) -> Arcs:
    """All arcs. Raises InputError for one without a centre that fits."""
    arcs = arcs_of(
        operations.start[is_arc],
        operations.end[is_arc],
        operations.centre[is_arc],
        operations.mode[is_arc] == CLOCKWISE,
        quadrant[is_arc] == _SINGLE_QUADRANT,
        resolution_mm,
    )
    if not arcs.sound.all():
        offset = int(operations.offset[is_arc][np.argmin(arcs.sound)])
        raise source.error(offset, "expected an arc whose ends are equally far from its centre")
    return arcs


def _check_size(
    source: SourceFile,
    operations: Operations,
    points: NDArray[np.int64],
    features: NDArray[np.int64],
    limits: Limits,
) -> None:
    for total, most, name in ((points, limits.points, "points"), (features, limits.features, "features")):
        if len(total) and total[-1] > most:
            offset = int(operations.offset[np.searchsorted(total, most, side="right")])
            raise source.error(offset, f"expected at most {most} {name} (limit {name})")


def _beginnings(operations: Operations, filling: NDArray[np.bool_], region: NDArray[np.int64]) -> NDArray[np.int64]:
    """The offset that a feature has if it begins here: its operation's, or that of its contour's D02."""
    offset = operations.offset.copy()
    after_move = filling[1:] & (operations.code[:-1] == MOVE) & (region[:-1] == region[1:])
    offset[1:][after_move] = operations.offset[:-1][after_move]
    return offset
