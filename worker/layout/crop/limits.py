"""Where a crop may lie: inside the reference, also when it is turned."""

from __future__ import annotations

import math
from dataclasses import dataclass

from worker.spec.spec import Area

#: Less than this many pixels over an edge is rounding.
ROUNDING_PX = 1e-3


@dataclass(frozen=True)
class CropLimits:
    """The reference in pixels, and by how much the crop is turned."""

    width_px: int
    height_px: int
    rotate_deg: float

    def extent(self, width_px: float, height_px: float) -> tuple[float, float]:
        """Width and height of the upright box around a turned crop."""
        cosine, sine = (abs(each) for each in self.turned(1.0, 0.0))
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
        x = clamp(centre[0], box[0] * share / 2, self.width_px - box[0] * share / 2)
        y = clamp(centre[1], box[1] * share / 2, self.height_px - box[1] * share / 2)
        return Area(
            left=(x - width_px / 2) / self.width_px,
            top=(y - height_px / 2) / self.height_px,
            width=width_px / self.width_px,
            height=height_px / self.height_px,
        )

    def offset(self, centre: tuple[float, float], area: Area) -> tuple[float, float]:
        """From a crop's centre (pixels) to an area's (shares), along the turned crop's edges."""
        x = (area.left + area.width / 2) * self.width_px - centre[0]
        y = (area.top + area.height / 2) * self.height_px - centre[1]
        return self.turned(x, y)

    def turned(self, x: float, y: float) -> tuple[float, float]:
        """A vector of the reference, along the turned crop's edges."""
        turn = math.radians(self.rotate_deg)
        cosine, sine = math.cos(turn), math.sin(turn)
        return x * cosine - y * sine, x * sine + y * cosine

    def room(self, size: tuple[float, float], area: Area) -> tuple[float, float]:
        """How far an upright area may lie off the middle of a crop of this size, in pixels.

        Negative where the crop is too narrow for it. A rectangle reaches as far along the
        crop's edges as the crop does along the reference's.
        """
        box = self.extent(area.width * self.width_px, area.height * self.height_px)
        return (size[0] - box[0]) / 2, (size[1] - box[1]) / 2

    def holds(self, crop: Area, area: Area) -> bool:
        """Whether all of an upright area lies in a crop; both in shares."""
        size = (crop.width * self.width_px, crop.height * self.height_px)
        centre = (
            (crop.left + crop.width / 2) * self.width_px,
            (crop.top + crop.height / 2) * self.height_px,
        )
        offset, room = self.offset(centre, area), self.room(size, area)
        return all(abs(off) <= most + ROUNDING_PX for off, most in zip(offset, room, strict=True))


def clamp(value: float, low: float, high: float) -> float:
    """The value, no less than `low` and no more than `high`; `low` where they cross."""
    return min(max(value, low), max(low, high))
