"""The picture as coarsely as a form of some size needs it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PIL import Image

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.sampled_picture import Bytes
from worker.reading.planes import between_pixels


@dataclass(frozen=True, kw_only=True, eq=False)
class SeenPicture:
    """Grey of a picture or of a part of it.

    Attributes:
        grey: (rows, columns).
        coarser: Pixels of the grid in one of it.
        start: Where it begins on the grid, across and down.
    """

    grey: Floats
    coarser: int
    start: Doubles

    def at(self, places: Doubles) -> Floats:
        """Levels at places of the grid, (..., 2)."""
        own = (places - self.start + 0.5) / self.coarser - 0.5
        return between_pixels(self.grey, *np.moveaxis(own, -1, 0).astype(np.float32))


def seen_picture(grey: Bytes, pixel: float) -> SeenPicture:
    """A picture with pixels of so many of the grid, rounded down."""
    return seen_around(grey, np.array(grey.shape[::-1]) / 2, float(max(grey.shape)), pixel)


def seen_around(grey: Bytes, middle: Doubles, far: float, pixel: float) -> SeenPicture:
    """The same of what is within so much of a place, across and down."""
    coarser = max(int(pixel), 1)
    low = np.maximum(np.floor(middle - far), 0).astype(np.int64)
    high = np.maximum(np.ceil(middle + far).astype(np.int64), low + coarser)
    part = Image.fromarray(grey[low[1] : high[1], low[0] : high[0]])
    reduced = np.asarray(part.reduce(coarser), np.float32)
    return SeenPicture(grey=reduced, coarser=coarser, start=low.astype(np.float64))


def ways(count: int) -> Doubles:
    """Unit vectors all round, from the top on: (count, 2)."""
    angles = np.linspace(0, 2 * np.pi, count, endpoint=False) - np.pi / 2
    return np.stack((np.cos(angles), np.sin(angles)), axis=1)
