"""Waves among round, perfectly conducting posts between two parallel plates, each post as it stands.

Every post answers the incident wave, and the waves of all others, with cylindrical waves of its own, such that the
field vanishes on it. V. Twersky, Multiple Scattering of Radiation by an Arbitrary Configuration of Parallel Cylinders,
Journal of the Acoustical Society of America 24, 1952. Exact but for the number of harmonics, which is raised until the
field on the posts is small enough.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fencepost.frozen import dataclass
from fencepost.physics.cylindrical import Incident, LineSources, Reals, Waves, orders, outgoing, points_of
from fencepost.physics.waves import require

TOLERANCE = 1e-4
"""Field left on the posts, against the incident field there."""

MOST_POSTS = 500
MOST_UNKNOWNS = 4000
"""Limits of memory: a matrix of 256 MB, and time in proportion."""


@dataclass(frozen=True, eq=False)
class RoundPosts:
    """centre float64 (n, 2) and radius float64 (n), in mm; made by `round_posts`."""

    centre: Reals
    radius: Reals

    def __len__(self) -> int:
        return len(self.radius)

    def inside(self, points: Reals) -> NDArray[np.bool_]:
        """Which of the points (p, 2) lie within a post: bool (p)."""
        if not len(self):
            return np.zeros(len(points), dtype=bool)
        offsets = points[:, None] - self.centre
        return np.asarray((np.hypot(offsets[..., 0], offsets[..., 1]) < self.radius).any(axis=1))


def round_posts(centres: ArrayLike, diameters: ArrayLike) -> RoundPosts:
    """Posts from centres (n, 2) and diameters (n, or one for all), in mm.

    Raises ValueError for posts that touch or overlap, for diameters that are not above zero, and for too many posts.
    """
    import scipy

    centre = points_of("posts", centres)
    require(len(centre) <= MOST_POSTS, "a number", len(centre), "posts", f"is more than can be solved, {MOST_POSTS}")
    diameter = np.asarray(diameters, dtype=np.float64)
    if diameter.ndim and diameter.shape != (len(centre),):
        raise ValueError(f"{len(centre)} posts and {diameter.size} diameters: give one for each, or one for all")
    radius = np.broadcast_to(diameter / 2, len(centre))
    for value in radius[~((radius > 0) & np.isfinite(radius))][:1]:
        require(False, "a diameter", 2 * value, "mm", "must be above zero and finite")
    if len(centre) > 1:
        near = scipy.spatial.KDTree(centre).query_pairs(2 * radius.max(), output_type="ndarray")
        offset = centre[near[:, 0]] - centre[near[:, 1]]
        away, least = np.hypot(offset[:, 0], offset[:, 1]), radius[near].sum(axis=1)
        for i in np.flatnonzero(away <= least)[:1]:
            must = f"from centre to centre overlaps two posts; it must be more than {least[i]:g} mm"
            require(False, "a distance", float(away[i]), "mm", must)
    return RoundPosts(centre, radius)


@dataclass(frozen=True, eq=False)
class Scattered:
    """The answer of posts to an incident wave.

    coefficients  complex128 (2 order + 1, n)  of H(2)_m(k r) exp(j m phi) around each post, m = -order ... order
    residual      the greatest harmonic of the field left on a post, of the next two orders, against the incident field
    """

    posts: RoundPosts
    wavenumber: float
    incident: Incident
    coefficients: Waves
    residual: float

    @property
    def order(self) -> int:
        """The highest."""
        return len(self.coefficients) // 2

    def field(self, points: ArrayLike) -> Waves:
        """Incident and scattered field at points (p, 2) in mm: complex (p). Within a post it is 0."""
        where = points_of("points", points)
        total = np.zeros(len(where), dtype=np.complex128)
        outside = ~self.posts.inside(where)
        where = where[outside]
        total[outside] = self.incident.at(where, self.wavenumber)
        if len(self.posts):
            waves = outgoing(where[:, None] - self.posts.centre, self.wavenumber, self.order)
            total[outside] += np.einsum("mpn,mn->p", waves, self.coefficients, optimize=True)
        return total


def settled(posts: RoundPosts, wavenumber: float, incident: Incident, tolerance: float = TOLERANCE) -> Scattered:
    """The answer with as many harmonics as leave no more than `tolerance` of the incident field on the posts.

    `wavenumber` in rad/mm. Raises ValueError where posts nearly touch and the field between them takes too many.
    """
    require(0 < wavenumber < math.inf, "a wave number", wavenumber, "rad/mm", "must be above zero and finite")
    order = max(1, math.ceil(wavenumber * posts.radius.max())) if len(posts) else 1
    answer = scatter(posts, wavenumber, incident, order)
    while not answer.residual <= tolerance:
        order += 1
        unknowns = len(posts) * (2 * order + 1)
        must = f"with the field between close posts is more than can be solved, {MOST_UNKNOWNS}"
        require(unknowns <= MOST_UNKNOWNS, "a number", unknowns, "unknowns", must)
        answer = scatter(posts, wavenumber, incident, order)
    return answer


def scatter(posts: RoundPosts, wavenumber: float, incident: Incident, order: int) -> Scattered:
    """The answer with the harmonics -order ... order around each post.

    On post i, with radius a: c_in J_n(k a_i) + b_in H_n(k a_i) + J_n(k a_i) sum over j and m of b_jm H_(m-n)(k d_ij)
    exp(j (m-n) phi_ij) = 0, where d_ij, phi_ij lead from j to i (Graf's addition theorem, Abramowitz & Stegun, 1964,
    9.1.79). The unknowns solved for are b_in H_n(k a_i), the field that each harmonic has on its post.
    """
    import scipy

    if isinstance(incident, LineSources) and posts.inside(incident.centre).any():
        raise ValueError("a source stands within a post; it must be more than 0 mm away from all of them")
    count, size, beyond = len(posts), 2 * order + 1, order + 2
    if not count:
        return Scattered(posts, wavenumber, incident, np.zeros((size, 0), dtype=np.complex128), 0.0)
    between = _between(posts, wavenumber, order + beyond)
    n = orders(beyond)[:, None]
    regular, singular = (
        scipy.special.jv(n, wavenumber * posts.radius),
        scipy.special.hankel2(n, wavenumber * posts.radius),
    )
    here = incident.around(posts.centre, wavenumber, beyond) * regular

    kept = slice(beyond - order, beyond + order + 1)
    blocks = np.empty((size, count, size, count), dtype=np.complex128)
    for row in range(size):
        first = order + beyond - row
        shifts = between[first : first + size] * (regular[kept][row][:, None] / singular[kept][:, None])
        blocks[row] = shifts.transpose(1, 0, 2)
    matrix = blocks.reshape(size * count, size * count)
    matrix[np.diag_indices_from(matrix)] += 1.0
    on_posts = np.linalg.solve(matrix, -here[kept].ravel()).reshape(size, count)
    coefficients = np.asarray(on_posts / singular[kept], dtype=np.complex128)
    if not np.isfinite(coefficients).all():
        raise ValueError(f"a post of {2 * posts.radius.min():g} mm is too small against the wavelength to be solved")

    left = 0.0
    for row in (0, 1, -2, -1):
        first = beyond - int(n[row, 0])
        shifts = between[first : first + size]
        field = here[row] + regular[row] * np.einsum("mij,mj->i", shifts, coefficients, optimize=True)
        left = max(left, float(np.abs(field).max()))
    scale = float(np.abs(here).max())
    return Scattered(posts, wavenumber, incident, coefficients, left / scale if scale else 0.0)


def _between(posts: RoundPosts, wavenumber: float, most: int) -> Waves:
    """Outgoing waves from post j to post i, complex (2 most + 1, i, j); 0 from a post to itself."""
    offsets = posts.centre[:, None] - posts.centre
    itself = np.diag_indices(len(posts))
    offsets[itself] = 2 * posts.radius.max()
    waves = outgoing(offsets, wavenumber, most)
    waves[:, itself[0], itself[1]] = 0.0
    return waves
