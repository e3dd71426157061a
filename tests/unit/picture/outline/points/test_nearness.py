"""What is near to each other, held to SciPy."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from scipy.spatial.distance import cdist

from tests.unit.picture.outline.given_lines import PITCH_MM, along, lines_of
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.nearness import ends_met, groups, pairs_within, within

#: Where level lines begin, and how long they are, in mm.
BARS = ((1.0, 10.0, 28.0), (31.0, 20.0, 20.0), (10.0, 30.0, 1.0))


@pytest.mark.parametrize("reach", [0.7, 3.0, 40.0])
def test_pairs_are_those_of_a_tree(reach: float) -> None:
    rng = np.random.default_rng(3)
    ones, others = rng.uniform(-20, 60, (40, 2)), rng.uniform(-20, 60, (150, 2))
    found = set(zip(*(each.tolist() for each in within(ones, others, reach)), strict=True))
    near = cKDTree(ones).query_ball_tree(cKDTree(others), reach)
    assert found == {(one, two) for one, each in enumerate(near) for two in each}


@pytest.mark.parametrize("count", [0, 1, 40, 3000])
def test_pairs_of_points_are_all_that_are_near(count: int) -> None:
    random = np.random.default_rng(count)
    places = random.uniform(-20, 300, (3000, 2)).astype(np.float32)
    nothing = np.zeros(len(places), np.float32)
    points = Points(
        key=np.zeros(len(places), np.int32),
        x=places[:, 0],
        y=places[:, 1],
        across_x=nothing,
        across_y=nothing,
        contrast=nothing,
        chroma=nothing,
        kind=np.zeros(len(places), np.uint8),
    )
    ones, twos = random.permutation(len(places))[:count], random.permutation(len(places))
    one, two = pairs_within(points, ones, twos, 7.0)
    far = cdist(places[ones], places[twos])
    near = set(zip(one.tolist(), two.tolist(), strict=True))
    assert len(near) == len(one)
    # Of what is as far away as that to a millionth neither is asked for.
    assert near >= set(zip(*np.nonzero(far < 7.0 - 1e-4), strict=True))
    assert near <= set(zip(*np.nonzero(far < 7.0 + 1e-4), strict=True))


def test_what_is_too_far_is_not_held() -> None:
    """All places are in the square of the first ones or in one beside it, and few of them near."""
    random = np.random.default_rng(4)
    others = random.uniform(0, 3, (2000, 2))
    others = others[np.hypot(*(others - 1.5).T) > 1.2]
    ones = np.full((1000, 2), 1.5)
    tracemalloc.start()
    assert len(within(ones, others, 1.0)[0]) == 0
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    # Of each pair of a row the two places are held, how far apart they are, and little else.
    assert most < 25 * len(ones) * len(others)


def test_ends_that_meet_other_lines_are_counted() -> None:
    """A bar between two uprights, one that hangs on an upright, and one that meets itself alone."""
    uprights = [along((at, 0), (at, 40)) for at in (0, 30)]
    bar, hanging, alone = (along((x, y), (x + far, y)) for x, y, far in BARS)
    points, lines = lines_of(*uprights, bar, hanging, alone)
    chains, every = lines.chains, np.ones(5, np.bool_)
    reach = 2.0 / PITCH_MM
    assert ends_met(points, chains, every, reach).tolist() == [0, 0, 2, 1, 0]
    some = np.array([True, False, True, True, True])
    assert ends_met(points, chains, some, reach, on=some).tolist() == [0, 0, 1, 0, 0]
    assert ends_met(points, chains, ~every, reach).tolist() == [0] * 5


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
