"""Small vector arithmetic over many points at once.

Points and directions are float32 arrays of shape (3, N), one row per axis, because numpy
runs over contiguous rows fastest. x points right, y up, z towards the camera; lengths are
metres.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

#: Single precision throughout; numpy's own types do not follow that through every sum.
Floats = npt.NDArray[np.floating[Any]]
Ints = npt.NDArray[np.intp]
Mask = npt.NDArray[np.bool_]


def column(values: Sequence[float]) -> Floats:
    """One vector as a (3, 1) column that broadcasts over points."""
    return np.asarray(values, dtype=np.float32).reshape(3, 1)


def dot(a: Floats, b: Floats) -> Floats:
    """Scalar product point by point."""
    return np.asarray(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


def length(a: Floats) -> Floats:
    """Euclidean length point by point."""
    return np.sqrt(dot(a, a))


def unit(a: Floats) -> Floats:
    """The same directions with length one."""
    return np.asarray(a / np.maximum(length(a), np.float32(1e-12)))


def smoothstep(low: float, high: float, x: Floats) -> Floats:
    """0 below `low`, 1 above `high`, a smooth cubic between."""
    t = np.clip((x - low) / (high - low), 0, 1)
    return np.asarray(t * t * (3 - 2 * t))


def smooth_max(a: Floats, b: Floats, width: float) -> Floats:
    """The larger of both with the corner rounded over `width` (polynomial blend)."""
    h = np.maximum(width - np.abs(a - b), 0)
    return np.asarray(np.maximum(a, b) + h * h * (0.25 / width))


def smooth_min(a: Floats, b: Floats, width: float) -> Floats:
    """The smaller of both with the corner filled over `width`."""
    return -smooth_max(-a, -b, width)


def rotation(turn_deg: float, tilt_deg: float = 0.0, roll_deg: float = 0.0) -> Floats:
    """Matrix that rolls about z, then tilts about x, then turns about y."""
    ay, ax, az = np.radians([turn_deg, tilt_deg, roll_deg])
    about_y = [[np.cos(ay), 0, np.sin(ay)], [0, 1, 0], [-np.sin(ay), 0, np.cos(ay)]]
    about_x = [[1, 0, 0], [0, np.cos(ax), -np.sin(ax)], [0, np.sin(ax), np.cos(ax)]]
    about_z = [[np.cos(az), -np.sin(az), 0], [np.sin(az), np.cos(az), 0], [0, 0, 1]]
    turned = np.array(about_y) @ np.array(about_x) @ np.array(about_z)
    return turned.astype(np.float32)


def axes_along(direction: Sequence[float], up: Sequence[float]) -> Floats:
    """Rotation whose y axis lies along `direction`, with x across `up`."""
    y = np.asarray(direction, dtype=np.float64)
    y /= np.linalg.norm(y)
    x = np.cross(y, np.asarray(up, dtype=np.float64))
    x /= np.linalg.norm(x)
    return np.stack([x, y, np.cross(x, y)], axis=1).astype(np.float32)


def mix(a: Floats, b: Floats, share: Floats | float) -> Floats:
    """`a` where `share` is 0, `b` where it is 1."""
    return np.asarray(a + (b - a) * share, dtype=np.float32)
