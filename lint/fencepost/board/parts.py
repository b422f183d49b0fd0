"""From one layer's features to its copper: chains of strokes, flashes and fills, after polarity.

A dark feature is cut by every clear feature that comes after it and meets it; the rest stay as they were drawn. So
every part still belongs to its feature, with its net and its line in the file.
"""

from __future__ import annotations

import math
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.board.boxes import Boxes, around, spans
from fencepost.board.cutins import uncut
from fencepost.board.model import QUAD_SEGS
from fencepost.frozen import dataclass
from fencepost.limits import DEFAULT_LIMITS, Limits
from fencepost.meeting import TooManyMeet, check_crossings, meeting, sides
from fencepost.ranges import from_zero
from fencepost.readers.artwork import Artwork, Kind

LONGEST_CHAIN = 64
"""Strokes in one part at the most: long chains have large boxes, and large boxes meet everything."""

SIDES = (8, 4)
"""Sides of a contour that are looked at together: first so many, and where that does not tell, fewer."""


@dataclass(frozen=True, eq=False)
class Parts:
    """Columns as in `board.model.Copper`, without nets and pieces."""

    geometry: NDArray[np.object_]
    reach: NDArray[np.float64]
    feature: NDArray[np.int32]
    last: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.reach)

    def take(self, chosen: NDArray[np.integer] | NDArray[np.bool_]) -> Parts:
        """The parts at these indices, or under this mask."""
        return Parts(self.geometry[chosen], self.reach[chosen], self.feature[chosen], self.last[chosen])

    @cached_property
    def boxes(self) -> Boxes:
        """The box of each part, and a tree over them."""
        return Boxes(self.geometry, self.reach)

    @property
    def outlines(self) -> NDArray[np.object_]:
        """Polygons of all parts."""
        geometry: NDArray[np.object_] = self.geometry.copy()
        drawn = self.reach > 0
        geometry[drawn] = shapely.buffer(geometry[drawn], self.reach[drawn], quad_segs=QUAD_SEGS)
        return geometry


def parts_of(artwork: Artwork, limits: Limits = DEFAULT_LIMITS) -> Parts:
    """The copper that an artwork leaves. Parts are in the order of their first features.

    Raises InputError, at the feature, where more lies over one another than the limits allow.
    """
    drawn = joined(
        [
            _chains(artwork, artwork.dark),
            _swept(artwork, artwork.dark),
            _flashes(artwork, artwork.dark),
            _fills(artwork, artwork.dark, limits),
        ]
    )
    if artwork.dark.all():
        return drawn
    clear = ~artwork.dark
    clears = joined([_chains(artwork, clear), _swept(artwork, clear), _flashes(artwork, clear)])
    clears = joined([clears, _fills(artwork, clear, limits)])
    try:
        return _cut(drawn, clears, limits.overlaps)
    except TooManyMeet as error:
        raise artwork.source.error(int(artwork.offset[drawn.feature[error.row]]), str(error)) from None


def joined(groups: list[Parts]) -> Parts:
    """Several groups as one, sorted by feature."""
    feature = np.concatenate([group.feature for group in groups])
    return Parts(
        np.concatenate([group.geometry for group in groups]),
        np.concatenate([group.reach for group in groups]),
        feature,
        np.concatenate([group.last for group in groups]),
    ).take(np.argsort(feature, kind="stable"))


def _columns(geometry: object, reach: object, feature: object, last: object) -> Parts:
    return Parts(
        np.asarray(geometry, dtype=object),
        np.asarray(reach, dtype=np.float64),
        np.asarray(feature, dtype=np.int32),
        np.asarray(last, dtype=np.int32),
    )


def _widths(artwork: Artwork) -> NDArray[np.float64]:
    """The tool's width for each feature; 0 for fills and for tools that are not round."""
    widths = np.array([*(tool.width for tool in artwork.tools), 0.0])
    return widths[artwork.tool]


