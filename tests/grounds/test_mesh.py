"""Copper cut into triangles."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fencepost.grounds import mesh
from fencepost.grounds.along import far_ends
from fencepost.grounds.mesh import mesh_of

APART = np.zeros((1, 2))


def plane(holes: int, turn: float = 0.0) -> shapely.Polygon:
    """A plane with a grid of square holes of 2 mm, and a finger of 1 x 12 mm at its right end."""
    squares = [shapely.box(4 * x + 1, 4 * y + 1, 4 * x + 3, 4 * y + 3) for x in range(holes) for y in range(3)]
    whole = shapely.union(shapely.box(0, 0, 4 * holes, 12), shapely.box(4 * holes - 1, 5.5, 4 * holes + 12, 6.5))
    return shapely.affinity.rotate(whole.difference(shapely.union_all(squares)), turn, origin=(0, 0))


@pytest.mark.parametrize("turn", [0.0, 33.0, 90.0])
def test_a_plane_of_many_holes_is_one_mesh(turn: float) -> None:
    """Cut in parts, its triangles cover all of it once, and their edges hang together: as many as Euler's formula says
    of a connected surface with this many holes (V - E + T = 1 - holes)."""
    whole = plane(60, turn)
    found = mesh_of(np.array([whole], dtype=object), APART, 1.0)
    assert mesh.MOST_HOLES < 180
    assert shapely.area(found.triangles).sum() == pytest.approx(whole.area)
    assert shapely.union_all(found.triangles).symmetric_difference(whole).area < 1e-6
    corners = len(np.unique(np.rint(found.ends.reshape(-1, 2) * 1e6), axis=0))
    assert corners - len(found.middle) + len(found.triangles) == 1 - 180


def test_a_cut_changes_no_way(monkeypatch: pytest.MonkeyPatch) -> None:
    """A finger of 12 mm, tied 0.5 mm before it: with and without cuts in the plane."""
    sheets, tie = np.array([plane(40)], dtype=object), np.array([[159.5, 6.0]])
    ends = []
    for most in (10**6, 8):
        monkeypatch.setattr(mesh, "MOST_HOLES", most)
        found = far_ends(sheets, tie, np.zeros(1, dtype=np.int64), 10.0, 1.5)
        ends.append([one for one in found if one.end[0] > 165])
    (whole,), (cut,) = ends
    assert cut.distance == pytest.approx(whole.distance, abs=1e-6)
    assert whole.distance == pytest.approx(12.5, abs=0.1)
