"""Features of one layer as they are read, in growing columns, and the artwork that they become."""

from __future__ import annotations

from array import array
from collections.abc import Iterable
from dataclasses import field
from typing import NamedTuple, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.frozen import dataclass
from fencepost.limits import Limits
from fencepost.readers.artwork import Kind, Tool
from fencepost.readers.drawn import check_drawn
from fencepost.readers.gerber.apertures import disc
from fencepost.readers.gerber.transform import IDENTITY, Transform
from fencepost.readers.ipc2581.drawing import Area, Piece, Shape, Spot
from fencepost.readers.ipc2581.paths import Path, with_chords
from fencepost.readers.ipc2581.placing import Placement
from fencepost.source import SourceFile

Scalar = TypeVar("Scalar", bound=np.generic)


@dataclass
class Budget:
    """What all features of a file together have used up."""

    source: SourceFile
    limits: Limits
    features: int = 0
    points: int = 0

    def spend(self, points: int, offset: int) -> None:
        """One more feature. Raises InputError where a limit is passed."""
        self.features += 1
        self.points += points
        if self.features > self.limits.features:
            raise self._passed(offset, "features", self.limits.features)
        if self.points > self.limits.points:
            raise self._passed(offset, "points", self.limits.points)

    def _passed(self, offset: int, name: str, most: int) -> Exception:
        return self.source.error(offset, f"more than {most:,} {name} (limit {name})")


@dataclass
class ToolTable:
    """Shapes with the transforms that they are used with; an index is what a feature's `tool` holds."""

    limits: Limits
    tools: list[Tool] = field(default_factory=list)
    _index: dict[tuple[float | bytes, Transform], int] = field(default_factory=dict)

    def index(self, shape: Shape, transform: Transform) -> int:
        """The tool of a spot. Raises ValueError where it has too many points or is too large."""
        if shape.width and transform is not IDENTITY:
            transform = Transform(scale=transform.scale)
        key = (shape.key, transform)
        if key not in self._index:
            reach = np.abs(np.nan_to_num(shape.area.bounds)).max(initial=0.0) * transform.scale
            if reach > self.limits.reach:
                raise ValueError(f"a shape within {self.limits.reach:g} mm (limit reach)")
            if shapely.get_num_coordinates(shape.area) > self.limits.shape_points:
                raise ValueError(f"at most {self.limits.shape_points:,} points in one shape (limit shape_points)")
            self._index[key] = len(self.tools)
            self.tools.append(_tool(shape, transform))
        return self._index[key]

    def stroke(self, width: float, transform: Transform) -> int:
        """The tool of a stroke."""
        found = self._index.get((width, transform))
        return self.index(Shape(disc(width), width), transform) if found is None else found


def _tool(shape: Shape, transform: Transform) -> Tool:
    if shape.width:
        width = shape.width * transform.scale
        return Tool(width, disc(width))
    return Tool(0.0, Placement(transform).area(shape.area))


class Labels(NamedTuple):
    """What a file says of a feature, as indices into its table of values; -1 for nothing."""

    net: int = -1
    pin: int = -1
    component: int = -1
    function: int = -1


