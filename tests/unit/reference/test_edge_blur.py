"""What a photo resolves, on photographs that were enlarged and blurred by known amounts.

The method is Zhuo and Sim's ("Defocus map estimation from a single image", Pattern Recognition
44, 2011). An enlarged photo resolves pixels as wide as it was enlarged. For blur, pixels are those
at whose highest frequency half of the contrast is left, MTF50 (common practice, after ISO 12233):
the transfer function of a Gaussian is exp(-2 (pi sigma f)^2), so they are 2.67 sigma wide.
"""

from __future__ import annotations

import functools
import io
import math
from pathlib import Path

import numpy as np
import pytest
import scipy.ndimage
import skimage.data
from PIL import Image

from tests.folded import fold
from tests.pictures.photographs import photograph
from tests.unit.reference.samples import Floats, saved, taken_unread
from worker.reference.edge_blur import resolved_px, steepest_cells
from worker.reference.master import tiles_over
from worker.reference.study_file import load_study

#: Width of the pixel with half its contrast at its highest frequency, 1 / (2 f), for sigma 1.
MTF50_PX = math.pi / math.sqrt(2 * math.log(2))
SHARP = [
    *("astronaut", "camera", "cat", "china", "coffee", "coins", "flower", "moon", "rocket"),
    *("page", "text"),
]
#: Photographs with edges in all directions, neither sharpened nor grainy.
WELL_DEFINED = ["astronaut", "camera", "cat", "coffee"]
BICUBIC, LANCZOS = Image.Resampling.BICUBIC, Image.Resampling.LANCZOS


@functools.cache
def photo(name: str) -> Image.Image:
    return Image.fromarray(photograph(name)).convert("L")


def picture(values: Floats) -> Image.Image:
    return Image.fromarray(np.clip(np.rint(values), 0, 255).astype(np.uint8))


def blurred(grey: Image.Image, sigma_px: float) -> Image.Image:
    return picture(scipy.ndimage.gaussian_filter(np.asarray(grey, np.float64), sigma_px))


def moved(grey: Image.Image, length_px: float, angle_deg: float) -> Image.Image:
    """Mean of many places on a straight way, as while a shutter is open."""
    ways = np.linspace(-length_px / 2, length_px / 2, 4 * round(length_px))
    turn, values = math.radians(angle_deg), np.asarray(grey, np.float64)
    places = [(way * math.sin(turn), way * math.cos(turn)) for way in ways]
    each = [scipy.ndimage.shift(values, place, order=1, mode="nearest") for place in places]
    return picture(np.mean(each, axis=0))


def grainy(grey: Image.Image, deviation: float) -> Image.Image:
    grain = np.random.default_rng(1).normal(0.0, deviation, (grey.height, grey.width))
    return picture(np.asarray(grey) + grain)


def compressed(grey: Image.Image, quality: int) -> Image.Image:
    return Image.open(io.BytesIO(saved(grey, "JPEG", quality=quality)))


def enlarged(grey: Image.Image, times: float, how: Image.Resampling = BICUBIC) -> Image.Image:
    return grey.resize((round(grey.width * times), round(grey.height * times)), how)


def resolved(grey: Image.Image) -> float:
    whole = (0, 0, *grey.size)
    return resolved_px(
        [steepest_cells(grey.crop(tile.box_px)) for tile in tiles_over(whole, grey.size)], grey, 1
    )


@fold(("name", SHARP))
def test_a_sharp_photo_resolves_its_own_pixels(name: str) -> None:
    """Drawings and scans too; with grain, and compressed as strongly as is usual."""
    sharp = photo(name)
    for each in (sharp, grainy(sharp, 8), grainy(sharp, 16), compressed(sharp, 50)):
        assert resolved(each) == 1.0


@fold(
    ("name", WELL_DEFINED),
    ("times", [3, 4]),
    ("how, quality", [(BICUBIC, 60), (BICUBIC, 75), (LANCZOS, 90)]),
)
def test_an_enlarged_photo_resolves_what_it_was(
    name: str, times: int, how: Image.Resampling, quality: int
) -> None:
    found = resolved(compressed(enlarged(photo(name), times, how), quality))
    assert 0.65 * times < found < 1.25 * times


@fold(("name", ["astronaut", "camera", "coffee"]), ("deviation", [4, 8]))
def test_grain_on_an_enlarged_photo_changes_little(name: str, deviation: float) -> None:
    assert 2.0 < resolved(grainy(enlarged(photo(name), 3), deviation)) < 3.3


@fold(("name", SHARP), ("times", [1.5, 2]), ("how", [BICUBIC, LANCZOS]))
def test_what_was_enlarged_a_little_is_not_taken_for_less_than_it_is(
    name: str, times: float, how: Image.Resampling
) -> None:
    """Sharpened photographs hide it, so that there is no lower bound."""
    assert resolved(compressed(enlarged(photo(name), times, how), 75)) < 1.3 * times


@fold(
    ("name", ["astronaut", "camera", "cat", "china", "coffee", "flower"]), ("sigma_px", [1.5, 2, 3])
)
def test_an_unsharp_photo_resolves_what_is_left_of_contrast(name: str, sigma_px: float) -> None:
    assert resolved(blurred(photo(name), sigma_px)) == pytest.approx(MTF50_PX * sigma_px, rel=0.3)


def test_strong_blur_is_measured_in_a_reduced_picture() -> None:
    for sigma_px in (8.0, 12.0):
        large = blurred(enlarged(photo("astronaut"), 2), sigma_px)
        assert resolved(large) == pytest.approx(MTF50_PX * sigma_px, rel=0.3)


@fold(("name", ["astronaut", "cat", "camera"]), ("angle_deg", [0, 45, 90]))
def test_a_shaken_photo_resolves_less(name: str, angle_deg: float) -> None:
    """Eight pixels one way and one the other are as many as squares of 2.8 pixels."""
    assert 1.7 < resolved(moved(photo(name), 8, angle_deg)) < 5.5


@fold(
    ("name, face", [("astronaut", (170, 60, 290, 210)), ("cat", (120, 60, 300, 220))]),
    ("sigma_px", [2, 6]),
)
def test_a_face_in_focus_is_enough(
    name: str, face: tuple[int, int, int, int], sigma_px: float
) -> None:
    sharp = photo(name)
    soft = blurred(sharp, sigma_px)
    assert resolved(soft) > 3.0
    soft.paste(sharp.crop(face), face[:2])
    assert resolved(soft) < 1.2


@pytest.mark.parametrize("size", [(20, 30), (63, 500), (400, 300)])
def test_a_photo_without_edges_counts_as_sharp(size: tuple[int, int]) -> None:
    slope = picture(np.tile(np.linspace(60.0, 200.0, size[0]), (size[1], 1)))
    assert resolved(slope) == 1.0


def test_intake_keeps_it_in_the_study(tmp_path: Path) -> None:
    large = enlarged(Image.fromarray(skimage.data.astronaut()), 3)
    study = taken_unread(saved(large, "JPEG", quality=75), tmp_path).study
    assert 2.4 < study.resolved_px < 3.3
    assert load_study(tmp_path / "study.npz").resolved_px == study.resolved_px
