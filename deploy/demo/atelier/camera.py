"""The camera: where it stands, and which way each pixel looks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from atelier.vectors import Floats, column, unit

_STAND = (0.035, 0.345, 1.36)
_LOOK_AT = (0.022, 0.138, 0.0)
#: Half the width of what is seen at the point looked at, metres.
_HALF_WIDTH = 0.425


@dataclass(frozen=True)
class Camera:
    """A camera with a picture of `width` × `height` pixels."""

    width: int
    height: int

    @property
    def origin(self) -> Floats:
        """Where the lens is."""
        return column(_STAND)

    @property
    def pixel(self) -> float:
        """Angle of one pixel, as width at distance 1."""
        far = float(np.linalg.norm(np.subtract(_LOOK_AT, _STAND)))
        return 2 * _HALF_WIDTH / far / self.width

    def ways(self, x: Floats, y: Floats) -> Floats:
        """Directions through places in the picture, in pixels from its top left corner."""
        ahead = unit(column(_LOOK_AT) - column(_STAND))[:, 0]
        right = np.cross(ahead, (0.0, 1.0, 0.0))
        right /= np.linalg.norm(right)
        up = np.cross(right, ahead)
        across = (x - self.width / 2) * np.float32(self.pixel)
        upward = (self.height / 2 - y) * np.float32(self.pixel)
        spread = np.stack([ahead[i] + right[i] * across + up[i] * upward for i in range(3)])
        return unit(spread.astype(np.float32))