@dataclass(eq=False)
class Columns:
    """Features in drawing order; the columns are those of `Artwork`, with curves not yet chords."""

    budget: Budget
    tools: ToolTable
    kind: array[int] = field(default_factory=lambda: array("B"))
    dark: array[int] = field(default_factory=lambda: array("B"))
    count: array[int] = field(default_factory=lambda: array("q"))
    xy: array[float] = field(default_factory=lambda: array("d"))
    rings: array[int] = field(default_factory=lambda: array("q"))
    tool: array[int] = field(default_factory=lambda: array("i"))
    labels: array[int] = field(default_factory=lambda: array("i"))
    """Four for each feature: net, pin, component, function."""
    offset: array[int] = field(default_factory=lambda: array("q"))
    curve_at: array[int] = field(default_factory=lambda: array("q"))
    curve_centre: array[float] = field(default_factory=lambda: array("d"))
    curve_clockwise: array[int] = field(default_factory=lambda: array("B"))

    def __len__(self) -> int:
        return len(self.kind)

    def add(self, pieces: Iterable[Piece], where: Placement, dark: bool, labels: Labels) -> None:
        """Draw at a place; `dark` False turns what is dark into what clears."""
        for piece in pieces:
            if isinstance(piece, Spot):
                self.flash(piece.shape, where, dark and piece.dark, labels, piece.offset)
                continue
            if isinstance(piece, Area):
                if _encloses(piece.rings[0]):
                    rings = [ring for ring in piece.rings if _encloses(ring)]
                    self._feature(Kind.FILL, rings, where, -1, dark and piece.dark, labels, piece.offset)
                continue
            tool = self.tools.stroke(piece.line.width, where.transform)
            self._feature(Kind.STROKE, [piece.path], where, tool, dark and piece.dark, labels, piece.offset)

    def flash(self, shape: Shape, where: Placement, dark: bool, labels: Labels, offset: int) -> None:
        """One spot."""
        try:
            tool = self.tools.index(shape, where.transform)
        except ValueError as error:
            raise self.budget.source.error(offset, f"expected {error}") from None
        self.xy.append(where.x)
        self.xy.append(where.y)
        self._row(Kind.FLASH, 1, tool, dark, labels, offset)

    def _feature(
        self, kind: Kind, paths: list[Path], where: Placement, tool: int, dark: bool, labels: Labels, offset: int
    ) -> None:
        first = len(self.xy) // 2
        for path in paths:
            begin = len(self.xy) // 2
            if begin > first:
                self.rings.append(begin)
            placed = path if where.is_identity else path.moved(where.transform.matrix, where.shift)
            self.xy.frombytes(np.ascontiguousarray(placed.xy, dtype=np.float64).tobytes())
            if len(placed.at):
                self.curve_at.extend((placed.at + begin).tolist())
                self.curve_centre.extend(placed.centre.ravel().tolist())
                self.curve_clockwise.extend(placed.clockwise.tolist())
        self._row(kind, len(self.xy) // 2 - first, tool, dark, labels, offset)

    def _row(self, kind: Kind, points: int, tool: int, dark: bool, labels: Labels, offset: int) -> None:
        self.budget.spend(points, offset)
        self.kind.append(kind)
        self.count.append(points)
        self.tool.append(tool)
        self.dark.append(dark)
        self.labels.extend(labels)
        self.offset.append(offset)

    def features(self) -> Features:
        """The columns as arrays, every curve as its chords.

        Raises InputError, at the feature, for coordinates out of reach and curves without a centre that fits.
        """
        kind = _array(self.kind, np.uint8)
        count = _array(self.count, np.int64)
        offset = _array(self.offset, np.int64)
        xy = _array(self.xy, np.float64).reshape(-1, 2)
        rings = _array(self.rings, np.int64)
        first = np.concatenate([[0], np.cumsum(count)]).astype(np.int64)
        self._refuse(
            np.asarray(~(np.abs(xy) <= self.budget.limits.reach).all(axis=1)),
            first,
            offset,
            "a coordinate out of reach",
        )
        at = _array(self.curve_at, np.int64)
        if len(at):
            centre = _array(self.curve_centre, np.float64).reshape(-1, 2)
            far = np.zeros(len(xy), dtype=bool)
            far[at] = self._too_far(centre)
            self._refuse(far, first, offset, "a centre out of reach")
            clockwise = _array(self.curve_clockwise, np.bool_)
            try:
                xy, moved, sound = with_chords(xy, at, centre, clockwise, self.budget.limits.points)
            except ValueError as error:
                feature = int(np.searchsorted(first, at[0], side="right")) - 1
                raise self.budget.source.error(int(offset[feature]), f"expected {error}") from None
            unsound = np.zeros(len(moved), dtype=bool)
            unsound[at[~sound]] = True
            self._refuse(unsound, first, offset, "a curve whose ends are not equally far from its centre")
            first, rings = moved[first], moved[rings]
        xy, first, rings = _opened(xy, first, rings, kind == Kind.FILL)
        tool = _array(self.tool, np.int32)
        check_drawn(self.budget.source, self.tools.tools, tool, np.diff(first), offset, self.budget.limits)
        labels = _array(self.labels, np.int32).reshape(-1, 4)
        return Features(kind, _array(self.dark, np.bool_), first, xy, rings, tool, labels, offset)

    def _too_far(self, xy: NDArray[np.float64]) -> NDArray[np.bool_]:
        near = np.abs(xy) <= self.budget.limits.reach
        return np.asarray(~near.all(axis=1))  # so that NaN is too far

    def _refuse(
        self, wrong: NDArray[np.bool_], first: NDArray[np.int64], offset: NDArray[np.int64], message: str
    ) -> None:
        if wrong.any():
            feature = int(np.searchsorted(first, np.argmax(wrong), side="right")) - 1
            raise self.budget.source.error(int(offset[feature]), message)


@dataclass(frozen=True, eq=False)
class Features:
    """Columns of n features as in `Artwork`; `labels` int32 (n, 4): net, pin, component, function."""

    kind: NDArray[np.uint8]
    dark: NDArray[np.bool_]
    first: NDArray[np.int64]
    xy: NDArray[np.float64]
    rings: NDArray[np.int64]
    tool: NDArray[np.int32]
    labels: NDArray[np.int32]
    offset: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.kind)

    def with_flashes(self, more: Features) -> Features:
        """These, and then those flashes of `more` that are not among them already."""
        mine, others = self._flashes(), more._flashes()
        _, same = np.unique(np.concatenate([mine, others]), axis=0, return_inverse=True)
        same = same.ravel()
        rows = np.flatnonzero(~np.isin(same[len(mine) :], same[: len(mine)]))
        return Features(
            np.concatenate([self.kind, more.kind[rows]]),
            np.concatenate([self.dark, more.dark[rows]]),
            np.concatenate([self.first, self.first[-1] + 1 + np.arange(len(rows))]),
            np.concatenate([self.xy, more.xy[more.first[rows]]]),
            self.rings,
            np.concatenate([self.tool, more.tool[rows]]),
            np.concatenate([self.labels, more.labels[rows]]),
            np.concatenate([self.offset, more.offset[rows]]),
        )

    def _flashes(self) -> NDArray[np.float64]:
        """The same row of numbers for flashes that are the same copper."""
        rows = np.flatnonzero(self.kind == Kind.FLASH)
        place = np.round(self.xy[self.first[rows]], 6)
        return np.column_stack([place, self.tool[rows], self.dark[rows], self.labels[rows, :2]])


