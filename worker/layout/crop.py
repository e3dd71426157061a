"""Which part of the reference fills the picture.

The resolved crop has exactly the picture's proportions and stays within the reference, also
when it is turned. One that was given may be 1 % off the proportions and is then trimmed; more
is an error that says what would fit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from worker.errors import CropOutside, CropProportions
from worker.spec.spec import Area, Focus, Spec

#: A crop given by hand may differ this much from the picture's proportions; it is then
#: trimmed to them. More is a mistake, and said.
PROPORTIONS_TOLERANCE = 0.01
#: Half a pixel beyond the edge is a rounding of the caller's.
_SLACK_PX = 0.5


@dataclass(frozen=True)
class _CropLimits:
    """The reference in pixels, and by how much the crop is turned."""

    width_px: int
    height_px: int
    rotate_deg: float

    def extent(self, width_px: float, height_px: float) -> tuple[float, float]:
        """Width and height of the upright box around a turned crop."""
        turn = math.radians(self.rotate_deg)
        cosine, sine = abs(math.cos(turn)), abs(math.sin(turn))
        return width_px * cosine + height_px * sine, width_px * sine + height_px * cosine

    def largest(self, proportion: float) -> tuple[float, float]:
        """Width and height in pixels of the largest crop; proportion is width / height."""
        box_width, box_height = self.extent(proportion, 1.0)
        height_px = min(self.width_px / box_width, self.height_px / box_height)
        return height_px * proportion, height_px

    def moved_inside(self, centre: tuple[float, float], size: tuple[float, float]) -> Area:
        """A crop in pixels, moved and if need be shrunk into the reference, as shares of it."""
        box = self.extent(*size)
        share = min(1.0, self.width_px / box[0], self.height_px / box[1])
        width_px, height_px = size[0] * share, size[1] * share
        x = _clamp(centre[0], box[0] * share / 2, self.width_px - box[0] * share / 2)
        y = _clamp(centre[1], box[1] * share / 2, self.height_px - box[1] * share / 2)
        return Area(
            left=(x - width_px / 2) / self.width_px,
            top=(y - height_px / 2) / self.height_px,
            width=width_px / self.width_px,
            height=height_px / self.height_px,
        )


def resolve_crop(spec: Spec, width_px: int, height_px: int) -> Area:
    """The crop in shares of the upright reference, of the picture's exact proportions.

    With `rotate_deg` the area is the crop before it is turned about its own centre; its
    turned corners lie inside the reference.

    Raises:
        CropProportions: An explicit crop differs by more than 1 % from the picture.
        CropOutside: An explicit crop, turned, reaches beyond the reference.
    """
    limits = _CropLimits(width_px, height_px, spec.rotate_deg)
    proportion = spec.support.picture_width_mm / spec.support.picture_height_mm
    if isinstance(spec.crop, Area):
        return _explicit(limits, spec.crop, proportion)
    focus = spec.crop or Focus(x=0.5, y=0.5)
    size = limits.largest(proportion)
    return limits.moved_inside((focus.x * width_px, focus.y * height_px), size)


def _clamp(value: float, low: float, high: float) -> float:
    return min(max(value, low), max(low, high))


def _explicit(limits: _CropLimits, crop: Area, proportion: float) -> Area:
    asked_px = (crop.width * limits.width_px, crop.height * limits.height_px)
    asked = asked_px[0] / asked_px[1]
    if abs(asked / proportion - 1.0) > PROPORTIONS_TOLERANCE:
        fitting = asked_px[0] / proportion / limits.height_px
        message = (
            f"The crop is {asked:.3f} times as wide as high, the picture {proportion:.3f} times. "
            f"With this width the height would be {fitting:.4f}; "
            "or give a focus point and let the crop be found."
        )
        raise CropProportions(message, field="crop")
    width_px = min(asked_px[0], asked_px[1] * proportion)
    size = (width_px, width_px / proportion)
    centre = (
        (crop.left + crop.width / 2) * limits.width_px,
        (crop.top + crop.height / 2) * limits.height_px,
    )
    _check_inside(limits, centre, size)
    return limits.moved_inside(centre, size)


def _check_inside(
    limits: _CropLimits, centre: tuple[float, float], size: tuple[float, float]
) -> None:
    box = limits.extent(*size)
    over_px = max(
        box[0] / 2 - centre[0],
        box[1] / 2 - centre[1],
        centre[0] + box[0] / 2 - limits.width_px,
        centre[1] + box[1] / 2 - limits.height_px,
    )
    if over_px > _SLACK_PX:
        message = (
            f"The crop reaches {over_px:.0f} pixels beyond the photo"
            + (f" when it is turned by {limits.rotate_deg:g}°" if limits.rotate_deg else "")
            + ". Make it smaller or move it inward."
        )
        raise CropOutside(message, field="crop")
