"""The scale of lines, which follows what the photo resolves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.test_parts import ring
from tests.unit.reference.samples import planned
from worker.picture.outline.curve_fitting import fit_curves
from worker.picture.outline.polylines import MOST_MOVED_MM, corners, smoothed_polylines
from worker.picture.outline.sampled_picture import line_sigma_mm, wobble_scale
from worker.spec.plan import Plan
from worker.spec.spec import Spec, Support


def plan_of(width_px: int, resolved_px: float) -> Plan:
    """The plan of 600 x 400 mm for a photo of this width."""
    spec = Spec(support=Support(width_mm=600, height_mm=400))
    plan = planned(spec, width_px, width_px * 2 // 3)
    resolution = plan.resolution
    resolved = replace(resolution, resolved_ppi=resolution.reference_ppi / resolved_px)
    return replace(plan, resolution=resolved)


@pytest.mark.parametrize(
    ("width_px", "resolved_px", "sigma_mm", "wobble"),
    [
        (6000, 1.0, 0.5, 1.0),
        (6000, 4.0, 0.5, 1.0),
        (3600, 3.0, 0.6, 1.2),
        (1200, 1.0, 0.6, 1.0),
        (1200, 2.0, 1.2, 2.0),
    ],
)
def test_smoothing_and_wobble_follow_what_is_resolved(
    width_px: int, resolved_px: float, sigma_mm: float, wobble: float
) -> None:
    """1.2 pixels, which the same photo has whether it was enlarged before or not."""
    plan = plan_of(width_px, resolved_px)
    assert line_sigma_mm(plan) == pytest.approx(sigma_mm)
    assert wobble_scale(plan) == pytest.approx(wobble)


def test_wobble_of_a_blurred_photo_takes_no_more_curves() -> None:
    lines = ring(20.0, 500)
    turn = np.linspace(0, 2 * np.pi, 501)
    wavy = replace(lines, places=lines.places * (1.0 + 0.012 * np.sin(24 * turn))[:, None])
    moved = smoothed_polylines(wavy, corners(wavy), 3 * MOST_MOVED_MM).places - wavy.places
    assert np.hypot(*moved.T).max() <= 3 * MOST_MOVED_MM
    assert len(fit_curves(wavy, wobble=3.0).points) < 0.6 * len(fit_curves(wavy).points)
