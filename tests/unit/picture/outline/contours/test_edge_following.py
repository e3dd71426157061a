"""Which edges are followed from afar."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from worker.picture.outline.contours.edge_following import (
    RULED_REACH,
    Beside,
    edges_beside,
    reach_of,
    within_reach,
)
from worker.picture.outline.contours.ridge_places import Places
from worker.picture.outline.points.chains import chains_of
from worker.picture.outline.points.edge_points import EDGE, Points

PITCH_MM = 0.25


def linked(x: np.ndarray, y: np.ndarray, levels: float) -> tuple[Points, np.ndarray]:
    """Points of one edge in order, and their links."""
    at, flat = np.arange(len(x)), np.zeros(len(x), np.float32)
    points = Points(
        key=at.astype(np.int32),
        x=x.astype(np.float32),
        y=y.astype(np.float32),
        across_x=flat,
        across_y=flat + 1,
        contrast=flat + np.float32(levels),
        chroma=flat,
        kind=np.full(len(x), EDGE, np.uint8),
    )
    after = np.where(at < len(x) - 1, at + 1, -1)
    return points, np.stack((at - 1, after), axis=1).astype(np.int32)


def furthest(x: np.ndarray, y: np.ndarray, levels: float = 90.0) -> float:
    points, link = linked(x, y, levels)
    return float(reach_of(points, chains_of(link), PITCH_MM)[10:-10].max())


def test_plain_and_straight_edges_reach_further() -> None:
    along = np.arange(0, 80.0)
    assert furthest(along, 0.3 * along) == pytest.approx(RULED_REACH)
    assert furthest(along, 0.3 * along, levels=30.0) == 1
    assert furthest(along, 3 * np.sin(along / 3)) == 1
    angle = along / 10
    assert furthest(10 * np.cos(angle), 10 * np.sin(angle)) == 1


def followed_from(*offsets: float) -> list[float]:
    """Of edges so far across one place, those that are followed, all straight and plain."""
    count = len(offsets)
    beside = Beside(
        place=np.zeros(count, np.int64),
        point=np.arange(count),
        offset=np.array(offsets, np.float32),
    )
    further = np.full(count, RULED_REACH, np.float32)
    return [float(each) for each in within_reach(beside, np.array([4.0]), further).offset]


def test_what_lies_between_both_edges_of_a_bar_follows_neither() -> None:
    assert followed_from(3.0, -5.0) == [3.0, -5.0]
    assert followed_from(5.0) == [5.0]
    assert followed_from(5.0, -5.0) == []
    assert followed_from(7.0, -5.0) == [-5.0]


def test_each_point_beside_a_place_is_named_once() -> None:
    """A long slanting edge beside a level ridge: one point for each place, and where it is."""
    columns = np.arange(40_000)
    points, _ = linked(columns.astype(float), 4 + 8 * columns / len(columns), 90.0)
    row = np.rint(points.y).astype(np.int32)
    points = replace(points, key=row * np.int32(len(columns)) + columns.astype(np.int32))
    flat = np.zeros(len(columns), np.float32)
    places = Places(
        x=columns.astype(np.float32),
        y=flat + 8,
        nx=flat,
        ny=flat + 1,
        line=np.zeros(len(columns), np.int64),
        closes=flat > 0,
    )
    near = np.flatnonzero(np.abs(points.y - 8) <= 3)
    with ThreadPoolExecutor(2) as pool:
        for threads in (None, pool):
            beside = edges_beside(places, points, (17, len(columns)), 3.0, threads)
            assert np.array_equal(beside.place, near)
            assert np.array_equal(beside.point, near)
            assert beside.offset == pytest.approx(points.y[near] - 8)
