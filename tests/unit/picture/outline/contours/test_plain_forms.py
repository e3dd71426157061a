"""Lettering and stripes, painted for it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt, gaussian_filter

from tests.unit.picture.outline.contours.test_contour_lines import (
    FINER,
    MAP,
    Bytes,
    drawn,
    places_of_grid,
    reading,
    sampled,
)

#: Letters of strokes 2 mm wide, 12 mm high, on two rows; in mm.
LEFTS, TOPS, HIGH, WIDE, STROKE = (30, 42, 54, 66, 78, 90, 102), (30, 50), 12.0, 8.0, 2.0


def letters(stroke: float = STROKE, tops: tuple[float, ...] = TOPS) -> np.ndarray:
    """Whether a place of the grid is of an H or an E."""
    x, y = places_of_grid()
    ink = np.zeros(x.shape, bool)
    for top in tops:
        for number, left in enumerate(LEFTS):
            box = (x >= left) & (x < left + WIDE) & (y >= top) & (y < top + HIGH)
            stem, other = x < left + stroke, x >= left + WIDE - stroke
            middle = np.abs(y - top - HIGH / 2) < stroke / 2
            ends = (y < top + stroke) | (y >= top + HIGH - stroke)
            ink |= box & (stem | middle | (ends if number % 2 else other))
    return ink


def printed(ink: np.ndarray) -> Bytes:
    grey = gaussian_filter(np.where(ink, 40.0, 220.0), 1.5)
    return np.rint(grey).astype(np.uint8)


def as_one_band(ink: np.ndarray) -> Bytes:
    """What a coarse map has of them: one band on each stroke, none on its edges."""
    share = gaussian_filter(ink.astype(float), 4.0)[::FINER, ::FINER]
    return np.rint(255 * np.clip(2 * share, 0, 1)).astype(np.uint8)[: MAP[0], : MAP[1]]


def off_outline(ink: np.ndarray) -> np.ndarray:
    """How far places of the letters' outline are from the next line drawn, in mm."""
    lines = sampled(drawn(printed(ink), reading(as_one_band(ink))), 0.2)
    edge = distance_transform_edt(ink) == 1
    y, x = np.nonzero(edge)
    outline = np.stack(((x + 0.5) * 0.25, (y + 0.5) * 0.25), axis=1)
    return np.array([np.hypot(*(lines - place).T).min() for place in outline[::7]])


def test_letters_are_drawn_by_their_edges_where_a_map_has_one_band() -> None:
    assert (off_outline(letters()) < 0.6).mean() > 0.9


@pytest.mark.parametrize("tops", [TOPS, (40.0,)])
@pytest.mark.parametrize("stroke", [1.1, 1.25, 1.5])
def test_strokes_about_as_wide_as_the_smoothing_have_two_sides(
    stroke: float, tops: tuple[float, ...]
) -> None:
    """No stroke is drawn by its sides in one part and by its middle in the next."""
    assert (off_outline(letters(stroke, tops)) < 0.35).mean() > 0.9


@pytest.mark.parametrize("levels", [0.0, 25.0])
def test_texture_as_strong_as_letters_is_none(levels: float) -> None:
    """With letters alone the map is not heard; on a rough ground it is, and nothing is read."""
    ink = letters()
    rough = np.random.default_rng(3).normal(0, levels, ink.shape)
    grey = np.clip(printed(ink) + gaussian_filter(rough, 1.5) * 4, 0, 255)
    strokes = drawn(np.rint(grey).astype(np.uint8), reading(np.zeros(MAP, np.uint8)))
    length_mm = float(strokes.length_mm.sum())
    assert (length_mm > 500) == (levels == 0)
