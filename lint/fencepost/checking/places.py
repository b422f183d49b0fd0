"""Places on ground copper and at holes, for findings."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely

from fencepost.board.model import Board
from fencepost.checking.finding import Place


def at_hole(board: Board, hole: int) -> Place:
    """The centre of a hole, and the hit that drills it."""
    x, y = board.holes.centre[hole].tolist()
    return Place(board.hole_location(hole), x, y)


def at_copper(board: Board, pieces: Iterable[int], xy: Iterable[float]) -> Place:
    """A point, and the feature of these pieces, all of one layer, that is nearest to it."""
    x, y = (float(value) for value in xy)
    own = np.array(sorted(pieces))
    copper = board.copper[int(board.pieces.layer[own[0]]) - 1]
    parts = np.flatnonzero(np.isin(copper.piece, own))
    away = shapely.distance(copper.geometry[parts], shapely.Point(x, y)) - copper.reach[parts]
    return Place(copper.location_near(int(parts[np.argmin(away)]), x, y), x, y)


def both(words: Iterable[str]) -> str:
    """`L1`, `L1 and L2`, `L1, L2 and L3`."""
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last
