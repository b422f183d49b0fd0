"""What a rule says of the ground via that would mend a finding: plain data, without sizes of vias or copper."""

from __future__ import annotations

import math

from fencepost.frozen import dataclass

Point = tuple[float, float]

Disc = tuple[float, float, float]
"""Centre and radius, in mm."""


@dataclass(frozen=True)
class Need:
    """A ground via, best as near as can be to `at`. All in mm.

    ties     it must touch a piece of each of these groups (indices into Board.pieces), all of one ground net; where
             there are none, ground copper of one net on any two layers
    within   its centre lies in all of these discs
    area     and inside this ring, where there is one
    anchors  what a rule measures distances from
    nearest  for each anchor how far from it the nearest tie is so far; empty where that does not count
    uneven   the figure is the difference of two distances, and not the greatest one
    then     what the rule would measure with the via, "{:.2f}" for the figure
    hole     the hole beside which it goes, index into Board.holes, -1 for none
    """

    at: Point
    ties: tuple[tuple[int, ...], ...] = ()
    within: tuple[Disc, ...] = ()
    area: tuple[Point, ...] = ()
    anchors: tuple[Point, ...] = ()
    nearest: tuple[float, ...] = ()
    uneven: bool = False
    then: str = ""
    hole: int = -1

    def figure(self, x: float, y: float) -> float:
        """What the rule would measure with a via there, in mm."""
        away = [math.dist((x, y), anchor) for anchor in self.anchors or (self.at,)]
        if self.nearest:
            away = [min(pair) for pair in zip(away, self.nearest, strict=True)]
        return max(away) - min(away) if self.uneven else max(away)

    def covers(self, x: float, y: float) -> bool:
        """Whether a point lies in all discs; the ring is not looked at."""
        return all(math.dist((x, y), disc[:2]) <= disc[2] for disc in self.within)
