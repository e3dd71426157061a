"""How much both sides of a line differ."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.lines import Floats
from worker.picture.outline.points.edge_points import EDGE, Points
from worker.picture.outline.points.sides import sides_apart

CELL_PX, CELL_MM = 4, 1.0


def points_at(x_px: float, rough: int = 20) -> Points:
    """An upright line of points."""
    y = np.linspace(100, 300, rough, dtype=np.float32)
    ones, zeros = np.ones(rough, np.float32), np.zeros(rough, np.float32)
    return Points(
        key=np.arange(rough, dtype=np.int32),
        x=np.full(rough, x_px, np.float32),
        y=y,
        across_x=ones,
        across_y=zeros,
        contrast=ones,
        chroma=zeros,
        kind=np.full(rough, EDGE, np.uint8),
    )


def ground(left: float, right: float, texture: float) -> Floats:
    rough = np.random.default_rng(3).normal(0, texture, (100, 100))
    values = np.where(np.arange(100) < 50, left, right) + rough
    return values.astype(np.float32)


@pytest.mark.parametrize("texture", [0.0, 20.0])
def test_sides_differ_by_their_means_whatever_texture_they_have(texture: float) -> None:
    apart = sides_apart([ground(100, 140, texture)], points_at(200.0), CELL_PX, CELL_MM)
    assert np.mean(apart) == pytest.approx(40, abs=5)
    alike = sides_apart([ground(100, 140, texture)], points_at(100.0), CELL_PX, CELL_MM)
    assert np.mean(alike) < 5


def test_colour_counts_beside_grey() -> None:
    channels = [ground(100, 130, 0), ground(0, 40, 0)]
    apart = sides_apart(channels, points_at(200.0), CELL_PX, CELL_MM)
    assert apart == pytest.approx(50, abs=1)
