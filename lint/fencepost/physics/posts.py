"""Round posts, smaller or larger than a cell, on a square grid: what they add to the grid's equations.

A post holds the mean of the field over its rim at zero, and likewise the first harmonics of the field along its rim;
one harmonic for a post smaller than a cell, more for larger ones. The charges that do so are spread over the cells just
as the means are read from them. The field of a charge spread over a grid is right from a few cells away, but not on the
rim itself. By how much it is wrong there is known, since the grid's field around a point is the lattice Green's
function. The difference is a resistance between the grid and the post.

For a thin post in the middle of a cell this is D. W. Peaceman, SPE J. 18, 1978, p. 183: the value of the cell is the
true one at 0.2 of its side (exp(-0.5772) / sqrt(8) = 0.1985), and the resistance ln(0.2 h / a) / 2 pi. Here the post
may lie anywhere and have any radius.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from fencepost.physics.mesh import Floats, Ints, Mesh
from fencepost.ranges import ranges

_FAR = (np.euler_gamma + 1.5 * math.log(2)) / (2 * math.pi)
_NEAR = np.array(
    [
        [0, 1 / 4, 1 - 2 / math.pi],
        [1 / 4, 1 / math.pi, 2 / math.pi - 1 / 4],
        [1 - 2 / math.pi, 2 / math.pi - 1 / 4, 4 / (3 * math.pi)],
    ]
)
_MOST_HARMONICS = 8
"""Of a rim that is many cells round: a field turns no faster than this along a post that is small against the pour."""

_LEAST = 1e-4
"""The least resistance of a post to the grid, where that of a bare sheet is 1 a square."""


def lattice_kernel(i: Ints, j: Ints) -> Floats:
    """a(i, j), the potential kernel of the square lattice: its discrete Laplacian is 1 at the origin and 0 elsewhere.

    Exact within two cells, to 5e-4 beyond, from its asymptotic series. Sources: W. H. McCrea and F. J. W. Whipple,
    Proc. R. Soc. Edinburgh 60, 1940, p. 281; J. Stoehr, Math. Nachr. 3, 1950, p. 295 (both from memory).
    """
    i, j = np.abs(i), np.abs(j)
    square = np.maximum(i * i + j * j, 1)
    quartic = (i**4 - 6 * i * i * j * j + j**4) / square**2
    far = np.log(square) / (4 * math.pi) + _FAR - quartic / (24 * math.pi * square)
    near = (i < len(_NEAR)) & (j < len(_NEAR))
    return np.where(near, _NEAR[np.where(near, i, 0), np.where(near, j, 0)], far)


def post_stiffness(mesh: Mesh, outline: Polygon, xy: Floats, radius: Floats) -> Any:
    """A sparse (n, n) to be added to the stiffness of the mesh, for posts at `xy` (p, 2) of `radius` (p), in mm.

    Every post must touch the outline, which should be prepared.
    """
    import scipy

    total = scipy.sparse.csr_matrix((len(mesh), len(mesh)))
    orders = np.minimum(1 + (radius / mesh.step).astype(np.int64), _MOST_HARMONICS)
    for order in np.unique(orders):
        alike = orders == order
        total = total + _alike_stiffness(mesh, outline, xy[alike], radius[alike], int(order))
    return total


def _alike_stiffness(mesh: Mesh, outline: Polygon, xy: Floats, radius: Floats, order: int) -> Any:
    """As `post_stiffness`, with the mean and `order` harmonics of each rim."""
    import scipy

    spread = _rims(mesh, outline, xy, radius, order)
    columns, kinds = spread.tocsc(), 1 + 2 * order
    stiffness = []
    for post, size in enumerate(radius):
        # By hand: to slice a sparse matrix takes longer than all the rest.
        ends = columns.indptr[kinds * post : kinds * (post + 1) + 1]
        own = slice(ends[0], ends[-1])
        part, place = np.unique(columns.indices[own], return_inverse=True)
        weight = np.zeros((len(part), kinds))
        weight[place, np.repeat(np.arange(kinds), np.diff(ends))] = columns.data[own]
        stiffness.append(_stiffness(mesh, part, weight, float(size)))
    return scipy.sparse.csr_matrix(spread @ scipy.sparse.block_diag(stiffness, format="csr") @ spread.T)


def _stiffness(mesh: Mesh, part: Ints, weight: Floats, radius: float) -> Floats:
    """The inverse of what lies between a rim and the grid: the field of unit charges, less what the grid makes of it.

    On a circle, a charge of sqrt(2) cos(m t) holds itself at 1 / (4 pi m), and an even one at ln(1 / a) / 2 pi.
    """
    harmonic = np.repeat(np.arange(1, weight.shape[1] // 2 + 1), 2)
    exact = np.diag(np.append(-math.log(radius / mesh.step) / (2 * math.pi), 1 / (4 * math.pi * harmonic)))
    row, column = np.divmod(mesh.cell[part], mesh.shape[1])
    kernel = lattice_kernel(row[:, None] - row, column[:, None] - column)
    gap = exact + weight.T @ (kernel - _FAR) @ weight
    values, vectors = np.linalg.eigh((gap + gap.T) / 2)
    return np.asarray((vectors / np.maximum(values, _LEAST)) @ vectors.T)


def _rims(mesh: Mesh, outline: Polygon, xy: Floats, radius: Floats, order: int) -> Any:
    """Sparse (n, kinds p): how mean, cosines and sines of the field along each rim are read from the parts of the mesh.

    Points on the rim read the four cells about them bilinearly; cells that a post does not see do not count.
    """
    import scipy

    count = 16 + 8 * math.ceil(float(radius.max()) / mesh.step)
    angle = 2 * math.pi * np.arange(count) / count
    rim = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    at = ((xy[:, None] + radius[:, None, None] * rim - mesh.corner) / mesh.step - 0.5).reshape(-1, 2)
    low = np.floor(at).astype(np.int64)
    corner = np.array([[0, 0], [1, 0], [0, 1], [1, 1]])
    place = low[:, None] + corner
    share = np.prod(np.where(corner == 1, (at - low)[:, None], 1 - (at - low)[:, None]), axis=2)

    point = np.repeat(np.arange(len(at)), len(corner))
    part = _parts_seen(mesh, outline, xy, radius, point // count, place.reshape(-1, 2))
    weight = np.where(part >= 0, share.ravel(), 0.0)
    total = np.bincount(point, weight, minlength=len(at))
    used = (total > 0).reshape(-1, count).sum(axis=1)
    keep = weight > 0
    post, turn, part = point[keep] // count, angle[point[keep] % count], part[keep]
    weight = weight[keep] / (total[point[keep]] * used[post])
    # A post that sees no cell, in copper far narrower than one, holds the cell nearest to it.
    lost = np.flatnonzero(used == 0)
    nearest = [int(np.argmin(np.hypot(*(mesh.spot - xy[one]).T))) for one in lost]
    post, turn = np.append(post, lost), np.append(turn, np.full(len(lost), math.pi / 4))
    part, weight = np.append(part, nearest).astype(np.int64), np.append(weight, np.ones(len(lost)))

    waves = [np.ones(len(turn))]
    for m in range(1, order + 1):
        waves += [math.sqrt(2) * np.cos(m * turn), math.sqrt(2) * np.sin(m * turn)]
    values = np.concatenate([weight * wave for wave in waves])
    columns = np.concatenate([len(waves) * post + kind for kind in range(len(waves))])
    return scipy.sparse.csr_matrix(
        (values, (np.tile(part, len(waves)), columns)), shape=(len(mesh), len(waves) * len(xy))
    )


def _parts_seen(mesh: Mesh, outline: Polygon, xy: Floats, radius: Floats, post: Ints, place: Ints) -> Ints:
    """For pairs of a post and a cell (column, row): the part of the cell that the post sees, -1 for none."""
    rows, columns = mesh.shape
    on_grid = ((place >= 0) & (place < [columns, rows])).all(axis=1)
    key = post * (rows * columns) + np.where(on_grid, place[:, 1] * columns + place[:, 0], 0)
    pairs, back = np.unique(np.where(on_grid, key, -1), return_inverse=True)
    owner, cell = np.divmod(pairs, rows * columns)

    first = np.searchsorted(mesh.cell, cell, side="left")
    count = np.where(pairs >= 0, np.searchsorted(mesh.cell, cell, side="right") - first, 0)
    pair = np.repeat(np.arange(len(pairs)), count)
    part = ranges(first, count)
    ray = mesh.spot[part] - xy[owner[pair]]
    distance = np.hypot(*ray.T)

    by_edge = np.zeros(len(xy), dtype=bool)
    by_edge[owner[pair[mesh.is_cut[part]]]] = True
    doubtful = np.flatnonzero(by_edge[owner[pair]] & (distance > radius[owner[pair]]))
    seer = owner[pair[doubtful]]
    from_rim = xy[seer] + ray[doubtful] * (radius[seer] / distance[doubtful])[:, None]
    seen = np.ones(len(pair), dtype=bool)
    sight = shapely.linestrings(np.stack([from_rim, mesh.spot[part[doubtful]]], axis=1))
    seen[doubtful] = shapely.covers(outline, sight)

    chosen = np.full(len(pairs), -1)
    order = np.flatnonzero(seen)[np.argsort(-distance[seen], kind="stable")]
    chosen[pair[order]] = part[order]
    return chosen[back]
