"""Whether a photo is sharp enough for a support, without planning it.

A board needs this for thirty photos every few seconds, most of them without a spec yet. It
assumes the largest crop of the picture's proportions, as a spec without a crop does, and
measures as a plan does.
"""

from __future__ import annotations

from collections.abc import Mapping

from worker.layout.advice import COARSE_MM, resolution
from worker.spec.spec import Print


def finest_line_mm(width_px: int, height_px: int, support: Mapping[str, float]) -> float:
    """The thinnest line that the photo can show on this support, in mm."""
    border_mm = support.get("border_mm", 0.0)
    width_mm = support["width_mm"] - 2 * border_mm
    height_mm = support["height_mm"] - 2 * border_mm
    crop_width_px = min(width_px, height_px * width_mm / height_mm)
    return resolution(crop_width_px, width_mm, Print()).finest_line_mm


def too_small(finest_mm: float) -> bool:
    """Whether a plan would warn that lines are coarse."""
    return finest_mm > COARSE_MM