def _chains(artwork: Artwork, wanted: NDArray[np.bool_]) -> Parts:
    """Strokes of round tools; consecutive ones that go on where the last one ended become one part."""
    widths, count = _widths(artwork), np.diff(artwork.first)
    drawn = (artwork.kind == Kind.STROKE) & (widths > 0) & wanted
    strokes = np.flatnonzero(drawn)
    if not len(strokes):
        return _columns([], [], [], [])
    start, end = artwork.xy[artwork.first[strokes]], artwork.xy[artwork.first[strokes + 1] - 1]
    goes_on = (np.diff(strokes) == 1) & (start[1:] == end[:-1]).all(axis=1)
    for column in (artwork.tool, artwork.net, artwork.pin, artwork.function):
        goes_on &= column[strokes[1:]] == column[strokes[:-1]]
    begins = np.concatenate([[True], ~goes_on])
    run = np.cumsum(begins) - 1
    place = np.arange(len(strokes)) - np.flatnonzero(begins)[run]
    begins |= place % LONGEST_CHAIN == 0
    chain = np.cumsum(begins) - 1

    kept = np.repeat(drawn, count)
    kept[artwork.first[strokes[~begins]]] = False  # It is where the stroke before ends.
    lines = shapely.linestrings(artwork.xy[kept], indices=np.repeat(chain, count[strokes] - ~begins))
    first = strokes[begins]
    last = strokes[np.concatenate([np.flatnonzero(begins)[1:] - 1, [len(strokes) - 1]])]
    still = shapely.length(lines) == 0
    lines[still] = shapely.points(artwork.xy[artwork.first[first[still]]])
    return _columns(lines, widths[first] / 2, first, last)


def _swept(artwork: Artwork, wanted: NDArray[np.bool_]) -> Parts:
    """Strokes of tools that are not round: each segment sweeps the hull of the tool at its two ends."""
    strokes = np.flatnonzero((artwork.kind == Kind.STROKE) & (_widths(artwork) == 0) & wanted)
    shapes, features = [], []
    for feature in strokes:
        outline = shapely.get_coordinates(artwork.tools[artwork.tool[feature]].shape)
        points = artwork.points(int(feature))
        if len(outline):
            hulls = [
                shapely.convex_hull(shapely.multipoints(np.vstack([outline + a, outline + b])))
                for a, b in pairwise(points)
            ]
            shapes.append(shapely.union_all(hulls))
            features.append(feature)
    return _columns(shapes, np.zeros(len(shapes)), features, features)


def _flashes(artwork: Artwork, wanted: NDArray[np.bool_]) -> Parts:
    """Flashes: round tools stay points, others become their outlines, moved."""
    flashes = np.flatnonzero((artwork.kind == Kind.FLASH) & wanted)
    widths = _widths(artwork)[flashes]
    round_ = flashes[widths > 0]
    groups = [
        _columns(shapely.points(artwork.xy[artwork.first[round_]]), widths[widths > 0] / 2, round_, round_),
    ]
    others = flashes[widths == 0]
    for tool in np.unique(artwork.tool[others]):
        features = others[artwork.tool[others] == tool]
        shape = artwork.tools[tool].shape
        if not shape.is_empty:
            moved = _moved(shape, artwork.xy[artwork.first[features]])
            groups.append(_columns(moved, np.zeros(len(features)), features, features))
    return joined(groups)


def _moved(shape: shapely.geometry.base.BaseGeometry, places: NDArray[np.float64]) -> NDArray[np.object_]:
    """Copies of a shape, one at each place."""
    copies: NDArray[np.object_] = np.repeat(np.array([shape], dtype=object), len(places))
    coordinates = shapely.get_coordinates(shape)
    moved = coordinates[None, :, :] + places[:, None, :]
    result: NDArray[np.object_] = shapely.set_coordinates(copies.copy(), moved.reshape(-1, 2))
    return result


