"""Outlines are ready while they are asked, and afterwards only where that takes little room."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fencepost.board import prepared as module
from fencepost.board.prepared import LARGE, prepared


def shapes() -> np.ndarray:
    """A small one, a large one, and a large one that is ready already."""
    small, large, ready = (shapely.Point(x, 0).buffer(1, quad_segs=n) for x, n in ((0, 4), (5, LARGE), (9, LARGE)))
    shapely.prepare(ready)
    return np.array([small, large, ready], dtype=object)


@pytest.mark.parametrize(("kept", "after"), ((module.KEPT, [False, True, True]), (100, [False, False, True])))
def test_large_shapes_are_ready_for_as_long_as_it_lasts(
    kept: int, after: list[bool], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "KEPT", kept)
    geometry = shapes()
    with prepared(geometry):
        assert shapely.is_prepared(geometry).tolist() == [False, True, True]
    assert shapely.is_prepared(geometry).tolist() == after
