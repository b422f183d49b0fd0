"""Isolation of a fence as it stands, post by post.

What is compared. A trace runs along the fence. A second one runs behind it, as far behind the farthest post as the
trace is before the nearest. Both are lines of sources in phase, their strength falling to nothing at both ends as a
squared cosine, so that little of the wave goes round the ends of the fence. Isolation is the coupling of the two
without the fence over their coupling with it, in dB. It is the same in both directions (reciprocity).

For a long regular fence this is the isolation of the endless one (`fencepost.physics.lattice`): with posts an eighth
of a wavelength apart, 0.1 dB above it for four wavelengths of fence, 0.01 dB for sixteen. How far the trace is from
the fence then does not matter. A fence much shorter than a wavelength isolates less, as the wave goes round its ends.
Where a gap focuses, a fence may let through more than its absence would; the figure is then below 0.

Left out: losses in copper and dielectric, what passes above or below the planes, and other copper nearby.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from fencepost.frozen import dataclass
from fencepost.physics.cylindrical import Incident, LineSources, Reals, points_of
from fencepost.physics.grid import isolation_of
from fencepost.physics.scattering import RoundPosts, round_posts, settled
from fencepost.physics.waves import require, wavelength

STEP_TO_POST = 0.6
"""Between the sources of a trace, against its distance from the nearest post: their sum is smooth to 10^-4 there."""

STEPS_IN_WAVE = 8
STEPS = 16
MOST_STEPS = 1000


def isolation(
    posts: ArrayLike,
    diameters: ArrayLike,
    frequency: float,
    permittivity: float,
    trace: ArrayLike,
    behind: ArrayLike | None = None,
) -> float:
    """Isolation in dB of the fence on one side of a trace, at most 100, as described at the head of this module.

    `posts` (n, 2) are the centres in mm; `diameters` (n), or one for all, those of the drilled holes in mm; frequency
    in Hz; `trace` (k, 2) is the centre line in mm along the piece of fence that is judged, from end to end. `behind` is
    the line of the second trace, where it is not to be found from the posts. A fence without posts isolates 0 dB.

    Raises ValueError for posts that overlap, posts on both sides of the trace or on it, sizes that are not above zero,
    a permittivity below 1, a frequency of 0, and for more than can be solved: above 500 posts, or a trace longer than
    1000 times its distance from the nearest post or than 250 wavelengths.
    """
    length = wavelength(frequency, permittivity)
    fence = round_posts(posts, diameters)
    path = _path(trace)
    if not len(fence):
        return 0.0
    nearest, farthest, side = _distances(path, fence)
    count = _steps(path, nearest, length)
    sources = _samples(path, count)
    if behind is None:
        receivers = _samples(path, count).moved(side * (nearest + farthest))
    else:
        receivers = _samples(_path(behind), count)
    wavenumber = 2 * math.pi / length
    incident = LineSources(sources.point, sources.weight.astype(np.complex128))
    alone = abs(complex(incident.at(receivers.point, wavenumber) @ receivers.weight))
    require(alone > 0, "a coupling", alone, "", "without the fence leaves nothing to compare with")
    fenced = abs(complex(settled(fence, wavenumber, incident).field(receivers.point) @ receivers.weight))
    return isolation_of(fenced / alone)


def insertion_loss(
    posts: ArrayLike,
    diameters: ArrayLike,
    frequency: float,
    permittivity: float,
    incident: Incident,
    points: ArrayLike,
) -> Reals:
    """The field without the posts over that with them, in dB at each of the points (p, 2), at most 100.

    Below 0 where the posts strengthen the field; 100 within a post. Posts as in `isolation`.
    """
    wavenumber = 2 * math.pi / wavelength(frequency, permittivity)
    where = points_of("points", points)
    alone = np.abs(incident.at(where, wavenumber))
    require(bool(alone.all()), "a field", 0.0, "", "without the posts leaves nothing to compare with")
    fenced = settled(round_posts(posts, diameters), wavenumber, incident).field(where)
    return np.array([isolation_of(ratio) for ratio in (np.abs(fenced) / alone).tolist()])


def posts_between(first: ArrayLike, last: ArrayLike, pitch: float) -> Reals:
    """Centres (m, 2) in mm of the fewest posts that bring the gap between two others, (x, y) each, within a pitch."""
    require(0 < pitch < math.inf, "a pitch", pitch, "mm", "must be above zero")
    ends = points_of("posts", np.stack([first, last]))
    gaps = math.ceil(math.dist(*ends.tolist()) / pitch - 1e-9)
    share = np.arange(1, gaps)[:, None] / max(gaps, 1)
    return np.asarray(ends[0] + share * (ends[1] - ends[0]))


@dataclass(frozen=True, eq=False)
class _Samples:
    """Points along a path in mm, their weights, and unit vectors to the left of it."""

    point: Reals
    weight: Reals
    left: Reals

    def moved(self, distance: float) -> _Samples:
        return _Samples(self.point + distance * self.left, self.weight, self.left)


def _path(given: ArrayLike) -> Reals:
    """A line of some length, without points that repeat the one before."""
    points = points_of("a trace", given)
    if len(points):
        points = points[np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > 0])]
    require(len(points) > 1, "a trace", 0.0, "mm", "must be longer than zero")
    return points


def _distances(path: Reals, posts: RoundPosts) -> tuple[float, float, int]:
    """From a path to the nearest and the farthest post beside it, in mm; 1 for posts to its left, -1 to its right."""
    legs = np.diff(path, axis=0)
    away = posts.centre[:, None] - path[:-1]
    share = (away * legs).sum(axis=2) / (legs**2).sum(axis=1)
    offset = away - np.clip(share, 0, 1)[..., None] * legs
    distance = np.hypot(offset[..., 0], offset[..., 1])
    leg = distance.argmin(axis=1)
    row = np.arange(len(posts))
    least = distance[row, leg]
    for i in np.flatnonzero(least <= posts.radius)[:1]:
        must = f"from a post to the trace must be more than its radius of {posts.radius[i]:g} mm"
        require(False, "a distance", float(least[i]), "mm", must)
    to_left = legs[leg, 0] * away[row, leg, 1] - legs[leg, 1] * away[row, leg, 0] > 0
    before = (leg == 0) & (share[row, leg] < 0)
    after = (leg == len(legs) - 1) & (share[row, leg] > 1)
    beside = ~(before | after) if not (before | after).all() else np.ones(len(posts), dtype=bool)
    least, to_left = least[beside], to_left[beside]
    if to_left.any() and not to_left.all():
        raise ValueError(f"{to_left.sum()} posts to the left of the trace and {(~to_left).sum()} to its right")
    return float(least.min()), float(least.max()), 1 if to_left.all() else -1


def _steps(path: Reals, nearest: float, length: float) -> int:
    """How many sources stand for a path."""
    total = float(np.hypot(*np.diff(path, axis=0).T).sum())
    most = MOST_STEPS * min(nearest, length / 4)
    must = f"is too long with a post {nearest:g} mm away and a wavelength of {length:.4g} mm; at most {most:.4g} mm"
    require(total <= most, "a trace", total, "mm", must)
    wanted = math.ceil(total / min(STEP_TO_POST * nearest, length / STEPS_IN_WAVE))
    return min(max(STEPS, wanted), MOST_STEPS)


def _samples(path: Reals, count: int) -> _Samples:
    """Points in the middle of `count` equal steps; weights cos^2, 1 in the middle."""
    legs = np.diff(path, axis=0)
    station = np.concatenate([[0.0], np.cumsum(np.hypot(legs[:, 0], legs[:, 1]))])
    share = (np.arange(count) + 0.5) / count
    point = np.stack([np.interp(share * station[-1], station, path[:, i]) for i in (0, 1)], axis=1)
    along = np.gradient(point, axis=0)
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    return _Samples(point, np.sin(np.pi * share) ** 2, np.stack([-along[:, 1], along[:, 0]], axis=1))
