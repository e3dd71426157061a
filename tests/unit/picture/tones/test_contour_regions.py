"""Regions: parted by closed contours, also over gaps, and by nothing else."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from worker.picture.tones.contour_regions import contour_regions

Bytes = npt.NDArray[np.uint8]


def ring(*, gap_px: int = 0) -> Bytes:
    """A contour 4 pixels wide around a disc of 80 pixels' radius, open at its right."""
    y, x = np.mgrid[0:400, 0:600]
    far = np.hypot(x - 300, y - 200)
    contour = (np.abs(far - 80) < 2) * np.uint8(255)
    contour[200 - gap_px // 2 : 200 + (gap_px + 1) // 2, 300:] = 0
    return contour.astype(np.uint8)


@pytest.mark.parametrize("gap_px", [0, 3])
def test_a_contour_parts_also_where_it_has_a_small_gap(gap_px: int) -> None:
    regions = contour_regions(ring(gap_px=gap_px), 100.0)
    assert regions.max() == 1
    y, x = np.mgrid[0:400, 0:600]
    far = np.hypot(x - 300, y - 200)
    assert len(np.unique(regions[far < 76])) == len(np.unique(regions[far > 84])) == 1
    assert regions[200, 300] != regions[0, 0]


def test_a_contour_that_is_open_parts_nothing() -> None:
    assert contour_regions(ring(gap_px=60), 100.0).max() == 0


def test_neither_nothing_nor_faint_traces_part() -> None:
    assert contour_regions(np.zeros((40, 60), np.uint8), 10.0).max() == 0
    assert contour_regions(ring() // 4, 100.0).max() == 0
    assert contour_regions(np.full((40, 60), 255, np.uint8), 10.0).max() == 0


def test_a_region_too_small_is_none() -> None:
    assert contour_regions(ring(), 30_000.0).max() == 0