def _fills(artwork: Artwork, wanted: NDArray[np.bool_], limits: Limits) -> Parts:
    """Filled contours with their holes. A cut-in, by which a contour reaches a hole in itself, becomes the hole."""
    fills = np.flatnonzero((artwork.kind == Kind.FILL) & wanted)
    fills = fills[np.diff(artwork.first)[fills] >= 3]
    if not len(fills):
        return _columns([], [], [], [])
    count = np.diff(artwork.first)[fills]
    owner = np.repeat(np.arange(len(fills)), count)
    within = from_zero(count)
    row = artwork.first[fills][owner] + within
    begins = (within == 0) | np.isin(row, artwork.rings)
    rings = shapely.linearrings(artwork.xy[row], indices=np.cumsum(begins) - 1)
    drawn: NDArray[np.object_] = shapely.polygons(rings, indices=owner[begins])
    shapes = drawn.copy()
    simple = (np.bincount(owner[begins]) == 1)[owner]
    cut, areas = uncut(artwork.xy[row[simple]], owner[simple])
    shapes[cut] = areas
    wrong = ~shapely.is_valid(shapes)
    shapes[wrong] = drawn[wrong]
    for feature in fills[wrong & (count > math.isqrt(2 * limits.crossings))]:
        _check_crossings(artwork, int(feature), limits.crossings)
    shapes[wrong] = _mended(shapes[wrong])
    kept = ~shapely.is_empty(shapes)
    return _columns(shapes[kept], np.zeros(kept.sum()), fills[kept], fills[kept])


def _check_crossings(artwork: Artwork, feature: int, most: int) -> None:
    """Raise InputError for a contour whose sides cross so often that mending it would take all memory."""
    points = artwork.points(feature)
    if any(_few_crossings(points, together, most) for together in SIDES):
        return
    try:
        check_crossings(sides(points), most)
    except TooManyMeet as error:
        raise artwork.source.error(int(artwork.offset[feature]), str(error)) from None


def _few_crossings(points: NDArray[np.float64], together: int, most: int) -> bool:
    """Whether no more than `most` pairs of the sides of a path meet, as far as boxes around several can tell."""
    begins = np.arange(0, len(points) - 1, together)
    ends = np.minimum(begins + together, len(points) - 1)
    low, high = points[ends], points[ends]
    for step in range(together):
        corner = points[np.minimum(begins + step, ends)]
        low, high = np.minimum(low, corner), np.maximum(high, corner)
    boxes = spans(np.hstack([low, high]))
    left = most // together**2 - len(boxes)  # The sides within a box may all meet one another.
    if left < 0:
        return False
    try:
        check_crossings(boxes, left)
    except TooManyMeet:
        return False
    return True


def _mended(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """Valid shapes for contours that touch or cross themselves.

    Where one only touches itself, the area that it encloses by its corners is the true one, and a buffer of 0 finds it
    twenty times faster than general mending. Where the areas differ, the contour crosses itself.
    """
    quick: NDArray[np.object_] = shapely.buffer(shapes, 0)
    enclosed = shapely.area(shapes)
    crossing = ~shapely.is_valid(quick) | (np.abs(shapely.area(quick) - enclosed) > 1e-9 * (1 + enclosed))
    quick[crossing] = [_areas(shape) for shape in shapely.make_valid(shapes[crossing])]
    return quick


def _areas(shape: shapely.geometry.base.BaseGeometry) -> shapely.geometry.base.BaseGeometry:
    """What of a shape has area, without the lines and points that mending may leave."""
    pieces = shapely.get_parts(shape)
    return shapely.union_all(pieces[shapely.area(pieces) > 0])


def _cut(drawn: Parts, clears: Parts, most: int) -> Parts:
    """Take from every dark part the clear ones that come later. What falls apart becomes several parts."""
    removed = clears.outlines
    boxes = around(shapely.bounds(drawn.geometry), drawn.reach)
    part, clear = meeting(boxes, removed, most, predicate="intersects")
    later = clears.feature[clear] > drawn.last[part]
    part, clear = part[later], clear[later]
    hit = np.unique(part)
    if not len(hit):
        return drawn
    outlines = drawn.take(hit).outlines
    holes = [shapely.union_all(removed[group]) for group in np.split(clear, np.searchsorted(part, hit)[1:])]
    left, owner = shapely.get_parts(shapely.difference(outlines, holes), return_index=True)
    solid = shapely.area(left) > 0
    left, owner = left[solid], hit[owner[solid]]
    remains = _columns(left, np.zeros(len(left)), drawn.feature[owner], drawn.last[owner])
    whole = np.ones(len(drawn), dtype=bool)
    whole[hit] = False
    return joined([drawn.take(whole), remains])
