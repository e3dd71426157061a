"""Paths through strips, beside all paths that there are."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from worker.reading.best_paths import best_path


@pytest.mark.parametrize("costs", [(0.7,), (0.3, 1.2), (0.9, 0.1)])
@pytest.mark.parametrize("seed", range(4))
def test_the_best_of_all_paths_is_found(seed: int, costs: tuple[float, ...]) -> None:
    worth = np.random.default_rng(seed).normal(0, 2, (4, 5)).astype(np.float32)

    def worth_along(way: tuple[int, ...]) -> float:
        steps = np.abs(np.diff(way))
        if steps.max() > len(costs):
            return -np.inf
        return float(worth[way, np.arange(5)].sum() - np.array([0.0, *costs])[steps].sum())

    best = max(map(worth_along, itertools.product(range(4), repeat=5)))
    assert worth_along(tuple(best_path(worth, costs))) == pytest.approx(best, abs=1e-5)


def test_paths_of_many_parts_are_those_of_each() -> None:
    worth = np.random.default_rng(3).normal(0, 1, (2, 4, 6, 9)).astype(np.float32)
    paths = best_path(worth, (0.3, 0.8))
    assert paths.shape == (2, 4, 9)
    for at in np.ndindex(2, 4):
        assert np.array_equal(paths[at], best_path(worth[at], (0.3, 0.8)))


def test_of_equal_paths_the_first_row_is_taken() -> None:
    assert best_path(np.zeros((5, 6)), (1.0, 2.0)).tolist() == [0] * 6


def test_where_nothing_is_worth_anything_any_more_a_path_stays() -> None:
    worth = np.random.default_rng(5).normal(0, 1, (7, 12))
    longer = np.concatenate((worth, np.zeros((7, 4))), axis=1)
    path = best_path(longer, (0.2, 0.6))
    assert np.array_equal(path[:12], best_path(worth, (0.2, 0.6)))
    assert (path[12:] == path[11]).all()
