"""Ground copper over ground copper as flat cavities: which of them could resonate at a frequency, and how they do."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from fencepost.board.boxes import grown
from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.clipping import shortened
from fencepost.frozen import dataclass
from fencepost.grounds.areas import area_of, areas_of, extents_of, ground_pieces
from fencepost.grounds.joins import joins_of
from fencepost.grounds.overlaps import AROUND_MM, NARROW_MM, Pair, pairs_of
from fencepost.physics.mesh import mesh_of
from fencepost.physics.posts import post_stiffness
from fencepost.physics.waves import SPEED_OF_LIGHT, wavelength

if TYPE_CHECKING:
    import scipy

SMALL = 40.0
"""A hole in the copper smaller across than 1 / SMALL of a wavelength is filled, and answered for by its area."""

LEAST = 15.0
"""Copper smaller across than 1 / LEAST of a wavelength is left out. It would have to hang by a neck to resonate so low:
a square of this size, tied in one half, with a neck ten times as long as wide to the other, still does so at 1.07 times
the frequency (k^2 = width / (length x area))."""

COARSE_MM = 0.01
"""How far the edge of the copper is moved at most, to have fewer corners."""

SCREENS = ((8.0, 1.8), (24.0, 1.25))
"""Cells across the square root of an area, and how many times too high its first resonance may come out with them. In
copper from a real board, combs, dumbbells and spirals the first came out no more than 1.35 times too high, the second
no more than 1.09 times."""

DENSE = 300
"""Unknowns up to which a whole matrix is quicker than a sparse one."""


@dataclass(frozen=True, eq=False)
class Overlap:
    """One connected area in which two pieces of ground copper lie over one another, no other ground between.

    Holes smaller than 1 / SMALL of a wavelength are filled: `filled` is their share of the area. ties int32 (n) are the
    plated holes that pin it, of diameters (n) as drilled, in mm; no two of them meet.
    """

    pair: Pair
    outline: Polygon
    filled: float
    permittivity: float
    ties: NDArray[np.int32]
    centres: NDArray[np.float64]
    diameters: NDArray[np.float64]

    @property
    def slowing(self) -> float:
        """How many times lower the filled holes make every resonance: sqrt(1 + share).

        A sheet with a share p of round holes conducts (1 - p) / (1 + p) of what it did (J. C. Maxwell, Treatise, 1873,
        art. 314, in two dimensions: Lord Rayleigh, Phil. Mag. 34, 1892; both from memory) and holds 1 - p of the field.
        """
        return math.sqrt(1 + self.filled)


def overlaps_of(board: Board, frequency: float, plating: float) -> Iterator[Overlap]:
    """All tied overlaps that are large enough to resonate at `frequency` (Hz). Ties are drilled `plating` mm wider.

    Pieces that no hole ties are left out, and overlaps whose pieces are of two nets.
    """
    shortest = wavelength(frequency, board.stackup.highest_permittivity)
    least = shortest / LEAST
    pieces = ground_pieces(board)
    extents = extents_of(board, pieces)
    large = set(pieces[extents > least].tolist())
    joins = joins_of(board, shortest / SMALL)
    # Smaller pieces count where they lie between two others.
    counting = pieces[extents > shortest / SMALL]
    areas_of(board, counting)  # At once: one by one, as they are asked for, costs far more.
    for pair in pairs_of(board, counting):
        rows = joins.between([pair.upper], [pair.lower]) if {pair.upper, pair.lower} <= large else ()
        if len(rows) and board.pieces.net[pair.upper] == board.pieces.net[pair.lower]:
            er = board.stackup.permittivity(*board.pieces.layer[[pair.upper, pair.lower]].tolist())
            for area in _common(board, pair, least):
                outline, filled = _without_small_holes(area, shortest / SMALL)
                yield _pinned(board, pair, outline, filled, er, joins.holes[rows], plating)


def _common(board: Board, pair: Pair, least: float) -> NDArray[np.object_]:
    """Polygons in which two pieces lie over one another and none of those between, more than `least` mm across."""
    both = np.array([_coarse(board, pair.upper), _coarse(board, pair.lower)], dtype=object)
    # What lies beyond the other piece is cut off first: a large one then costs no more than a small one.
    near = shortened(both, np.tile(grown(np.array(pair.box), AROUND_MM), (2, 1)))
    parts = _across(shapely.intersection(*near), least)
    between = np.array(pair.between, dtype=np.int64)
    # All pieces of a layer at once: they do not meet, and are one valid shape.
    for layer in np.unique(board.pieces.layer[between]):
        if len(parts):
            own = [_coarse(board, piece) for piece in between[board.pieces.layer[between] == layer].tolist()]
            solid = shapely.multipolygons(shapely.get_parts(own))
            parts = _across(shapely.difference(parts, solid), least)
    return parts


def _across(shapes: BaseGeometry | NDArray[np.object_], least: float) -> NDArray[np.object_]:
    """The polygons in these shapes that are more than `least` mm across and no slivers."""
    parts = shapely.get_parts(shapes)
    x0, y0, x1, y1 = shapely.bounds(parts).reshape(-1, 4).T
    kept: NDArray[np.object_] = parts[
        (np.hypot(x1 - x0, y1 - y0) > least) & (2 * shapely.area(parts) > NARROW_MM * shapely.length(parts))
    ]
    return kept


@shared
def _coarse(board: Board, piece: int) -> BaseGeometry:
    """The copper of a piece without corners that do not matter."""
    area = shapely.simplify(area_of(board, piece), COARSE_MM)
    shapely.prepare(area)
    return area


def _without_small_holes(area: Polygon, small: float) -> tuple[Polygon, float]:
    """The same outline with holes up to `small` mm across filled, and their share of the whole."""
    rings = np.array(area.interiors, dtype=object)
    x0, y0, x1, y1 = shapely.bounds(rings).reshape(-1, 4).T
    filled = Polygon(area.exterior, list(rings[np.hypot(x1 - x0, y1 - y0) > small]))
    return filled, float((filled.area - area.area) / filled.area)


def _pinned(
    board: Board,
    pair: Pair,
    outline: Polygon,
    filled: float,
    permittivity: float,
    ties: NDArray[np.int32],
    plating: float,
) -> Overlap:
    holes = board.holes
    shapely.prepare(outline)
    sizes = holes.diameter[ties] + plating
    touching = shapely.dwithin(outline, shapely.points(holes.centre[ties]), sizes / 2)
    ties, sizes = ties[touching], sizes[touching]
    kept: list[int] = []
    for i in np.argsort(-sizes, kind="stable").tolist():
        apart = np.hypot(*(holes.centre[ties[kept]] - holes.centre[ties[i]]).T)
        if not (apart <= (sizes[kept] + sizes[i]) / 2 * (1 + 1e-3)).any():
            kept.append(i)
    chosen = np.sort(np.array(kept, dtype=np.int64))
    return Overlap(pair, outline, filled, permittivity, ties[chosen], holes.centre[ties[chosen]], sizes[chosen])


def may_resonate(overlap: Overlap, frequency: float) -> bool:
    """False where no resonance can lie at or below a frequency (Hz).

    From the same equations as `physics.cavity`, on grids far too coarse to tell the resonance, but good enough to show
    that it is far away. Cells are cut along the copper, so that necks and slots stay what they are.
    """
    return all(coarse_frequency(overlap, cells) / overlap.slowing <= margin * frequency for cells, margin in SCREENS)


def coarse_frequency(overlap: Overlap, cells: float) -> float:
    """About the first resonance (Hz), with so many cells across the square root of the area."""
    import scipy

    mesh = mesh_of(overlap.outline, math.sqrt(overlap.outline.area) / cells)
    size, width = len(mesh), mesh.opening / mesh.step
    off = scipy.sparse.coo_matrix((-width, (mesh.left, mesh.right)), shape=(size, size)).tocsr()
    ends = np.concatenate([mesh.left, mesh.right])
    diagonal = np.bincount(ends, np.concatenate([width, width]), minlength=size)
    stiffness = off + off.T + scipy.sparse.diags(diagonal, format="csr")
    if len(overlap.ties):
        stiffness = stiffness + post_stiffness(mesh, overlap.outline, overlap.centres, overlap.diameters / 2)
    wanted = 1 if len(overlap.ties) else 2
    if size <= wanted + 1:
        return 0.0
    root = np.sqrt(mesh.area)
    scaled = (
        scipy.sparse.diags(1 / root, format="csr")
        @ scipy.sparse.csr_matrix(stiffness)
        @ scipy.sparse.diags(1 / root, format="csr")
    )
    value = _lowest(scipy.sparse.csr_matrix(scaled), wanted)
    return SPEED_OF_LIGHT / (2 * math.pi) * math.sqrt(max(value, 0.0) / overlap.permittivity)


def _lowest(matrix: scipy.sparse.csr_matrix, number: int) -> float:
    """The lowest eigenvalue of a symmetric matrix, the second lowest, and so on."""
    import scipy

    if matrix.shape[0] <= DENSE:
        return float(scipy.linalg.eigvalsh(matrix.toarray(), subset_by_index=(number - 1, number - 1))[0])
    below = -1e-3 * float(matrix.diagonal().mean())
    start = np.random.default_rng(0).standard_normal(matrix.shape[0])
    return float(scipy.sparse.linalg.eigsh(matrix, number, sigma=below, v0=start, return_eigenvectors=False).max())
