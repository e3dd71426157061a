"""Length of line counted in a reading, against lines whose length is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from PIL import Image

from tests.pictures.known_lines import HEIGHT_MM, WIDTH_MM, drawing, spoilt
from worker.reading.read import read_picture
from worker.spec.contour_line import CELL_PX, ContourLine, contour_line, edge_length
from worker.spec.reading import NOTHING_READ, Reading

SIDE_PX = 400
ROWS, COLUMNS = np.mgrid[0:SIDE_PX, 0:SIDE_PX] + 0.5
CENTRE_PX = (200.3, 199.8)


def ridge(distance_px: np.ndarray, half_px: float, height: float = 1.0) -> np.ndarray:
    """A ridge as networks draw them: flat on the line, soft at its sides."""
    likely = height * np.clip((half_px + 1.5 - np.abs(distance_px)) / 3, 0, 1)
    return np.rint(likely * 255).astype(np.uint8)


def counted(
    contour: np.ndarray, outer: int = 255, mark: int = 0, sure: int = 255
) -> tuple[ContourLine, float]:
    maps = {
        name: np.full(contour.shape, value, np.uint8)
        for name, value in (("outer", outer), ("mark", mark), ("shadow", 0), ("sure", sure))
    }
    found = contour_line(Reading(contour=contour, **maps))
    return found, length(found.contours)


def length(density: np.ndarray) -> float:
    return float(density.sum()) * CELL_PX**2


@pytest.mark.parametrize("half_px", [1.5, 3.0, 5.0])
@pytest.mark.parametrize("radius_px", [30, 80, 150])
def test_a_ring_counts_its_circumference_however_wide_its_ridge(
    radius_px: int, half_px: float
) -> None:
    away = np.hypot(COLUMNS - CENTRE_PX[0], ROWS - CENTRE_PX[1])
    _, found = counted(ridge(away - radius_px, half_px))
    assert found == pytest.approx(2 * math.pi * radius_px, rel=0.05)


@pytest.mark.parametrize("angle_deg", [0, 10, 22.5, 35, 45, 60, 75, 90])
def test_a_straight_line_counts_its_length_at_any_angle(angle_deg: float) -> None:
    turn = math.radians(angle_deg)
    x, y = COLUMNS - CENTRE_PX[0], ROWS - CENTRE_PX[1]
    beside = x * math.cos(turn) + y * math.sin(turn)
    found, _ = counted(ridge(beside, 3.0))
    places = np.arange(SIDE_PX // CELL_PX) * CELL_PX + CELL_PX / 2
    inside = np.hypot(places[None] - CENTRE_PX[0], places[:, None] - CENTRE_PX[1]) < 150
    assert length(found.contours[inside]) == pytest.approx(300, rel=0.08)


@pytest.mark.parametrize(("seed", "noise"), [(0, 0.0), (1, 4.0)])
def test_the_line_of_drawings_is_counted_in_their_reading(seed: int, noise: float) -> None:
    """Shapes and strokes of many contrasts; a stroke is one line, not its two edges."""
    known = drawing(seed)
    grey = Image.fromarray(spoilt(known.grey, noise, 85 if noise else None))
    reading = read_picture(grey, (0, 0, grey.width, grey.height))
    mm_per_px = WIDTH_MM / reading.contour.shape[1]
    assert HEIGHT_MM / reading.contour.shape[0] == pytest.approx(mm_per_px, rel=0.01)
    # Places lie 0.1 mm apart.
    found = length(contour_line(reading).contours) * mm_per_px
    assert found == pytest.approx(len(known.lines) * 0.1, rel=0.15)


def test_what_is_unlikely_is_no_line_and_what_is_less_sure_no_outline() -> None:
    unlikely, likely, certain = (
        counted(ridge(COLUMNS - 200, 3.0, height))[0] for height in (0.25, 0.7, 1.0)
    )
    assert not unlikely.contours.any()
    assert 0 < length(likely.outlines) < 0.4 * length(likely.contours)
    assert length(certain.outlines) == pytest.approx(length(certain.contours), rel=0.05)


def test_outer_contours_matter_more_than_inner_ones_and_marks_less() -> None:
    line = ridge(COLUMNS - 200, 3.0)
    outer, inner, mark = (counted(line, *kind)[0] for kind in ((255, 0), (0, 0), (0, 255)))
    lengths = [length(one.contours) for one in (outer, inner, mark)]
    assert lengths[0] == lengths[1] == lengths[2]
    worth = [length(one.contours * one.worth) for one in (outer, inner, mark)]
    assert worth[0] > worth[1] > worth[2] > 0
    # Turned down to the great forms, only outer ones are left.
    assert length(inner.outlines) == 0


def test_nothing_read_is_known_as_such() -> None:
    assert not contour_line(NOTHING_READ).known
    assert counted(ridge(COLUMNS - 200, 3.0))[0].known
    assert contour_line(NOTHING_READ).contours.shape == (1, 1)


def test_an_odd_number_of_pixels_is_covered() -> None:
    odd, _ = counted(ridge(COLUMNS - 200, 3.0)[:399, :397])
    assert odd.contours.shape == (200, 199)


def test_an_edge_counts_once() -> None:
    disc = np.hypot(COLUMNS - CENTRE_PX[0], ROWS - CENTRE_PX[1]) < 120
    found = float(edge_length(disc.astype(np.int16)).sum())
    assert found == pytest.approx(2 * math.pi * 120, rel=0.05)
