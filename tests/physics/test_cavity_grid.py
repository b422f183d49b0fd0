"""The cells that an outline is cut into, and the field of the lattice that posts are corrected by."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from shapely import LineString, Point, Polygon, box
from shapely.affinity import rotate

from fencepost.physics.mesh import mesh_of
from fencepost.physics.posts import lattice_kernel, post_stiffness

SHAPES = {
    "square": box(0, 0, 4, 4),
    "turned square": rotate(box(0, 0, 7, 5), 31),
    "ring": Point(0, 0).buffer(5).difference(Point(0.3, 0.2).buffer(2)),
    "comb": box(0, 0, 20, 10).difference(box(1, 1, 2, 11).union(box(3, -1, 3.1, 9)).union(box(5, 1, 5.001, 11))),
    "spike": Polygon([(0, 0), (30, 0.1), (30, 0.2), (0, 4)]),
    "one cell": box(0.1, 0.1, 0.2, 0.2),
}


@pytest.mark.parametrize("step", [0.5, 0.77, 3.0])
@pytest.mark.parametrize("outline", SHAPES.values(), ids=SHAPES)
def test_the_parts_are_the_outline(outline: Polygon, step: float) -> None:
    """Nothing is lost or counted twice, and what is one piece stays one piece."""
    mesh = mesh_of(outline, step)
    assert mesh.area.sum() == pytest.approx(outline.area, rel=1e-6)
    assert (mesh.opening <= step * (1 + 1e-9)).all()
    assert all(outline.covers(Point(spot)) for spot in mesh.spot)
    graph = coo_matrix((mesh.opening, (mesh.left, mesh.right)), shape=(len(mesh), len(mesh)))
    assert connected_components(graph, directed=False)[0] == 1


@pytest.mark.parametrize("angle", [0.0, 20.0, 45.0])
def test_the_openings_are_the_grid_lines_within_the_outline(angle: float) -> None:
    """Their widths add up to the length of all grid lines inside, as shapely measures it."""
    outline = rotate(SHAPES["ring"], angle)
    mesh = mesh_of(outline, 0.6)
    west, south = mesh.corner
    rows, columns = mesh.shape
    east, north = west + 0.6 * columns, south + 0.6 * rows
    upright = [LineString([(west + 0.6 * i, south), (west + 0.6 * i, north)]) for i in range(columns + 1)]
    level = [LineString([(west, south + 0.6 * i), (east, south + 0.6 * i)]) for i in range(rows + 1)]
    expected = sum(outline.intersection(line).length for line in upright + level)
    assert mesh.opening.sum() == pytest.approx(expected, rel=1e-6)


def test_a_thin_slot_makes_two_parts_of_a_cell() -> None:
    """A slot of 2 µm through cells of 1 mm, open at one end: no opening leads over it but at the closed end."""
    outline = box(0, 0, 8, 8).difference(box(4.399, -1, 4.401, 7.2))
    mesh = mesh_of(outline, 1.0)
    counts = np.bincount(mesh.cell, minlength=64).reshape(8, 8)
    assert (counts[:7, 4] == 2).all()
    assert counts.sum() == 64 + 7
    below = mesh.spot[:, 1] < 7
    left, right = mesh.spot[mesh.left], mesh.spot[mesh.right]
    across = (left[:, 0] < 4.4) & (right[:, 0] > 4.4) & below[mesh.left] & below[mesh.right]
    assert not across.any()


@pytest.mark.parametrize("turned", [0, 90, 180, 270])
def test_a_post_holds_only_what_it_sees(turned: int) -> None:
    """A post 0.1 mm from a slot, the next cell wholly beyond it: parts before the slot are held, and none beyond."""
    outline = rotate(box(0, 0, 10, 10).difference(box(4.989, -1, 4.991, 9)), turned, origin=(5, 5))
    post = np.array(rotate(Point(4.9, 3.45), turned, origin=(5, 5)).coords)
    mesh = mesh_of(outline, 1.0)
    held = mesh.spot[np.unique(post_stiffness(mesh, outline, post, np.array([0.05])).nonzero()[0])]
    before = [rotate(Point(spot), -turned, origin=(5, 5)).x < 4.989 for spot in held]
    assert len(before) > 1
    assert all(before)


def test_a_thin_post_in_the_middle_of_a_cell_is_peacemans() -> None:
    """D. W. Peaceman, SPE J. 18, 1978: flow 2 pi / ln(0.2 h / a) to the cell it is in; his exact figure is 0.1982."""
    mesh = mesh_of(box(0, 0, 9, 9), 1.0)
    stiffness = post_stiffness(mesh, box(0, 0, 9, 9), np.array([(4.5, 4.5)]), np.array([1e-4])).toarray()
    assert np.diag(stiffness)[4 * 9 + 4] == pytest.approx(2 * math.pi / math.log(0.1982 / 1e-4), rel=2e-3)
    assert stiffness.sum() == pytest.approx(2 * math.pi / math.log(0.1982 / 1e-4), rel=2e-3)


def test_the_lattice_kernel_is_harmonic_but_at_the_origin() -> None:
    """Its definition: four neighbours less four times the middle make 1 at the origin, else 0; a(1, 1) = 1 / pi."""
    i, j = np.meshgrid(np.arange(-9, 10), np.arange(-9, 10), indexing="ij")
    kernel = lattice_kernel(i, j)
    laplacian = kernel[2:, 1:-1] + kernel[:-2, 1:-1] + kernel[1:-1, 2:] + kernel[1:-1, :-2] - 4 * kernel[1:-1, 1:-1]
    expected = np.zeros_like(laplacian)
    expected[8, 8] = 1
    assert laplacian == pytest.approx(expected, abs=2e-3)
    assert kernel[10, 10] == pytest.approx(1 / math.pi)


def test_the_lattice_kernel_is_the_integral_over_all_waves() -> None:
    """Its Fourier form: a quarter of the mean of (1 - cos(i x) cos(j y)) / (1 - (cos x + cos y) / 2) over all x, y."""
    x = (np.arange(800) + 0.5) * math.pi / 800
    wave = 1 - (np.cos(x)[:, None] + np.cos(x)) / 2
    for i, j in ((1, 0), (2, 0), (2, 1), (2, 2), (3, 0), (5, 2)):
        expected = np.mean((1 - np.cos(i * x)[:, None] * np.cos(j * x)) / wave) / 4
        assert lattice_kernel(np.array(i), np.array(j)) == pytest.approx(expected, abs=6e-4)
