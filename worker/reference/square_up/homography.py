"""How a flat rectangle maps into the photo that shows it: a homography.

Places in the photo are continuous: (0, 0) is the outer corner of the first pixel, whose
centre is (0.5, 0.5).
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


def homography(corners_px: Array, size: tuple[float, float]) -> Array:
    """The map from a rectangle of `size` (width, height) into the photo.

    Both sets of corners are moved and scaled first, so that the eight equations are well
    conditioned (Hartley, "In defense of the eight-point algorithm", 1997). The last element
    may then be 1 without loss: it belongs to the rectangle's centre, which maps to where the
    diagonals cross, and that is never at infinity.

    Args:
        corners_px: (4, 2), clockwise from the top left one.
        size: Of the rectangle, in whichever unit.

    Returns:
        (3, 3), with a last element of 1: (x, y, 1) on the rectangle to homogeneous pixels.
    """
    width, height = size
    flat = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    to_flat, to_photo = _normaliser(flat), _normaliser(corners_px)
    equations, values = _equations(mapped(to_flat, flat), mapped(to_photo, corners_px))
    solved = np.append(np.linalg.solve(equations, values), 1.0).reshape(3, 3)
    found = np.linalg.inv(to_photo) @ solved @ to_flat
    return np.asarray(found / found[2, 2])


def mapped(matrix: Array, places: Array) -> Array:
    """Places (n, 2) through a homography."""
    across = np.hstack([places, np.ones((len(places), 1))]) @ matrix.T
    return np.asarray(across[:, :2] / across[:, 2:])


def _normaliser(places: Array) -> Array:
    """What moves places so that they lie around 0, on the mean the square root of 2 away."""
    centre = places.mean(axis=0)
    scale = math.sqrt(2.0) / float(np.hypot(*(places - centre).T).mean())
    x, y = (-scale * centre).tolist()
    return np.array([[scale, 0.0, x], [0.0, scale, y], [0.0, 0.0, 1.0]])


def _equations(flat: Array, photo: Array) -> tuple[Array, Array]:
    """Two for each corner, in the eight elements of the map before its last."""
    rows = []
    for (x, y), (u, v) in zip(flat.tolist(), photo.tolist(), strict=True):
        rows.append([x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y])
        rows.append([0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y])
    return np.array(rows), photo.ravel()
