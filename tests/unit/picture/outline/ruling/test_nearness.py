"""What is near to each other, held to SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from worker.picture.outline.ruling.nearness import groups, within


@pytest.mark.parametrize("reach", [0.7, 3.0, 40.0])
def test_pairs_are_those_of_a_tree(reach: float) -> None:
    rng = np.random.default_rng(3)
    ones, others = rng.uniform(-20, 60, (40, 2)), rng.uniform(-20, 60, (150, 2))
    found = set(zip(*(each.tolist() for each in within(ones, others, reach)), strict=True))
    near = cKDTree(ones).query_ball_tree(cKDTree(others), reach)
    assert found == {(one, two) for one, each in enumerate(near) for two in each}


def test_nothing_is_near_to_nothing() -> None:
    nothing, some = np.zeros((0, 2)), np.zeros((3, 2))
    for ones, others in ((nothing, some), (some, nothing), (nothing, nothing)):
        assert [len(each) for each in within(ones, others, 1.0)] == [0, 0]


@given(st.lists(st.tuples(st.integers(0, 11), st.integers(0, 11)), max_size=20))
def test_what_hangs_together_is_what_a_graph_has_connected(pairs: list[tuple[int, int]]) -> None:
    one, two = np.array(pairs, np.int64).reshape(-1, 2).T
    graph = coo_array((np.ones(len(one)), (one, two)), shape=(12, 12))
    label = connected_components(graph, directed=False)[1]
    number = groups(12, one, two)
    assert np.array_equal(number[:, None] == number, label[:, None] == label)
