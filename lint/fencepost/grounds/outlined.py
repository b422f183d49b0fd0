"""Fills whose edge is drawn over with strokes, as many exports draw a pour: drawn out at once.

A fill and the strokes along all of its edge are what lies within half the width of the stroke of the fill. To grow the
fill by that is far quicker than to unite it with each of its strokes.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from fencepost.distinct import point_keys

SHORTER = 1e-7
"""Of the length of a straight stroke: its ends without that much of it are no longer on an edge that they lie on."""


def outlined(
    fills: NDArray[np.object_], lines: NDArray[np.object_], reach: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """By how much (f), in mm, strokes along the whole edge draw each fill out; and which strokes (n) are told by that.

    A stroke is everything within `reach` (n) of its line. 0 for a fill whose edge has no stroke somewhere.
    """
    rings, fill = shapely.get_rings(fills, return_index=True)
    edges, ring = _edges(rings)
    steps, line = _edges(lines)
    edge, step = _keys(edges), _keys(steps)

    grown = np.full(len(fills), np.inf)
    np.minimum.at(grown, fill[ring], _highest(step, reach[line], edge))
    grown[~np.isfinite(grown)] = 0.0
    told = _highest(edge, grown[fill[ring]], step) >= reach[line]
    crossing = np.flatnonzero(~told & (np.bincount(line, told, minlength=len(lines)) > 0)[line])
    # A cut-in is drawn to and fro: once is enough.
    _, first, same = np.unique(step[crossing], return_index=True, return_inverse=True)
    once = crossing[first]
    told[crossing] = _within(steps[once], fills, grown)[same] >= reach[line[crossing]]
    return grown, np.bincount(line, ~told, minlength=len(lines)) == 0


def _edges(lines: NDArray[np.object_]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The two ends (e, 2, 2) of each straight part of some lines, and which line that is of."""
    xy, owner = shapely.get_coordinates(lines, return_index=True)
    same = owner[1:] == owner[:-1]
    return np.stack([xy[:-1][same], xy[1:][same]], axis=1), owner[1:][same]


def _keys(edges: NDArray[np.float64]) -> NDArray[np.uint64]:
    """One number for each edge (e, 2, 2), the same in both directions."""
    keys = point_keys(edges)
    return np.asarray(keys[:, 0] + keys[:, 1])


def _highest(keys: NDArray[np.uint64], values: NDArray[np.float64], wanted: NDArray[np.uint64]) -> NDArray[np.float64]:
    """For each wanted key the highest value that it has, 0 where it has none."""
    if not len(keys):
        return np.zeros(len(wanted))
    order = np.argsort(keys)
    keys = keys[order]
    first = np.flatnonzero(np.concatenate([[True], keys[1:] != keys[:-1]]))
    highest, keys = np.maximum.reduceat(values[order], first), keys[first]
    at = np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)
    return np.where(keys[at] == wanted, highest[at], 0.0)


def _within(steps: NDArray[np.float64], fills: NDArray[np.object_], grown: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far the fills that straight strokes lie in are drawn out, as along a cut-in; 0 in none."""
    highest = np.zeros(len(steps))
    drawn = np.flatnonzero(grown)
    line, fill = shapely.STRtree(fills[drawn]).query(shapely.linestrings(steps))
    shapely.prepare(fills[drawn])
    # Most go from edge to edge: all but their ends lies within, which is told fifty times sooner.
    short = steps + SHORTER * (steps[:, ::-1] - steps)
    inside = shapely.contains_properly(fills[drawn[fill]], shapely.linestrings(short[line]))
    rest = np.flatnonzero(~inside)
    inside[rest] = shapely.covers(fills[drawn[fill[rest]]], shapely.linestrings(steps[line[rest]]))
    np.maximum.at(highest, line[inside], grown[drawn[fill[inside]]])
    return highest
