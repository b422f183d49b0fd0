"""The ground via that a differential pair lacks on one side."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.placement.need import Need, Point
from fencepost.placement.returns import groups_of

Half = tuple[NDArray[np.float64], float]
"""The centre of one half's hole, and how far from it its nearest tie is, in mm."""


def pair_need(
    board: Board, near: Half, far: Half, tie: Point, before: Iterable[int], after: Iterable[int], asymmetry: float
) -> tuple[Need, ...]:
    """A via at the mirror image of a tie, across the line midway between the holes of a pair, within `asymmetry` (mm).

    `tie` is the one nearest to the half `near`. A via no farther than r from the mirror image is within r of as near to
    the half `far`; and it is no nearer to the other half than that one's own tie, as the two differ by more than r.
    """
    groups = groups_of(board, before, after)
    across = far[0] - near[0]
    length = float(np.hypot(*across))
    if not groups or length == 0:
        return ()
    unit = across / length
    offset = np.asarray(tie) - (near[0] + far[0]) / 2
    mirrored = np.asarray(tie) - 2 * float(offset @ unit) * unit
    at = (float(mirrored[0]), float(mirrored[1]))
    anchors = tuple((float(x), float(y)) for x, y in (near[0], far[0]))
    nearest = (near[1], far[1])
    then = "the distances to the nearest ties differ by {:.2f} mm"
    return (Need(at, groups, ((*at, asymmetry),), anchors=anchors, nearest=nearest, uneven=True, then=then),)
