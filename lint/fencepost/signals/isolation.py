"""How much the fence around an opening isolates, as it stands and with the opening closed."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fencepost.board.model import Board
from fencepost.frozen import dataclass
from fencepost.physics.fence import isolation, posts_between
from fencepost.physics.waves import wavelength
from fencepost.signals.fences import END, Fence, Gap, Opening
from fencepost.signals.runs import Run

MOST_POSTS = 100
"""Of a fence, those nearest to the opening: what is farther along changes little."""

ACROSS = 1.5
"""Times the widest gap, at least, and half a wavelength: how far to both sides of it the fence is looked at."""

NEW_DIAMETER_MM = 0.3
NEW_AWAY_MM = 0.6
"""Of posts where there are none to go by: their diameter, and how far they are from the edge of the trace."""


@dataclass(frozen=True)
class Shielding:
    """Isolation in dB of the fence as it stands, and with `added` more posts in its opening."""

    standing: float
    closed: float
    added: int


def shielding_at(
    board: Board, fence: Fence, opening: Opening, pitch: float, frequency: float, permittivity: float
) -> Shielding:
    """What the opening costs at a frequency in Hz. It is closed by the fewest posts that keep to the pitch (mm).

    Raises ValueError where this cannot be worked out, as for posts that stand on both sides of a trace that winds.
    """
    near = ACROSS * opening.widest.width
    far = max(near, wavelength(frequency, permittivity) / 2)
    try:
        posts = _posts_about(board, fence, opening, pitch, far)
        return posts.shielding(frequency, permittivity)
    except ValueError:
        posts = _posts_about(board, fence, opening, pitch, near)
        return posts.shielding(frequency, permittivity)


@dataclass(frozen=True, eq=False)
class _About:
    """A piece of trace, the posts beside it, and those that would close the opening; (k, 2) and (k) in mm."""

    trace: NDArray[np.float64]
    centre: NDArray[np.float64]
    diameter: NDArray[np.float64]
    added: NDArray[np.float64]
    new_diameter: float

    def shielding(self, frequency: float, permittivity: float) -> Shielding:
        """Raises ValueError where the physics refuses."""
        centre = np.concatenate([self.centre, self.added])
        diameter = np.append(self.diameter, np.full(len(self.added), self.new_diameter))
        standing = isolation(self.centre, self.diameter, frequency, permittivity, self.trace)
        closed = isolation(centre, diameter, frequency, permittivity, self.trace)
        if not (math.isfinite(standing) and math.isfinite(closed)):
            raise ValueError("the waves between these posts have no finite answer")
        return Shielding(standing, closed, len(self.added))


def _posts_about(board: Board, fence: Fence, opening: Opening, pitch: float, half: float) -> _About:
    """The posts no farther than `half` (mm) before and behind the middle of the widest gap."""
    middle, posts = opening.widest.middle, fence.posts
    away = np.abs(posts.station - middle)
    rows = np.flatnonzero(away <= half)
    rows = rows[np.argsort(away[rows], kind="stable")]
    if len(rows) > MOST_POSTS:
        rows = rows[:MOST_POSTS]
        half = max(float(away[rows[-1]]), opening.widest.width)
    begin, end = max(middle - half, 0.0), min(middle + half, fence.path.length)
    _, first = np.unique(posts.hole[rows], return_index=True)
    rows = rows[np.sort(first)]  # a post that is passed twice is one, the nearest still first
    centre, diameter = posts.centre[rows], board.holes.diameter[posts.hole[rows]]
    new = float(diameter[0]) if len(rows) else NEW_DIAMETER_MM
    gaps = [gap for gap in opening.gaps if begin <= gap.middle <= end]
    added = np.concatenate([np.empty((0, 2)), *(_between(fence, gap, pitch) for gap in gaps)])
    return _About(_part(fence.path, begin, end), centre, diameter, _apart(added, centre, diameter, new), new)


def _part(path: Run, begin: float, end: float) -> NDArray[np.float64]:
    """The points of a path between two of its stations."""
    inner = (path.station > begin) & (path.station < end)
    return np.concatenate([[path.at(begin)], path.xy[inner], [path.at(end)]])


def _between(fence: Fence, gap: Gap, pitch: float) -> NDArray[np.float64]:
    """Centres of posts that close a gap: in a line between its two, or else beside the trace from its end on."""
    posts, known = fence.posts, [post for post in (gap.before, gap.after) if post != END]
    if len(known) == 2:
        return posts_between(posts.centre[gap.before], posts.centre[gap.after], pitch)
    count = math.ceil((gap.end - gap.begin) / pitch - 1e-9)
    station = gap.begin + np.arange(count + 1) * (gap.end - gap.begin) / count
    station = station[(station != gap.begin) | (gap.before == END)]
    station = station[(station != gap.end) | (gap.after == END)]
    leg = fence.path.leg(station)
    along = np.diff(fence.path.xy, axis=0)[leg]
    left = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
    away = posts.away[known[0]] if known else fence.path.width[leg][:, None] / 2 + NEW_AWAY_MM
    return np.asarray(fence.path.at(station) + left * away)


def _apart(
    added: NDArray[np.float64], centre: NDArray[np.float64], diameter: NDArray[np.float64], new: float
) -> NDArray[np.float64]:
    """Those of the added posts that overlap no other one."""
    kept: list[NDArray[np.float64]] = []
    for spot in added:
        old = np.hypot(*(centre - spot).T) > (diameter + new) / 2
        if old.all() and all(math.dist(spot, other) > new for other in kept):
            kept.append(spot)
    return np.array(kept).reshape(-1, 2)
