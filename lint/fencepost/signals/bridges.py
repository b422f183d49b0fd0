"""Whether ties or capacitors take the return current across a gap."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.signals.capacitors import capacitors_of
from fencepost.signals.gaps import Gap, pieces_of
from fencepost.signals.ties import joined, plane_ties_of


def bridged(board: Board, gap: Gap, distance: float, capacitor: float) -> bool:
    """Whether the copper before a gap is joined to that behind it, or where the run ends, to that beneath it.

    By ties no farther than `distance` from either end of the gap, and by capacitors no farther than `capacitor`, both
    in mm. A gap in one piece needs other copper under it, and ties to that on both sides: those nearer to its one end
    and those nearer to its other one.
    """
    ends = gap.run.at(np.array([gap.begin, gap.end]))
    ties, before, after = plane_ties_of(board), pieces_of(gap.before), pieces_of(gap.after)
    near = [set(ties.within(end, distance)) for end in ends]
    if gap.returns:
        sides = [
            [ties.pieces[tie] for tie in own if _nearer(ties.centre[tie], end, other)]
            for own, end, other in zip(near, ends, ends[::-1], strict=True)
        ]
        return any(joined(sides[0], before, {piece}) and joined(sides[1], after, {piece}) for piece in gap.between)
    joins = [set(ties.pieces[tie]) for tie in sorted(near[0] | near[1])]
    joins += [pieces for end in ends for _, pieces in capacitors_of(board).near(end, capacitor)]
    return joined(joins, before or gap.between, after or gap.between)


def _nearer(xy: NDArray[np.float64], end: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    return float(np.hypot(*(xy - end))) < float(np.hypot(*(xy - other)))
