"""The map from a rectangle into a photo, against OpenCV and against exact arithmetic."""

from __future__ import annotations

from fractions import Fraction

import cv2
import numpy as np
import numpy.typing as npt
import pytest

from tests.pictures.cameras import View
from worker.reference.square_up.homography import homography, mapped

Array = npt.NDArray[np.float64]
VIEWS = (
    View(),
    View(tilt_deg=(30.0, 0.0)),
    View(tilt_deg=(20.0, 25.0), roll_deg=8.0),
    View(tilt_deg=(55.0, -20.0), sheet_mm=(900.0, 300.0), focal_mm=18.0),
    View(roll_deg=40.0, photo_px=(9000, 6000)),
)
SIZE = (320, 240)


def flat(width: float, height: float) -> Array:
    return np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64)


def exact(source: Array, target: Array) -> Array:
    """The eight equations solved in fractions, by Gauss and Jordan."""
    rows = []
    for place, image in zip(source.tolist(), target.tolist(), strict=True):
        (x, y), (u, v) = (tuple(Fraction(value) for value in pair) for pair in (place, image))
        one, no = Fraction(1), Fraction(0)
        rows += [[x, y, one, no, no, no, -u * x, -u * y, u]]
        rows += [[no, no, no, x, y, one, -v * x, -v * y, v]]
    for column in range(8):
        pivot = next(row for row in range(column, 8) if rows[row][column] != 0)
        rows[column], rows[pivot] = rows[pivot], rows[column]
        rows[column] = [value / rows[column][column] for value in rows[column]]
        for row in range(8):
            factor = rows[row][column]
            if row != column and factor != 0:
                pairs = zip(rows[row], rows[column], strict=True)
                rows[row] = [value - factor * less for value, less in pairs]
    return np.array([*(float(row[8]) for row in rows), 1.0]).reshape(3, 3)


@pytest.mark.parametrize("view", VIEWS)
def test_it_is_opencvs(view: View) -> None:
    """Whole pixels: OpenCV multiplies coordinates in single precision (seen in 5.0)."""
    corners = np.round(view.corners_px())
    theirs = cv2.getPerspectiveTransform(flat(*SIZE).astype(np.float32), corners.astype(np.float32))
    assert homography(corners, SIZE) == pytest.approx(theirs, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("size", [(1.0, 1.0), (6070.0, 3573.0), (34641.0, 1732.0)])
def test_it_is_exact(view: View, size: tuple[float, float]) -> None:
    corners = view.corners_px()
    found, wanted = homography(corners, size), exact(flat(*size), corners)
    # Elements of the last row are small because sides are long; where places come to matters.
    grid = np.stack(np.meshgrid(*(np.linspace(0, side, 9) for side in size)), -1).reshape(-1, 2)
    assert np.abs(mapped(found, grid) - mapped(wanted, grid)).max() < 1e-8


@pytest.mark.parametrize("view", VIEWS)
def test_corners_come_to_corners(view: View) -> None:
    corners = view.corners_px()
    assert mapped(homography(corners, SIZE), flat(*SIZE)) == pytest.approx(corners, abs=1e-8)


def test_a_rectangle_that_lies_flat_is_only_scaled_and_moved() -> None:
    found = homography(flat(200, 100) + np.array([30.0, 40.0]), (400, 300))
    assert found == pytest.approx(np.array([[0.5, 0, 30], [0, 1 / 3, 40], [0, 0, 1]]), abs=1e-12)
