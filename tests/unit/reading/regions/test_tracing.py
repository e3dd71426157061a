"""Borders of labelled squares."""

from __future__ import annotations

import numpy as np

from worker.reading.regions.tracing import borders_of


def test_a_straight_border_runs_from_edge_to_edge_between_its_squares() -> None:
    labels = np.zeros((6, 8), np.int64)
    labels[:, 3:] = 1
    (border,) = borders_of(labels)
    assert sorted(map(tuple, border.corners.tolist())) == [(3.0, float(y)) for y in range(7)]
    assert sorted(labels.ravel()[[border.one, border.two]].tolist()) == [0, 1]


def test_a_ring_comes_back_to_where_it_begins() -> None:
    labels = np.zeros((6, 8), np.int64)
    labels[2:4, 3:6] = 1
    (ring,) = borders_of(labels)
    assert ring.corners[0].tolist() == ring.corners[-1].tolist()
    assert len(ring.corners) == 2 * (2 + 3) + 1


def test_where_three_regions_meet_three_borders_do() -> None:
    labels = np.zeros((6, 8), np.int64)
    labels[:, 4:] = 1
    labels[3:, 4:] = 2
    borders = borders_of(labels)
    assert len(borders) == 3
    assert all([4.0, 3.0] in border.corners[[0, -1]].tolist() for border in borders)


def test_every_border_lies_between_the_regions_of_its_squares() -> None:
    labels = np.random.default_rng(2).integers(0, 4, (12, 15)).repeat(2, 0).repeat(2, 1)
    borders = borders_of(labels)
    assert sum(len(border.corners) - 1 for border in borders) == sum(
        int((np.diff(labels, axis=axis) != 0).sum()) for axis in (0, 1)
    )
    for border in borders:
        assert labels.ravel()[border.one] != labels.ravel()[border.two]
        middle = border.corners[(len(border.corners) - 1) // 2]
        for square in (border.one, border.two):
            row, column = divmod(square, labels.shape[1])
            assert max(abs(column + 0.5 - middle[0]), abs(row + 0.5 - middle[1])) <= 1.5
