"""Which edges are followed from afar."""

from __future__ import annotations

import numpy as np
import pytest

from worker.picture.outline.contours.edge_following import RULED_REACH, reach_of
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
