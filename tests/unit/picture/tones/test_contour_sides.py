"""Thresholds: where contours would be swallowed, tones part; elsewhere they are Otsu's."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.tones.contour_sides import contours_lost
from worker.picture.tones.otsu import multi_otsu

Bytes = npt.NDArray[np.uint8]


def scene() -> tuple[Bytes, Bytes]:
    """A light wall in two greys, and in the dark a vessel of 40 on 12; and its contour."""
    grey = np.full((300, 450), 200, np.uint8)
    grey[:, 250:] = 235
    grey[150:, :200] = 12
    grey[180:260, 50:150] = 40
    contour = np.zeros(grey.shape, np.uint8)
    contour[178:262, 48:152] = 255
    contour[182:258, 52:148] = 0
    return grey, contour


def test_a_contour_in_the_dark_gets_a_threshold() -> None:
    grey, contour = scene()
    histogram = np.bincount(grey.ravel(), minlength=256)
    lost = contours_lost(grey.astype(np.uint16) * 256, contour)
    plain, weighed = multi_otsu(histogram, 3), multi_otsu(histogram, 3, lost)
    assert not any(12 <= each < 40 for each in plain)
    assert any(12 <= each < 40 for each in weighed)


def test_without_contours_nothing_is_lost() -> None:
    grey, contour = scene()
    assert contours_lost(grey.astype(np.uint16) * 256, np.zeros_like(contour)) is None
    flat = np.full(grey.shape, 90 * 256, np.uint16)
    assert contours_lost(flat, contour) is None


def test_a_class_loses_what_lies_in_it_whole() -> None:
    grey, contour = scene()
    lost = contours_lost(grey.astype(np.uint16) * 256, contour)
    assert lost is not None
    assert lost[0, 12] == lost[40, 256] == 0.0
    assert lost[0, 256] == lost[0, 100] > 0.0
    # A threshold between the sides, clear of either, loses nothing.
    assert lost[0, 27] == lost[27, 256] == 0.0
