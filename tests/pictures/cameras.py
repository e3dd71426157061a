"""A pinhole camera for tests: where the corners of a flat sheet come to lie in its photo.

The standard model (Hartley and Zisserman, "Multiple View Geometry", 2nd ed., chapter 6):
x = K [R t] X, square pixels, the optical axis through the middle of the photo.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
#: The corners of a sheet of half-size 1, top left first, clockwise; y runs down.
_CORNERS = np.array([[-1.0, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])


@dataclass(frozen=True, kw_only=True)
class View:
    """How a sheet is seen.

    Attributes:
        sheet_mm: Its width and height.
        tilt_deg: Turned about the horizontal axis, then about the upright one.
        roll_deg: Turned in the photo, clockwise.
        focal_mm: As for 36 × 24 mm, so that 26 is a phone's.
        photo_px: Width and height of the photo.
        fill: Share of the photo's width or height that the sheet's box takes.
    """

    sheet_mm: tuple[float, float] = (210.0, 297.0)
    tilt_deg: tuple[float, float] = (0.0, 0.0)
    roll_deg: float = 0.0
    focal_mm: float = 26.0
    photo_px: tuple[int, int] = (4000, 3000)
    fill: float = 0.85

    def corners_px(self) -> Array:
        """(4, 2): from the sheet's own top left corner on, clockwise as one looks at it.

        The camera goes back until the sheet fills the photo as asked; halving finds where.
        """
        near, far = 0.75 * max(self.sheet_mm), 60.0 * max(self.sheet_mm)
        for _ in range(60):
            middle = math.sqrt(near * far)
            near, far = (middle, far) if self._share(middle) > self.fill else (near, middle)
        return self._seen_from(far)

    def corners(self) -> Array:
        """The same in shares of the photo."""
        return np.asarray(self.corners_px() / self.photo_px)

    def _seen_from(self, distance_mm: float) -> Array:
        sheet = _CORNERS * np.array([*self.sheet_mm, 0.0]) / 2
        turned = sheet @ self._turn().T + [0.0, 0.0, distance_mm]
        focal_px = self.focal_mm / math.hypot(36, 24) * math.hypot(*self.photo_px)
        return np.asarray(turned[:, :2] / turned[:, 2:] * focal_px + np.array(self.photo_px) / 2)

    def _share(self, distance_mm: float) -> float:
        places = np.abs(self._seen_from(distance_mm) / self.photo_px - 0.5)
        return float(2 * places.max())

    def _turn(self) -> Array:
        about_x, about_y = (math.radians(angle) for angle in self.tilt_deg)
        turns = ((math.radians(self.roll_deg), 2), (about_x, 0), (about_y, 1))
        whole = np.eye(3)
        for angle, axis in turns:
            whole = whole @ cv2.Rodrigues(np.eye(3)[axis] * angle)[0]
        return np.asarray(whole, np.float64)
