"""The scale of lines, which follows what the photo resolves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.test_curve_fitting import ring
from tests.unit.reference.samples import planned
from worker.picture.outline.curve_fitting import fit_curves
from worker.picture.outline.points.sampled_picture import LINE_SIGMA_MM, line_sigma_mm
from worker.picture.outline.polylines import MOST_MOVED, corners, smoothed_polylines
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
    ("width_px", "resolved_px", "sigma_mm"),
    [(6000, 1.0, 0.5), (6000, 4.0, 0.5), (3600, 3.0, 0.6), (1200, 1.0, 0.6), (1200, 2.0, 1.2)],
)
def test_smoothing_follows_what_is_resolved(
    width_px: int, resolved_px: float, sigma_mm: float
) -> None:
    """1.2 pixels, which the same photo has whether it was enlarged before or not."""
    assert line_sigma_mm(plan_of(width_px, resolved_px)) == pytest.approx(sigma_mm)


def test_wobble_of_a_blurred_photo_takes_no_more_curves() -> None:
    """Three times blurred, three times as coarse: what wobbles less than that is no form."""
    lines = ring(20.0, 500)
    turn = np.linspace(0, 2 * np.pi, 501)
    wavy = replace(lines, places=lines.places * (1.0 + 0.012 * np.sin(24 * turn))[:, None])
    blurred_mm = 3 * LINE_SIGMA_MM
    most_mm = MOST_MOVED * blurred_mm
    moved = smoothed_polylines(wavy, corners(wavy), most_mm).places - wavy.places
    assert np.hypot(*moved.T).max() <= most_mm * (1 + 1e-9)
    assert len(fit_curves(wavy, blurred_mm).points) < 0.6 * len(fit_curves(wavy).points)
