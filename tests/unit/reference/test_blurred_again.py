"""The blur of steps that is known exactly, by the normal distribution's integral."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.special

from tests.folded import fold
from worker.reference.blurred_again import Edges, edges_of

SIDE_PX = 64
ROWS, COLUMNS = np.mgrid[0:SIDE_PX, 0:SIDE_PX] - SIDE_PX / 2 + 0.3


def step(sigma_px: float, angle_deg: float, contrast: float) -> Edges:
    """The edges of one step through the middle of a square."""
    turn = math.radians(angle_deg)
    away = COLUMNS * math.cos(turn) + ROWS * math.sin(turn)
    values = 128 + contrast * (scipy.special.ndtr(away / sigma_px) - 0.5)
    return edges_of(np.rint(values).astype(np.uint8)[None])


@fold(
    ("sigma_px", [1.0, 1.5, 2.0, 3.0]),
    ("angle_deg", [0, 20, 45, 70, 90, 135]),
    ("contrast", [200, 80]),
)
def test_a_step_tells_its_blur(sigma_px: float, angle_deg: float, contrast: float) -> None:
    edges = step(sigma_px, angle_deg, contrast)
    assert len(edges.way) > 20
    assert math.sqrt(np.median(edges.variance)) == pytest.approx(sigma_px, rel=0.05, abs=0.11)
    assert np.median(edges.variance_by_width) == pytest.approx(sigma_px**2, rel=0.25, abs=0.4)
    assert np.median(edges.contrast) == pytest.approx(contrast, rel=0.05)
    assert np.median(np.abs(edges.off_line)) < 0.03


@pytest.mark.parametrize(("angle_deg", "way"), [(0, 0), (45, 1), (90, 2), (135, 3)])
def test_a_step_has_the_direction_of_its_slope(angle_deg: float, way: int) -> None:
    assert set(step(1.0, angle_deg, 150).way.tolist()) == {way}


def test_a_thin_line_is_no_step() -> None:
    """Its slopes fall with the added variance itself, not with its root."""
    line = 200.0 * np.exp(-(COLUMNS**2) / 2.0)
    edges = edges_of(np.rint(line).astype(np.uint8)[None])
    assert len(edges.way) > 20
    assert np.abs(edges.off_line).min() > 0.03
