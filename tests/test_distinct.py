"""Rows each once, against sorting them as rows."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fencepost.distinct import distinct_pairs, distinct_points

NUMBERS = st.lists(st.tuples(st.integers(0, 5) | st.just(2**31 - 1), st.integers(0, 5) | st.just(2**31 - 1)))
COORDINATES = st.sampled_from([-1.5, -0.0, 0.0, 0.1, 2.0, 1e9])


@given(NUMBERS)
@pytest.mark.parametrize("kind", [np.int32, np.int64])
def test_pairs_are_those_that_rows_make(kind: type, rows: list[tuple[int, int]]) -> None:
    table = np.array(rows, dtype=kind).reshape(-1, 2)
    found = distinct_pairs(*table.T)
    pairs, often = np.unique(table, axis=0, return_counts=True)
    assert found.pairs.tolist() == pairs.tolist()
    assert found.often.tolist() == often.tolist()
    assert found.pairs[found.which].tolist() == table.tolist()


@given(st.lists(st.tuples(COORDINATES, COORDINATES)))
def test_points_are_those_that_rows_make(rows: list[tuple[float, float]]) -> None:
    points = np.array(rows).reshape(-1, 2)
    assert distinct_points(points).tolist() == np.unique(points, axis=0).tolist()
