"""The rim of the ground: the gaps between the ties along the edge of the board.

Between every two neighbouring layers of ground there is a slot along the edge. Its posts are the ties that join the two
layers and stand near the edge; the gaps between these are those of a fence.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fencepost.board.connect import components
from fencepost.board.model import TOUCH_MM, Board
from fencepost.grounds.areas import extents_of, ground_pieces
from fencepost.grounds.edges import MOST_OF, Behind, Line, LineKind, copper_lines, ground_behind, lines_of
from fencepost.grounds.joins import SMALL, Joins, joins_of
from fencepost.signals.fences import Opening, openings_in
from fencepost.signals.posts import Posts, passed_on_the_left


@dataclass(frozen=True, eq=False)
class Slot:
    """Where the ties between two layers (1-based) leave the edge open. Posts come twice: once for each of two rounds."""

    layers: tuple[int, int]
    posts: Posts
    opening: Opening

    @property
    def begin(self) -> float:
        return self.opening.gaps[0].begin

    @property
    def end(self) -> float:
        return self.opening.gaps[-1].end


@dataclass(frozen=True, eq=False)
class Rim:
    """One line with its openings: slots of several layers at one place are one opening, the widest gap first.

    `bare` are the stretches, from where to where in mm along the line, behind which fewer than two layers are ground.
    """

    line: Line
    openings: tuple[tuple[Slot, ...], ...]
    bare: tuple[tuple[float, float], ...]


def rims_of(board: Board, limit: float, reach: float) -> Iterator[Rim]:
    """All lines of a board with ground behind them. Ties count up to `reach` from the edge of the ground; all in mm."""
    pieces = ground_pieces(board)
    pieces = pieces[extents_of(board, pieces) > limit]
    joins = joins_of(board, SMALL * limit)
    for line in lines_of(board, limit):
        behind = ground_behind(board, line, pieces, reach)
        layers = _layers_behind(behind, line, limit)
        tied = layers.sum(axis=1) > 1
        if line.kind is LineKind.BOARD and tied.mean() < MOST_OF:
            for inner in copper_lines(board, shapely.Polygon(line.path.xy), pieces, limit):
                around = ground_behind(board, inner, pieces, reach)
                yield _rim(inner, around, _layers_behind(around, inner, limit), joins, limit, reach)
        elif tied.any():
            yield _rim(line, behind, layers, joins, limit, reach)
