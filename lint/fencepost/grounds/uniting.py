"""Fills, strokes and flashes of one layer as the polygons that they are together.

Most corners of a pour are those of its antipads, and most of what is drawn over it touches few of these. So the fills
are united with their holes closed, and each hole is cut out less what lies in it: no step looks at all corners at once.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import TOUCH_MM
from fencepost.frozen import dataclass
from fencepost.grounds.outlined import outlined

CHORD_MM = 0.005
"""Largest distance between a round edge and its chords (design: 5 µm)."""

Indices = NDArray[np.int64]
Shapes = NDArray[np.object_]


@dataclass(frozen=True, eq=False)
class _Parts:
    """What is left of the parts of one layer, n of them, when the strokes along the edge of a fill are told by it.

    geometry  object (n)   Polygons, LineStrings, Points
    reach     float64 (n)  how far each goes beyond its geometry, in mm
    owner     int64 (n)    the area that it is part of
    shell     object (n)   Polygons: the parts drawn out, holes closed
    """

    geometry: Shapes
    reach: NDArray[np.float64]
    owner: Indices
    shell: Shapes


def united(geometry: Shapes, reach: NDArray[np.float64], owner: Indices, count: int) -> Shapes:
    """(count): the areas that parts (n) of one layer are together, by owner, each of which has some. Those of different
    owners do not touch.

    Polygons, or MultiPolygons where parts of one owner only just touch; valid. Round edges become chords within them,
    no farther than CHORD_MM away. A part is everything within `reach` mm of its geometry.
    """
    parts = _parts(geometry, reach, owner)
    areas = _closed(parts, count)
    holes, around = _holes(parts)
    _cut(areas, holes, parts.owner[around], parts.reach[around] == 0)
    for row in np.flatnonzero(shapely.get_type_id(areas) != shapely.GeometryType.POLYGON):
        areas[row] = _bridged(areas[row])
    return areas


def union_by(shapes: Shapes, group: NDArray[np.integer]) -> Shapes:
    """The union of the shapes (n) of each group, by number from 0 on; `group` (n) ascends, and leaves none out."""
    count = np.bincount(group)
    first = np.cumsum(count) - count
    unions: Shapes = shapes[first]
    # In tables of rows that are about as long, so that one long row does not make all of them long.
    length = np.ceil(np.log2(count))
    for alike in np.unique(length[count > 1]).tolist():
        rows = np.flatnonzero(length == alike)
        place = np.arange(int(count[rows].max()))
        some = place < count[rows][:, None]
        table: Shapes = np.full(some.shape, None, dtype=object)
        table[some] = shapes[(first[rows][:, None] + place)[some]]
        unions[rows] = shapely.union_all(table, axis=1)
    return unions


def _parts(geometry: Shapes, reach: NDArray[np.float64], owner: Indices) -> _Parts:
    line = np.flatnonzero(shapely.get_type_id(geometry) == shapely.GeometryType.LINESTRING)
    fill = np.flatnonzero(reach == 0)
    grown, told = outlined(geometry[fill], geometry[line], reach[line])
    reach = reach.copy()
    reach[fill] = grown
    kept = np.delete(np.arange(len(reach)), line[told])
    geometry, reach = geometry[kept], reach[kept]
    closed = geometry.copy()
    holed = np.flatnonzero(shapely.get_num_interior_rings(geometry) > 0)
    closed[holed] = shapely.polygons(shapely.get_exterior_ring(geometry[holed]))
    return _Parts(geometry, reach, owner[kept], _drawn(closed, reach))


def _drawn(shapes: Shapes, reach: NDArray[np.float64]) -> Shapes:
    """Shapes drawn out to their reach, or in where it is negative, each with as many chords as CHORD_MM asks for."""
    size = np.maximum(np.abs(reach), CHORD_MM)
    quarter = np.maximum(np.ceil(np.pi / 4 / np.arccos(1 - CHORD_MM / size)), 2).astype(np.int64)
    drawn = shapes.copy()
    for chords in np.unique(quarter[reach != 0]).tolist():
        alike = (quarter == chords) & (reach != 0)
        drawn[alike] = shapely.buffer(shapes[alike], reach[alike], quad_segs=chords)
    return drawn


def _closed(parts: _Parts, count: int) -> Shapes:
    """(count): the union of the shells of each owner. One that has more corners than all the rest of them comes last:
    that is several times faster."""
    shells, corners = parts.shell, shapely.get_num_coordinates(parts.shell)
    kept = np.flatnonzero(~_covered(shells, parts.owner))
    kept = kept[np.lexsort((corners[kept], parts.owner[kept]))]
    areas = np.empty(count, dtype=object)
    for own in np.split(kept, np.flatnonzero(np.diff(parts.owner[kept])) + 1):
        last = len(own) > 1 and 2 * corners[own[-1]] > corners[own].sum()
        rest = shapely.union_all(shells[own[:-1] if last else own])
        areas[parts.owner[own[0]]] = shapely.union(rest, shells[own[-1]]) if last else rest
    return areas


def _covered(shells: Shapes, owner: Indices) -> NDArray[np.bool_]:
    """Which shells lie in another one of the same owner; of those that are the same, all but one."""
    low, high = np.split(shapely.bounds(shells), 2, axis=1)
    size = shapely.area(shells)
    one, other = shapely.STRtree(shells).query(shells)
    # Sorted by size, and by number where that is the same: no two lie in one another by this.
    within = (size[one] < size[other]) | ((size[one] == size[other]) & (one > other))
    within &= owner[one] == owner[other]
    one, other = one[within], other[within]
    within = (low[one] >= low[other]).all(axis=1) & (high[one] <= high[other]).all(axis=1)
    one, other = one[within], other[within]
    shapely.prepare(shells[np.unique(other)])
    covered = np.zeros(len(shells), dtype=bool)
    covered[one[shapely.covers(shells[other], shells[one])]] = True
    return covered


def _holes(parts: _Parts) -> tuple[Shapes, Indices]:
    """What of the holes of fills no other part of the same owner covers, as polygons, and the part around each."""
    rings, part = shapely.get_rings(parts.geometry, return_index=True)
    inner = np.diff(part, prepend=-1) == 0
    holes, index = _solid_parts(_drawn(shapely.polygons(rings[inner]), -parts.reach[part[inner]]))
    around = part[inner][index]
    hole, other = _others_in(holes, around, parts)
    if not len(hole):
        return holes, around
    touched, place = np.unique(hole, return_inverse=True)
    left, index = _solid_parts(shapely.difference(holes[touched], union_by(other, place)))
    free = np.delete(np.arange(len(holes)), touched)
    return np.concatenate([holes[free], left]), np.concatenate([around[free], around[touched[index]]])


def _solid_parts(shapes: Shapes) -> tuple[Shapes, Indices]:
    """The polygons of areas, none of them empty, and the area that each is of."""
    polygons, index = shapely.get_parts(shapes, return_index=True)
    solid = ~shapely.is_empty(polygons)
    return polygons[solid], index[solid]


def _others_in(holes: Shapes, around: Indices, parts: _Parts) -> tuple[Indices, Shapes]:
    """Pairs, by hole, of a hole and another part of the same owner that reaches into it, drawn out with its holes."""
    hole, part = shapely.STRtree(parts.shell).query(holes)
    same = (parts.owner[part] == parts.owner[around[hole]]) & (part != around[hole])
    hole, part = hole[same], part[same]
    shapely.prepare(holes)
    meet = shapely.intersects(holes[hole], parts.shell[part])
    hole, part = hole[meet], part[meet]
    order = np.argsort(hole, kind="stable")
    hole, part = hole[order], part[order]
    whole = parts.shell[part]
    holed = shapely.get_num_interior_rings(parts.geometry[part]) > 0
    whole[holed] = _drawn(parts.geometry[part[holed]], parts.reach[part[holed]])
    return hole, whole


def _cut(areas: Shapes, holes: Shapes, owner: Indices, thin: NDArray[np.bool_]) -> None:
    """Cut holes out of the areas that own them. Those that are not `thin` do not touch the rim of their area."""
    one, other = shapely.STRtree(holes).query(holes)
    beside = (one < other) & (owner[one] == owner[other])
    one, other = one[beside], other[beside]
    hard = shapely.get_type_id(areas) != shapely.GeometryType.POLYGON
    hard[owner[shapely.get_num_interior_rings(holes) > 0]] = True
    hard[owner[one[shapely.intersects(holes[one], holes[other])]]] = True
    # All others lie apart, and within their area: they become rings of it as they are.
    easy = np.setdiff1d(owner, np.flatnonzero(hard))
    if len(easy):
        rings, index = shapely.get_rings(areas[easy], return_index=True)
        added = np.flatnonzero(~hard[owner])
        rings = np.concatenate([rings, shapely.get_exterior_ring(holes[added])])
        index = np.concatenate([index, np.searchsorted(easy, owner[added])])
        order = np.argsort(index, kind="stable")
        made = shapely.polygons(rings[order], indices=index[order])
        doubtful = np.flatnonzero(np.isin(easy, owner[thin]))
        hard[easy[doubtful[~shapely.is_valid(made[doubtful])]]] = True
        areas[easy[~hard[easy]]] = made[~hard[easy]]
    for row in np.intersect1d(np.flatnonzero(hard), owner):
        areas[row] = shapely.difference(areas[row], shapely.union_all(holes[owner == row]))


def _bridged(area: BaseGeometry) -> BaseGeometry:
    """Parts of one piece that come apart only because round edges became chords, joined again."""
    by = CHORD_MM + TOUCH_MM
    return shapely.union(area, shapely.buffer(shapely.buffer(area, by, join_style="mitre"), -by, join_style="mitre"))
