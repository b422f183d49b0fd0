"""Cylindrical waves between two parallel plates, and the waves that meet a fence.

The field u is the electric field between the plates, which stands along the posts and does not change from plate to
plate: the scalar Helmholtz equation in two dimensions. Time goes as exp(+j w t), so that H(2) travels outwards.
Positions are in mm, wave numbers in rad/mm, angles in degrees, counterclockwise from x.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fencepost.frozen import dataclass

Reals = NDArray[np.float64]
Waves = NDArray[np.complex128]


def orders(most: int) -> NDArray[np.int64]:
    """-most ... most: the rows of everything that is listed by order."""
    return np.arange(-most, most + 1)


def outgoing(offsets: Reals, wavenumber: float, most: int) -> Waves:
    """H(2)_n(k r) exp(j n phi) for n = -most ... most, complex (2 most + 1, ...).

    `offsets` (..., 2) lead from the source to the point, in mm; ValueError where one is 0. Orders above 1 come
    from H_(n+1) = (2 n / x) H_n - H_(n-1), which is stable upwards (Abramowitz & Stegun, 1964, 9.1.27 and 9.12).
    """
    import scipy

    distance = np.hypot(offsets[..., 0], offsets[..., 1])
    if not distance.all():
        raise ValueError("a point 0 mm from a source has no finite field")
    x = wavenumber * distance
    waves = np.empty((2 * most + 1, *x.shape), dtype=np.complex128)
    waves[most] = scipy.special.j0(x) - 1j * scipy.special.y0(x)
    if not most:
        return waves
    turn = (offsets[..., 0] + 1j * offsets[..., 1]) / distance
    before, radial, phase = waves[most], scipy.special.j1(x) - 1j * scipy.special.y1(x), turn
    for n in range(1, most + 1):
        waves[most + n] = radial * phase
        waves[most - n] = (-1) ** n * radial * phase.conj()
        before, radial, phase = radial, (2 * n / x) * radial - before, phase * turn
    return waves


class Incident(Protocol):
    """A wave that would be there without the fence."""

    def at(self, points: Reals, wavenumber: float) -> Waves:
        """The field at points (p, 2): complex (p)."""
        ...

    def around(self, centres: Reals, wavenumber: float, most: int) -> Waves:
        """c in u = sum over n of c_n J_n(k r) exp(j n phi) around each centre (n, 2): complex (2 most + 1, n)."""
        ...


@dataclass(frozen=True)
class PlaneWave:
    """A wave of amplitude 1 at the origin, on its way in the direction `degrees`."""

    degrees: float

    def at(self, points: Reals, wavenumber: float) -> Waves:
        """exp(-j k . r)."""
        angle = np.radians(self.degrees)
        return np.asarray(np.exp(-1j * wavenumber * (points @ [np.cos(angle), np.sin(angle)])))

    def around(self, centres: Reals, wavenumber: float, most: int) -> Waves:
        """The Jacobi-Anger expansion (Abramowitz & Stegun, 1964, 9.1.44 and 9.1.45)."""
        turned = np.exp(-1j * orders(most) * (np.radians(self.degrees) + np.pi / 2))
        return np.asarray(turned[:, None] * self.at(centres, wavenumber))


@dataclass(frozen=True, eq=False)
class LineSources:
    """Line currents from plate to plate, each with the field strength * H(2)_0(k r).

    centre    float64 (s, 2)   mm
    strength  complex128 (s)
    """

    centre: Reals
    strength: Waves

    def at(self, points: Reals, wavenumber: float) -> Waves:
        """ValueError where a point is a source."""
        return np.asarray(outgoing(points[:, None] - self.centre, wavenumber, 0)[0] @ self.strength)

    def around(self, centres: Reals, wavenumber: float, most: int) -> Waves:
        """Graf's addition theorem (Abramowitz & Stegun, 1964, 9.1.79)."""
        return np.asarray(outgoing(centres[:, None] - self.centre, wavenumber, most)[::-1] @ self.strength)


def points_of(what: str, given: ArrayLike) -> Reals:
    """An array (n, 2) of mm. Raises ValueError for another shape, or for a coordinate that is not a number."""
    points = np.asarray(given, dtype=np.float64)
    points = points.reshape(-1, 2) if points.size == 0 else points
    if points.ndim != 2 or points.shape[1] != 2:
        raise ValueError(f"{what} must be pairs of x and y in mm, not an array of shape {points.shape}")
    if not np.isfinite(points).all():
        raise ValueError(f"{what} must have finite coordinates, not {points[~np.isfinite(points)][0]} mm")
    return points
