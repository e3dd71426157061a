"""Lines below noses, beside what is drawn anyway."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.contours.features.painted_faces import (
    EYES,
    WING_MM,
    frames,
    nose_line,
    painted,
)
from worker.picture.outline.contours.features.noses import noses
from worker.picture.outline.feature_lines.nose_lines import missing_noses
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import EDGE, Points


def drawn(*ends: tuple[float, float]) -> tuple[Points, Chains]:
    """Lines along that of a nose, between places across."""
    across = np.concatenate([np.zeros(0), *(np.linspace(*each, 40) for each in ends)])
    x = ((across + 75.0) / 0.25).astype(np.float32)
    y = ((nose_line(np.clip(across, -WING_MM, WING_MM)) + EYES[0][1]) / 0.25).astype(np.float32)
    nothing = np.zeros(len(x), np.float32)
    points = Points(
        key=np.arange(len(x), dtype=np.int32),
        x=x,
        y=y,
        across_x=nothing,
        across_y=nothing,
        contrast=nothing,
        chroma=nothing,
        kind=np.full(len(x), EDGE, np.uint8),
    )
    first = np.arange(len(ends) + 1) * 40
    return points, Chains(
        order=np.arange(len(x)), first=first, closed=np.zeros(len(ends), np.bool_)
    )


@pytest.mark.parametrize(
    ("ends", "missing", "stay"),
    [
        # Crumbs in the nostrils, and a fold far from it.
        (((-5, -3), (3, 5), (20, 40)), 1, [False, False, True]),
        # One line that goes on to a wing.
        (((-5, 12), (20, 40)), 0, [True, True]),
        # What only touches it.
        (((7, 40),), 1, [True]),
        ((), 1, []),
    ],
)
def test_a_nose_is_drawn_where_no_line_has_most_of_it(
    ends: tuple[tuple[float, float], ...], missing: int, stay: list[bool]
) -> None:
    found = noses(frames()[1], painted(nose=True).grey)
    points, chains = drawn(*ends)
    left, kept = missing_noses(found, points, chains)
    assert len(left) == missing
    assert kept.tolist() == stay
