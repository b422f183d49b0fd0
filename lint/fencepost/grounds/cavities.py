"""Ground copper over ground copper as flat cavities: which of them could resonate at a frequency, and how they do."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.linalg import eigvalsh
from scipy.sparse import coo_matrix, csr_matrix, diags
from scipy.sparse.linalg import eigsh
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from fencepost.board.model import Board
from fencepost.board.shared import shared
from fencepost.grounds.areas import area_of, extents_of, ground_pieces
from fencepost.grounds.joins import joins_of
from fencepost.grounds.overlaps import NARROW_MM, Pair, pairs_of
from fencepost.physics.mesh import mesh_of
from fencepost.physics.posts import post_stiffness
from fencepost.physics.waves import SPEED_OF_LIGHT, wavelength

SMALL = 40.0
"""A hole in the copper smaller across than 1 / SMALL of a wavelength is filled, and answered for by its area."""

LEAST = 20.0
"""Copper smaller across than 1 / LEAST of a wavelength is left out. A piece so small resonates so low only behind a
neck: a square of a twentieth of a wavelength, halved by one of 0.1 mm x 1 mm, does so at 1.4 times the frequency."""

COARSE_MM = 0.01
"""How far the edge of the copper is moved at most, to have fewer corners."""

SCREENS = ((8.0, 2.0), (24.0, 1.4))
"""Cells across the square root of an area, and how many times too high its first resonance may come out with them. In
copper from real boards, combs, dumbbells and spirals the first came out no more than 1.5 times too high, the second no
more than 1.15 times."""

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
        art. 314, in two dimensions: Lord Rayleigh, Phil. Mag. 34, 1892) and holds 1 - p of the field.
        """
        return math.sqrt(1 + self.filled)


def overlaps_of(board: Board, frequency: float, plating: float) -> Iterator[Overlap]:
    """All tied overlaps that are large enough to resonate at `frequency` (Hz). Ties are drilled `plating` mm wider.

    Pieces that no hole ties are left out, and overlaps whose pieces are of two nets. Holes are filled piece by piece, so
    that `filled` is an upper estimate; `exactly` gives the true one.
    """
    shortest = wavelength(frequency, board.stackup.highest_permittivity)
    small = shortest / SMALL
    pieces = ground_pieces(board)
    pieces = pieces[extents_of(board, pieces) > shortest / LEAST]
    joins = joins_of(board, small)
    for pair in pairs_of(board, pieces):
        rows = joins.between([pair.upper], [pair.lower])
        if len(rows) and board.pieces.net[pair.upper] == board.pieces.net[pair.lower]:
            er = board.stackup.permittivity(*board.pieces.layer[[pair.upper, pair.lower]].tolist())
            filled = min(sum(_filled(board, piece, small)[1] for piece in (pair.upper, pair.lower)), 1.0)
            for outline in _common(board, pair, small, shortest / LEAST):
                yield _pinned(board, pair, outline, filled, er, joins.holes[rows], plating)


def exactly(board: Board, overlap: Overlap) -> Overlap:
    """The same overlap, with the share of its filled holes worked out from the copper as it is."""
    both = [area_of(board, piece) for piece in (overlap.pair.upper, overlap.pair.lower)]
    common = shapely.intersection(shapely.intersection(both[0], overlap.outline), both[1])
    return replace(overlap, filled=min(max(1 - common.area / overlap.outline.area, 0.0), 1.0))


def _common(board: Board, pair: Pair, small: float, least: float) -> Iterator[Polygon]:
    """Where two pieces lie over one another, in parts more than `least` across."""
    common = shapely.intersection(_filled(board, pair.upper, small)[0], _filled(board, pair.lower, small)[0])
    for piece in pair.between:
        if common.is_empty:
            return
        common = shapely.difference(common, _filled(board, piece, small)[0])
    for part in shapely.get_parts(common):
        x0, y0, x1, y1 = part.bounds if part.geom_type == "Polygon" else (0.0, 0.0, 0.0, 0.0)
        if math.hypot(x1 - x0, y1 - y0) > least and 2 * part.area > NARROW_MM * part.length:
            yield part


@shared
def _filled(board: Board, piece: int, small: float) -> tuple[BaseGeometry, float]:
    """A piece with holes up to `small` mm across filled, and their share of the whole; large holes and slots stay."""
    whole = area_of(board, piece)
    parts = [_without_small_holes(part, small) for part in shapely.get_parts(whole)]
    area = shapely.simplify(shapely.union_all(parts) if len(parts) > 1 else parts[0], COARSE_MM)
    shapely.prepare(area)
    return area, float((area.area - whole.area) / area.area)


def _without_small_holes(area: Polygon, small: float) -> Polygon:
    rings = np.array(area.interiors, dtype=object)
    x0, y0, x1, y1 = shapely.bounds(rings).reshape(-1, 4).T
    return Polygon(area.exterior, list(rings[np.hypot(x1 - x0, y1 - y0) > small]))


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
    mesh = mesh_of(overlap.outline, math.sqrt(overlap.outline.area) / cells)
    size, width = len(mesh), mesh.opening / mesh.step
    off = coo_matrix((-width, (mesh.left, mesh.right)), shape=(size, size)).tocsr()
    ends = np.concatenate([mesh.left, mesh.right])
    diagonal = np.bincount(ends, np.concatenate([width, width]), minlength=size)
    stiffness = off + off.T + diags(diagonal, format="csr")
    if len(overlap.ties):
        stiffness = stiffness + post_stiffness(mesh, overlap.outline, overlap.centres, overlap.diameters / 2)
    wanted = 1 if len(overlap.ties) else 2
    if size <= wanted + 1:
        return 0.0
    root = np.sqrt(mesh.area)
    value = _lowest(csr_matrix(stiffness.multiply(1 / root[:, None]).multiply(1 / root)), wanted)
    return SPEED_OF_LIGHT / (2 * math.pi) * math.sqrt(max(value, 0.0) / overlap.permittivity)


def _lowest(matrix: csr_matrix, number: int) -> float:
    """The lowest eigenvalue of a symmetric matrix, the second lowest, and so on."""
    if matrix.shape[0] <= DENSE:
        return float(eigvalsh(matrix.toarray(), subset_by_index=(number - 1, number - 1))[0])
    below = -1e-3 * float(matrix.diagonal().mean())
    start = np.random.default_rng(0).standard_normal(matrix.shape[0])
    return float(eigsh(matrix, number, sigma=below, v0=start, return_eigenvectors=False).max())
