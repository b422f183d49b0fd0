"""The field around parallel round conductors, in the plane across them: barrels seen from above.

The conductors are perfect and endless, the dielectric is the same everywhere. Between two planes that they pass at
right angles this is exact, since a plane mirrors a barrel into its own continuation. What a line takes from its shape
is one number, here called the geometric factor g: C = 2 pi e / g farads a metre, L = (mu / 2 pi) g henries a metre and
Z = (eta / 2 pi) g ohms, for charges and currents that add up to zero.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from fencepost.physics.waves import require

MU = 1.25663706127e-9
"""Permeability of the vacuum, henries a millimetre (CODATA 2022)."""

EPSILON = 8.8541878188e-15
"""Permittivity of the vacuum, farads a millimetre (likewise)."""

ETA = math.sqrt(MU / EPSILON)
"""Wave impedance of the vacuum, ohms: 376.73."""

NEAREST = 1e-3
"""Conductors whose gap is below this part of the smaller radius count as touching."""

TOLERANCE = 1e-5
"""Multipoles are kept until what they add to the energy is about this part of it."""

Array = NDArray[np.float64]


def two_wire_factor(spacing: float, diameter: float, other: float) -> float:
    """The geometric factor of two round wires: acosh((4 s^2 - d1^2 - d2^2) / (2 d1 d2)); 2 acosh(s / d) if d1 = d2.

    Lengths in mm, `spacing` from centre to centre. Exact. Source: W. R. Smythe, Static and Dynamic Electricity, 3rd
    ed., 1968, ch. 4, cylinders that do not enclose each other (from memory).
    Raises ValueError where a length is not above zero or the wires touch.
    """
    positive_lengths(spacing=spacing, diameter=diameter, other=other)
    apart = 2 * spacing > diameter + other
    require(apart, "a spacing", spacing, "mm", f"lets wires of {diameter:g} and {other:g} mm overlap or touch")
    # The argument of acosh, less one, as a product: it keeps its digits when the wires nearly touch.
    excess = (2 * spacing - diameter - other) * (2 * spacing + diameter + other) / (2 * diameter * other)
    return _acosh_of_one_and(excess)


def coaxial_factor(inner: float, outer: float, offset: float = 0.0) -> float:
    """The geometric factor of a round conductor in another: acosh((D^2 + d^2 - 4 e^2) / (2 D d)), ln(D / d) for e = 0.

    Diameters d and D and the distance e between the centres in mm. Exact. Source: Smythe, as for `two_wire_factor`.
    Raises ValueError where a diameter is not above zero, or the inner conductor does not lie inside the outer.
    """
    positive_lengths(inner=inner, outer=outer)
    require(0 <= offset < math.inf, "an offset", offset, "mm", "must not be below zero")
    gap = (outer - inner) / 2 - offset
    require(gap > 0, "a gap", gap, "mm", f"lets a conductor of {inner:g} mm touch the {outer:g} mm one around it")
    return _acosh_of_one_and(2 * gap * (outer - inner + 2 * offset) / (2 * inner * outer))


def _acosh_of_one_and(excess: float) -> float:
    """acosh(1 + x) without loss of digits at small x."""
    return math.log1p(excess + math.sqrt(excess * (excess + 2)))


def positive_lengths(**lengths: float) -> None:
    """Raise ValueError for a length in mm that is not finite and above zero; the keyword is its name."""
    for name, value in lengths.items():
        require(0 < value < math.inf, f"a length ({name.replace('_', ' ')})", value, "mm", "must be above zero")


def conductors(xy: ArrayLike, diameters: ArrayLike) -> tuple[NDArray[np.complex128], Array]:
    """Centres as complex numbers and radii, (n) each, in mm.

    Raises ValueError where shapes disagree, a diameter is not above zero, or two conductors overlap or touch.
    """
    points = np.asarray(xy, dtype=np.float64).reshape(-1, 2)
    radius = np.asarray(diameters, dtype=np.float64).reshape(-1) / 2
    if len(points) != len(radius):
        raise ValueError(f"{len(points)} centres for {len(radius)} diameters")
    if not np.isfinite(points).all():
        raise ValueError(f"a centre of {points[~np.isfinite(points).all(axis=1)][0]} mm is not finite")
    for bad in radius[~((radius > 0) & (radius < math.inf))][:1]:
        require(False, "a diameter", 2 * float(bad), "mm", "must be above zero")
    centre = points[:, 0] + 1j * points[:, 1]
    if len(points) > 1:
        spots = shapely.points(points)
        i, j = shapely.STRtree(spots).query(spots, "dwithin", 2 * radius.max() * (1 + NEAREST))
        i, j = i[i < j], j[i < j]
        spacing = np.abs(centre[i] - centre[j])
        touching = np.flatnonzero(spacing <= radius[i] + radius[j] + NEAREST * np.minimum(radius[i], radius[j]))
        for pair in touching[:1]:
            sizes = f"{2 * radius[i[pair]]:g} and {2 * radius[j[pair]]:g} mm"
            require(False, "a spacing", float(spacing[pair]), "mm", f"lets conductors of {sizes} overlap or touch")
    return centre, radius


def thin_potentials(xy: ArrayLike, diameters: ArrayLike) -> Array:
    """Potentials of conductors far apart, (n, n): ln(1 / distance), and ln(1 / radius) on the diagonal.

    Row i, column j: the potential of conductor i for a charge of 2 pi e a metre on conductor j, up to a constant common
    to all. `xy` (n, 2) and `diameters` (n) in mm. Errors as `conductors`.
    """
    centre, radius = conductors(xy, diameters)
    return np.asarray(-np.log(np.abs(centre[:, None] - centre) + np.diag(radius)), dtype=np.float64)


def potentials(xy: ArrayLike, diameters: ArrayLike) -> Array:
    """As `thin_potentials`, but with every conductor's surface held at one potential, at any distance; exact to 1e-5.

    Each conductor's charge is expanded in multipoles about its centre, c_m (a / (z - z0))^m, which are re-expanded
    about the centres of all others; the orders follow from how near the conductors are. Source of the method: Lord
    Rayleigh, Phil. Mag. 34, 1892, p. 481, for arrays of cylinders; here for any places and sizes. The time grows with
    the cube of n: 0.01 s for 20 ties, 1 s for 300. Errors as `conductors`.
    """
    centre, radius = conductors(xy, diameters)
    thin = thin_potentials(xy, diameters)
    orders = _orders(centre, radius)
    owner = np.repeat(np.arange(len(centre)), orders)
    if not len(owner):
        return thin
    order = np.concatenate([np.arange(1, count + 1) for count in orders])
    log_factorial = np.array([math.lgamma(number + 1) for number in range(2 * int(order.max()))])
    at, size = centre[owner], radius[owner]

    with np.errstate(divide="ignore", invalid="ignore"):
        # Logarithms keep the binomials and powers of high orders within range. A conductor's own rows come out as
        # infinities, and are set to zero: its own multipoles are the unknowns.
        apart = np.log(at[:, None] - at)
        rise, fall = order[:, None], order
        binomial = log_factorial[rise + fall - 1] - log_factorial[rise] - log_factorial[fall - 1]
        powers = rise * np.log(size)[:, None] + fall * np.log(size) - (rise + fall) * apart
        turn = (-1.0) ** rise
        same = owner[:, None] == owner
        coupling = np.where(same, 0, turn * np.exp(binomial + powers))
        reach = np.log(at[:, None] - centre)
        own = owner[:, None] == np.arange(len(centre))
        source = np.where(own, 0, turn / rise * np.exp(rise * (np.log(size)[:, None] - reach)))
        back = np.where(own.T, 0, np.exp(fall * (np.log(size) - np.log(centre[:, None] - at))))

    # On each surface c + conj(coupling c + source q) = 0: real and imaginary parts are solved side by side.
    unit = np.eye(len(owner))
    matrix = np.block([[unit + coupling.real, -coupling.imag], [-coupling.imag, unit - coupling.real]])
    poles = np.linalg.solve(matrix, np.concatenate([-source.real, source.imag]))
    full = thin + np.concatenate([back.real, -back.imag], axis=1) @ poles
    return np.asarray((full + full.T) / 2, dtype=np.float64)


def _orders(centre: NDArray[np.complex128], radius: Array) -> NDArray[np.int64]:
    """How many multipoles each conductor needs.

    Those of two cylinders decay as exp(-t m), where a sinh t is half the distance between the limit points of their
    circles (bipolar coordinates); their energy decays as the square.
    """
    if len(centre) < 2:
        return np.zeros(len(centre), dtype=np.int64)
    spacing = np.abs(centre[:, None] - centre) + np.diag(np.full(len(centre), np.inf))
    total, difference = radius[:, None] + radius, radius[:, None] - radius
    with np.errstate(invalid="ignore"):
        half = np.sqrt((spacing**2 - total**2) * (1 - (difference / spacing) ** 2)) / 2
    nearest = np.arcsinh(np.min(np.where(np.isinf(spacing), np.inf, half), axis=1) / radius)
    return np.asarray(np.ceil(math.log(1 / TOLERANCE) / (2 * nearest)), dtype=np.int64)


def geometric_factor(potential: Array, charges: ArrayLike) -> float:
    """g of the conductors named first, driven with `charges` (k) of unit size, against all others, which are joined.

    `potential` (n, n) from `potentials` or `thin_potentials`. One barrel among its ties: charges (1,). Two barrels
    driven against each other: charges (1, -1). The others take what makes the charges add up to zero, divided among
    them so that all are at one potential; their energy is then the least. Raises ValueError where nothing can take the
    return.
    """
    driven = np.asarray(charges, dtype=np.float64)
    count, rest = len(driven), len(potential) - len(driven)
    if rest == 0:
        if driven.sum() != 0:
            raise ValueError("0 ties: a barrel without any tie has no return path, and its field no factor")
        return float(driven @ potential @ driven)
    matrix = np.block([[potential[count:, count:], np.ones((rest, 1))], [np.ones((1, rest)), np.zeros((1, 1))]])
    load = np.append(-potential[count:, :count] @ driven, -driven.sum())
    shared = np.linalg.solve(matrix, load)[:rest]
    charge = np.concatenate([driven, shared])
    return float(charge @ potential @ charge)
