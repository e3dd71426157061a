"""Neighbours of points, beside the same rule said of one pair after the other."""

from __future__ import annotations

import math

import numpy as np
import pytest

from worker.picture.outline.points.edge_points import CHROMA, DARK, EDGE, Points
from worker.picture.outline.points.linking import best_neighbours

ROWS, COLUMNS = 24, 30


def scattered(seed: int, *, kinds: tuple[int, ...]) -> Points:
    """Points on a third of all pixels, which run in any direction."""
    random = np.random.default_rng(seed)
    key = np.flatnonzero(random.random(ROWS * COLUMNS) < 0.35)
    row, column = np.divmod(key, COLUMNS)
    off = random.uniform(-0.5, 0.5, (2, len(key)))
    angle = random.uniform(0, 2 * np.pi, len(key))
    nothing = np.zeros(len(key), np.float32)
    return Points(
        key=key.astype(np.int32),
        x=(column + off[0]).astype(np.float32),
        y=(row + off[1]).astype(np.float32),
        across_x=np.cos(angle).astype(np.float32),
        across_y=np.sin(angle).astype(np.float32),
        contrast=nothing,
        chroma=nothing,
        kind=random.choice(np.array(kinds, np.uint8), len(key)),
    )


def weighed(points: Points, one: int, two: int) -> tuple[float, int, int] | None:
    """What a pair costs, and by which side each leaves for the other; none if it is no line."""
    rows, columns = np.divmod(points.key[[one, two]], COLUMNS)
    down, across = abs(int(rows[1] - rows[0])), abs(int(columns[1] - columns[0]))
    kinds = {int(points.kind[one]), int(points.kind[two])}
    if max(down, across) > 2 or (len(kinds) > 1 and DARK in kinds):
        return None
    (ax, ay), (bx, by) = (
        (float(points.across_x[at]), float(points.across_y[at])) for at in (one, two)
    )
    along = ax * bx + ay * by
    if (along if kinds == {EDGE} else abs(along)) <= 0.5:
        return None
    dx, dy = float(points.x[two] - points.x[one]), float(points.y[two] - points.y[one])
    far = math.hypot(dx, dy)
    leaves, enters = (ax * dy - ay * dx) / far, (bx * dy - by * dx) / far
    if min(abs(leaves), abs(enters)) <= 0.5:
        return None
    cost = far * (1 + 2 * (2 - abs(leaves) - abs(enters)))
    return cost, int(leaves < 0), int(enters > 0)


def expected(points: Points) -> np.ndarray:
    best: dict[tuple[int, int], tuple[float, int]] = {}
    for one in range(len(points)):
        for two in range(one + 1, len(points)):
            pair = weighed(points, one, two)
            if pair is None:
                continue
            cost, leaves, enters = pair
            for slot, other in (((one, leaves), two), ((two, enters), one)):
                best[slot] = min(best.get(slot, (math.inf, -1)), (cost, int(points.key[other])))
    found = np.full((len(points), 2), -1)
    for slot, (_, key) in best.items():
        found[slot] = key
    return found


@pytest.mark.parametrize("kinds", [(EDGE,), (DARK,), (EDGE, DARK, CHROMA)])
def test_each_side_has_the_cheapest_neighbour(kinds: tuple[int, ...]) -> None:
    points = scattered(len(kinds), kinds=kinds)
    found = best_neighbours(points, COLUMNS)
    assert (found >= 0).sum() > len(points) / 2
    assert found.tolist() == expected(points).tolist()


def test_of_two_that_cost_the_same_the_upper_is_taken() -> None:
    """A point and two others that lie mirrored about its line."""
    places = np.array([(2.0, 3.0), (4.0, 2.0), (4.0, 4.0)])
    nothing = np.zeros(3, np.float32)
    order = np.argsort(places[:, 1] * COLUMNS + places[:, 0])
    x, y = places[order].T.astype(np.float32)
    points = Points(
        key=(y * COLUMNS + x).astype(np.int32),
        x=x,
        y=y,
        across_x=nothing,
        across_y=nothing + np.float32(1),
        contrast=nothing,
        chroma=nothing,
        kind=np.zeros(3, np.uint8),
    )
    middle = int(np.flatnonzero(order == 0)[0])
    found = best_neighbours(points, COLUMNS)[middle].tolist()
    assert sorted(found) == [-1, 2 * COLUMNS + 4]


def test_no_points_have_no_neighbours() -> None:
    none = scattered(0, kinds=(EDGE,)).taken(np.zeros(0, np.int64))
    assert best_neighbours(none, COLUMNS).shape == (0, 2)
