"""Resonances of ground copper over ground copper: a flat cavity with open edges, pinned by ties.

Between two parallel sheets a small part of a wavelength apart, the field is upright and the same at every height. Its
strength u obeys the Helmholtz equation in the plane, with a slope of zero at an open edge and with u = 0 at a tie. The
height does not enter. Left out: the field that bulges from the edges (it lowers a frequency by about the height over
the size of the copper) and all losses.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon
from shapely.validation import explain_validity

from fencepost.frozen import dataclass
from fencepost.physics.mesh import Floats, Mesh, mesh_of
from fencepost.physics.posts import post_stiffness
from fencepost.physics.waves import SPEED_OF_LIGHT, require
from fencepost.physics.wires import conductors

SETTLED = 0.01
"""The grid is refined until the first frequency moves by less than this share."""

MOST_PARTS = 100_000
"""The grid is never refined beyond about this many cells."""

MOST_CELLS = 4_000_000
"""Nor beyond this many in the box around the outline, inside or not."""

MOST_MODES = 50

_SPARE = 2
_ACCURACY = 1e-6


@dataclass(frozen=True, eq=False)
class Cavity:
    """The first k resonances of a pour, on a grid of rows x columns cells.

    frequencies  float64 (k)     Hz, ascending
    fields       float64 (k, rows, columns)  relative strength, the largest is 1; 0 outside the pour
    inside       bool (rows, columns)        cells that hold some of the pour
    x, y         float64 (columns), (rows)   mm, the middles of the cells
    spots        float64 (k, 2)  mm, a place in the pour where the field of each mode is strongest
    moved        share by which the last refinement moved the first frequency; above SETTLED only where the pour has
                 more detail than the largest grid can hold
    """

    frequencies: Floats
    fields: Floats
    inside: NDArray[np.bool_]
    x: Floats
    y: Floats
    spots: Floats
    moved: float
    problem: Problem


@dataclass(frozen=True, eq=False)
class Problem:
    """The equations behind a cavity, kept so that a further tie can be tried.

    stiffness u = (2 pi f sqrt(er) / c)^2 area u, for the values u of the field in the parts of the mesh.
    """

    outline: Polygon
    ties_xy: Floats
    tie_diameters: Floats
    permittivity: float
    mesh: Mesh
    stiffness: Any


def cavity_modes(
    outline: Polygon, ties_xy: ArrayLike, tie_diameters: ArrayLike, permittivity: float, count: int = 4
) -> Cavity:
    """The first `count` resonances of the copper that two layers share.

    `outline` is a shapely Polygon in mm, holes and all; `ties_xy` (n, 2) and `tie_diameters` (n), or one for all, in
    mm: the plated holes that tie the two layers, each of which must touch the outline; none will do. A pour without
    ties also holds a constant field at 0 Hz, which is left out.

    Finite volumes on square cells cut to the outline, refined until the first frequency moves by less than 1 %. Source
    of the equation: D. M. Pozar, Microwave Engineering, ch. 6; for the ties see `posts`.
    Raises ValueError for an outline without area or that crosses itself, a tie outside it or overlapping another, sizes
    that are not above zero, a permittivity below 1, or a count that is not from 1 to MOST_MODES.
    """
    xy, diameters = _checked(outline, ties_xy, tie_diameters, permittivity)
    require(1 <= count <= MOST_MODES, "a count", count, "resonances", f"must be from 1 to {MOST_MODES}")
    shapely.prepare(outline)
    step = _first_step(outline, len(xy))
    problem = _problem(outline, xy, diameters, permittivity, step)
    first = float(_modes(problem, 1)[0][0])
    while True:
        step, last = _next_step(outline, step)
        problem = _problem(outline, xy, diameters, permittivity, step)
        frequencies, fields = _modes(problem, count, first)
        moved, first = abs(float(frequencies[0]) / first - 1), float(frequencies[0])
        if last or moved < SETTLED:
            return _cavity(problem, frequencies, fields, moved)


def frequency_with_tie(cavity: Cavity, xy: ArrayLike, diameter: float) -> float:
    """The first resonance, in Hz, with one more tie of `diameter` mm at `xy` (2), on the cavity's own grid.

    Errors as `cavity_modes`.
    """
    old = cavity.problem
    place, size = np.asarray(xy, dtype=np.float64).reshape(1, 2), np.array([diameter], dtype=np.float64)
    all_xy, all_sizes = np.concatenate([old.ties_xy, place]), np.append(old.tie_diameters, size)
    _checked(old.outline, all_xy, all_sizes, old.permittivity)
    stiffness = old.stiffness + post_stiffness(old.mesh, old.outline, place, size / 2)
    new = Problem(old.outline, all_xy, all_sizes, old.permittivity, old.mesh, stiffness)
    return float(_modes(new, 1, float(cavity.frequencies[0]))[0][0])


def _checked(
    outline: Polygon, ties_xy: ArrayLike, tie_diameters: ArrayLike, permittivity: float
) -> tuple[Floats, Floats]:
    """Places (n, 2) and diameters (n) of the ties, or ValueError."""
    if not isinstance(outline, Polygon):
        raise ValueError(f"a pour must be one polygon, not a {getattr(outline, 'geom_type', type(outline).__name__)}")
    area = float(outline.area)
    require(0 < area < math.inf, "a pour's area", area, "mm²", "must be above zero")
    if not outline.is_valid:
        raise ValueError(f"the outline of a pour (mm) crosses or touches itself: {explain_validity(outline)}")
    require(1 <= permittivity < math.inf, "a relative permittivity", permittivity, "", "must be 1 or more")
    xy = np.asarray(ties_xy, dtype=np.float64).reshape(-1, 2)
    diameters = np.broadcast_to(np.asarray(tie_diameters, dtype=np.float64), len(xy))
    conductors(xy, diameters)
    outside = ~shapely.dwithin(outline, shapely.points(xy), diameters / 2)
    for x, y in xy[outside][:1]:
        raise ValueError(f"a tie at ({x:g}, {y:g}) mm does not touch the pour")
    if math.pi / 4 * (diameters**2).sum() >= area:
        left = outline.difference(shapely.union_all(shapely.buffer(shapely.points(xy), diameters / 2))).area
        require(left > area * 1e-6, "a pour's area between its ties", left, "mm²", f"is too little of its {area:g} mm²")
    return xy, diameters


def _first_step(outline: Polygon, ties: int) -> float:
    """A first cell: a quarter of the distance between ties, a quarter of the mean width, a 25th of the whole."""
    area, width = outline.area, 4 * outline.area / outline.length
    return float(max(min(math.sqrt(area / (ties + 1)) / 4, width / 4, math.sqrt(area) / 25), 2 * _least_step(outline)))


def _next_step(outline: Polygon, step: float) -> tuple[float, bool]:
    """Half of a cell, or the least, and whether it is so near the least that a further step would prove nothing."""
    least = _least_step(outline)
    smaller = max(step / 2, least)
    return smaller, smaller < 1.4 * least


def _least_step(outline: Polygon) -> float:
    """The cell at which a grid holds MOST_PARTS (area / h^2 whole ones, length / h cut ones) or MOST_CELLS."""
    west, south, east, north = outline.bounds
    by_parts = (outline.length + math.sqrt(outline.length**2 + 4 * MOST_PARTS * outline.area)) / (2 * MOST_PARTS)
    return float(max(by_parts, math.sqrt((east - west) * (north - south) / MOST_CELLS)))


def _problem(outline: Polygon, xy: Floats, diameters: Floats, permittivity: float, step: float) -> Problem:
    import scipy

    mesh = mesh_of(_simplified(outline, step / 50), step)
    size = len(mesh)
    width = mesh.opening / mesh.step
    ends = np.concatenate([mesh.left, mesh.right])
    diagonal = np.bincount(ends, np.concatenate([width, width]), minlength=size)
    off = scipy.sparse.coo_matrix((-width, (mesh.left, mesh.right)), shape=(size, size)).tocsr()
    stiffness = off + off.T + scipy.sparse.diags(diagonal, format="csr")
    if len(xy):
        stiffness = stiffness + post_stiffness(mesh, outline, xy, diameters / 2)
    return Problem(outline, xy, diameters, permittivity, mesh, stiffness)


def _simplified(outline: Polygon, tolerance: float) -> Polygon:
    """Without the detail of arcs, which come as many chords and only cost time; as it is where that would break it."""
    rings = shapely.simplify(shapely.get_rings(outline), tolerance, preserve_topology=False)
    large = [ring for ring in rings if shapely.get_num_coordinates(ring) > 3]
    simple = Polygon(large[0], large[1:]) if len(large) == len(rings) else outline
    return simple if simple.is_valid and simple.area > 0 else outline


def _modes(problem: Problem, count: int, guess: float = 0.0) -> tuple[Floats, Floats]:
    """Frequencies (k) in Hz and fields (n, k).

    `guess` is about the first frequency, or 0; a good one saves time and changes nothing else.
    """
    import scipy

    mesh, stiffness = problem.mesh, problem.stiffness
    label = scipy.sparse.csgraph.connected_components(stiffness, directed=False)[1]
    held = np.bincount(label, stiffness @ np.ones(len(mesh)))
    # Copper without a tie can hold a constant field; that is no resonance.
    constant = int((held < 1e-9).sum())
    wanted = constant + count
    whole = math.pi**2 / (mesh.step**2 * (mesh.shape[0] ** 2 + mesh.shape[1] ** 2))
    first = problem.permittivity * (2 * math.pi * guess / SPEED_OF_LIGHT) ** 2
    values, fields = _lowest(stiffness, mesh.area, wanted, -0.1 * whole if constant or not guess else 0.9 * first)
    values, fields = values[constant:wanted], fields[:, constant:wanted]
    return SPEED_OF_LIGHT / (2 * math.pi) * np.sqrt(values / problem.permittivity), fields


def _lowest(stiffness: Any, area: Floats, count: int, below: float) -> tuple[Floats, Floats]:
    """The lowest eigenvalues and vectors, by iteration about a value below them."""
    import scipy

    mass = scipy.sparse.diags(area, format="csc")
    shifted = scipy.sparse.csc_matrix(stiffness - below * mass)
    factors = scipy.sparse.linalg.splu(
        shifted, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )
    solve = scipy.sparse.linalg.LinearOperator(shifted.shape, matvec=factors.solve, dtype=np.float64)
    start = np.random.default_rng(0).standard_normal(len(area))
    # The iteration meets several modes of one frequency late: beyond the first, it goes to the end, and further.
    spare, accuracy = (0, _ACCURACY) if count == 1 else (_SPARE, 0.0)
    values, fields = scipy.sparse.linalg.eigsh(
        stiffness, count + spare, mass, below, OPinv=solve, v0=start, tol=accuracy
    )
    order = np.argsort(values)
    return np.maximum(values[order], 0.0), fields[:, order]


def _cavity(problem: Problem, frequencies: Floats, fields: Floats, moved: float) -> Cavity:
    mesh = problem.mesh
    rows, columns = mesh.shape
    largest = np.argmax(np.abs(fields), axis=0)
    fields = fields / fields[largest, np.arange(len(largest))]
    # Of several parts in one cell, the one with the strongest field is shown.
    shown = np.zeros((len(frequencies), rows * columns))
    for field, own in zip(fields.T, shown, strict=True):
        order = np.argsort(np.abs(field))
        own[mesh.cell[order]] = field[order]
    inside = np.zeros(rows * columns, dtype=bool)
    inside[mesh.cell] = True
    return Cavity(
        frequencies=frequencies,
        fields=shown.reshape(-1, rows, columns),
        inside=inside.reshape(rows, columns),
        x=_middles(mesh.corner[0], mesh.step, columns),
        y=_middles(mesh.corner[1], mesh.step, rows),
        spots=mesh.spot[largest],
        moved=moved,
        problem=problem,
    )


def _middles(start: float, step: float, cells: int) -> Floats:
    return np.asarray(start + step * (np.arange(cells) + 0.5), dtype=np.float64)
