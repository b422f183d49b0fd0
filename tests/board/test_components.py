"""Components of a graph, against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
import scipy
from scipy.sparse import coo_array

from fencepost.board.connect import components

RNG = np.random.default_rng(3)
CHAIN = np.arange(2_000)

GRAPHS = {
    "nothing": (0, np.empty((2, 0), dtype=int)),
    "nothing joined": (5, np.empty((2, 0), dtype=int)),
    "joined to itself": (3, np.array([[1, 1], [1, 1]])),
    "a chain": (2_000, np.stack([CHAIN[:-1], CHAIN[1:]])),
    "a chain in disorder": (2_000, RNG.permutation(2_000)[np.stack([CHAIN[:-1], CHAIN[1:]])]),
    "a star": (2_000, np.stack([np.full(1_999, 1_999), CHAIN[:-1]])),
    **{f"chance, {k} joins": (3_000, RNG.integers(0, 3_000, (2, k))) for k in (500, 1_500, 3_000, 30_000)},
}


@pytest.mark.parametrize("graph", GRAPHS)
def test_components_are_those_of_scipy_in_order_of_their_first_member(graph: str) -> None:
    count, joins = GRAPHS[graph]
    found = components(count, joins)
    links = coo_array((np.ones(joins.shape[1]), (joins[0], joins[1])), shape=(count, count))
    number, expected = scipy.sparse.csgraph.connected_components(links, directed=False)
    assert len(set(zip(found.tolist(), expected.tolist(), strict=True))) == number == len(set(found.tolist()))
    _, first = np.unique(found, return_index=True)
    assert first.tolist() == sorted(first.tolist())