def _encloses(ring: Path) -> bool:
    """Whether a ring has the three corners that an area needs."""
    points = ring.xy
    if len(ring.at) and len(points) < 5:
        try:
            points = ring.chords()
        except ValueError:
            return True  # said with its place when the curves become chords
    return len(points) >= 4 or (len(points) == 3 and bool((points[0] != points[-1]).any()))


def _array(column: array[int] | array[float], dtype: type[Scalar]) -> NDArray[Scalar]:
    return np.frombuffer(column, dtype=dtype) if len(column) else np.empty(0, dtype=dtype)


def _opened(
    xy: NDArray[np.float64], first: NDArray[np.int64], rings: NDArray[np.int64], fill: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]]:
    """The same without the last point of every ring of a fill that repeats its first one."""
    begins = np.union1d(first[:-1][fill], rings)
    every = np.union1d(first, rings)
    ends = every[np.searchsorted(every, begins, side="right")] - 1 if len(begins) else begins
    closed = ends[(xy[ends] == xy[begins]).all(axis=1) & (ends > begins)]
    if not len(closed):
        return xy, first, rings
    kept = np.ones(len(xy), dtype=bool)
    kept[closed] = False
    gone = np.concatenate([[0], np.cumsum(~kept)])
    return xy[kept], first - gone[first], rings - gone[rings]
