"""The detail map, against drawings whose length of line is known."""

from __future__ import annotations

import io
import math
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
import scipy.ndimage
from PIL import Image

from tests.folded import fold
from tests.unit.reference.samples import Bytes, Floats
from worker.reference.detail_map import CELL_PX, detail_levels, line_density

SIDE_PX = 512
CENTRE_PX = (256.3, 255.8)
ROWS, COLUMNS = np.mgrid[0:SIDE_PX, 0:SIDE_PX] + 0.5
#: Dark and light of drawings: strong, faint (6 % and 4 % of the range).
CONTRASTS = [(20, 235), (120, 136), (240, 250)]


def grains(deviation: float, seed: int = 0) -> Floats:
    return np.random.default_rng(seed).normal(0.0, deviation, (SIDE_PX, SIDE_PX))


def picture(values: Floats) -> Image.Image:
    return Image.fromarray(np.clip(np.rint(values), 0, 255).astype(np.uint8))


def between(dark: float, light: float, distance_px: Floats) -> Floats:
    """Dark where the distance is negative, light elsewhere, with a smooth edge of one pixel."""
    return dark + (light - dark) * np.clip(distance_px + 0.5, 0.0, 1.0)


def from_centre() -> Floats:
    return np.asarray(np.hypot(COLUMNS - CENTRE_PX[0], ROWS - CENTRE_PX[1]))


def length(density: Floats, where: Bytes | None = None) -> float:
    cells = density if where is None else density[where]
    return float(cells.sum()) * CELL_PX**2


@pytest.mark.parametrize("noise", [0.0, 1.0])
@pytest.mark.parametrize("radius_px", [20, 60, 150])
@pytest.mark.parametrize(("dark", "light"), CONTRASTS)
def test_a_disc_counts_its_circumference(
    pool: ThreadPoolExecutor, dark: int, light: int, radius_px: int, noise: float
) -> None:
    disc = picture(between(dark, light, from_centre() - radius_px) + grains(noise))
    counted = length(line_density(disc, pool))
    assert counted == pytest.approx(2 * math.pi * radius_px, rel=0.1)


@fold(
    ("noise", [0.0, 1.0]),
    ("angle_deg", [0, 10, 22.5, 35, 45, 60, 75, 90]),
    ("dark, light", CONTRASTS),
)
def test_a_straight_edge_counts_its_length_at_any_angle(
    pool: ThreadPoolExecutor, dark: int, light: int, angle_deg: float, noise: float
) -> None:
    turn = math.radians(angle_deg)
    distance = (COLUMNS - CENTRE_PX[0]) * math.cos(turn) + (ROWS - CENTRE_PX[1]) * math.sin(turn)
    density = line_density(picture(between(dark, light, distance) + grains(noise)), pool)
    places = np.arange(SIDE_PX // CELL_PX) * CELL_PX + CELL_PX / 2
    inside = np.hypot(places[np.newaxis] - CENTRE_PX[0], places[:, np.newaxis] - CENTRE_PX[1]) < 200
    assert length(density, inside) == pytest.approx(400, rel=0.1)


@pytest.mark.parametrize("width_px", [1, 2, 3, 6, 12])
def test_a_stroke_counts_its_two_edges_whatever_its_width(
    pool: ThreadPoolExecutor, width_px: float
) -> None:
    ring = between(20, 235, np.abs(from_centre() - 120) - width_px / 2)
    assert length(line_density(picture(ring), pool)) == pytest.approx(4 * math.pi * 120, rel=0.1)


@pytest.mark.parametrize("deviation", [0.5, 2, 8, 16])
@pytest.mark.parametrize("spread_px", [0.0, 0.5, 0.8, 1.2])
def test_grain_is_no_line(pool: ThreadPoolExecutor, deviation: float, spread_px: float) -> None:
    grain = scipy.ndimage.gaussian_filter(grains(1.0), spread_px)
    strength = min(deviation, 6.0) if spread_px else deviation
    blank = picture(128 + grain / grain.std() * strength)
    # A photograph of something has some 0.1.
    assert line_density(blank, pool).mean() < 0.003


def test_a_slope_with_grain_is_no_line(pool: ThreadPoolExecutor) -> None:
    slope = np.clip(COLUMNS - 128, 0, 255) * 0.9
    inner = line_density(picture(slope + grains(2.0)), pool)[:, 40:88]
    assert inner.mean() < 0.003


@pytest.mark.parametrize("quality", [50, 75, 90])
def test_compression_is_no_line(pool: ThreadPoolExecutor, quality: int) -> None:
    file = io.BytesIO()
    disc = picture(between(20, 235, from_centre() - 150) + 10 * np.sin(COLUMNS / 60))
    disc.save(file, "JPEG", quality=quality)
    counted = length(line_density(Image.open(file), pool))
    assert counted == pytest.approx(2 * math.pi * 150, rel=0.1)


def test_grain_hides_no_line_that_stands_out_from_it(pool: ThreadPoolExecutor) -> None:
    disc = picture(between(110, 145, from_centre() - 100) + grains(4.0))
    assert length(line_density(disc, pool)) == pytest.approx(2 * math.pi * 100, rel=0.1)


def test_levels_are_octaves_over_the_whole_reference(pool: ThreadPoolExecutor) -> None:
    # 3001 x 1999 in twos is 1500.5 x 999.5: cells must still span it all.
    grey = Image.fromarray(np.tile(np.uint8([[0], [255]]).repeat(50, 0), (10, 1501))).crop(
        (0, 0, 1501, 1000)
    )
    levels = detail_levels(grey, (3001, 1999), 2, pool)
    assert [level.pixel_size_px for level in levels] == [2, 4, 8]
    for level in levels:
        rows, columns = level.density.shape
        assert rows == round(1999 / level.pixel_size_px / CELL_PX)
        assert columns == round(3001 / level.pixel_size_px / CELL_PX)
        across = level.density.sum(axis=0)
        # 19 edges cross each column of the reference.
        assert across[5:-5] * CELL_PX == pytest.approx(np.full(columns - 10, 19), rel=0.1)


def test_a_tiny_picture_has_a_level_too(pool: ThreadPoolExecutor) -> None:
    (level,) = detail_levels(Image.new("L", (16, 17), "white"), (16, 17), 1, pool)
    assert level.density.shape == (4, 4)
    assert not level.density.any()
