"""Whether a photo is sharp enough for a support, without planning it.

A board needs this for thirty photos every few seconds, most of them without a spec yet. It
assumes the largest crop of the picture's proportions, as a spec without a crop does, and
measures as a plan does: in pixels that the photo really fills.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from worker.layout.advice import COARSE_MM, blurred, resolution
from worker.spec.spec import Print
from worker.store.ledger import Json, ReferenceRow


@dataclass(frozen=True)
class Sharpness:
    """What a plan tells of a photo on its support.

    Attributes:
        finest_line_mm: The thinnest line that the photo can show there.
        blurred: Whether it was enlarged before, or is out of focus, so far that it matters there.
    """

    finest_line_mm: float
    blurred: bool

    @property
    def too_small(self) -> bool:
        """Whether a plan would warn that lines are coarse."""
        return self.finest_line_mm > COARSE_MM


def sharpness_on(photo: ReferenceRow, support: Mapping[str, float]) -> Sharpness:
    """What a plan for this support would tell."""
    border_mm = support.get("border_mm", 0.0)
    width_mm = support["width_mm"] - 2 * border_mm
    height_mm = support["height_mm"] - 2 * border_mm
    crop_width_px = min(photo.width_px, photo.height_px * width_mm / height_mm)
    found = resolution(crop_width_px, width_mm, Print(), resolved_px=photo.resolved_px)
    return Sharpness(found.finest_line_mm, blurred(photo.resolved_px, found.resolved_ppi))


def sharpness_in(plan: Json) -> Sharpness:
    """What a stored plan tells."""
    warned = any(warning["code"] == "reference-blurred" for warning in plan["warnings"])
    return Sharpness(float(plan["resolution"]["finest_line_mm"]), warned)
