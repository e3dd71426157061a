"""Borders of colours that are equally light; and what of colour is no line."""

from __future__ import annotations

import functools
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from skimage.color import rgb2ycbcr

from tests.pictures.photographs import as_jpeg, as_png, photograph
from tests.unit.picture.outline.lines import (
    Bytes,
    Floats,
    found,
    found_for,
    found_in,
    sampled,
    spec_of,
    strokes_on,
)
from tests.unit.picture.outline.test_pipeline import disc, middle_of, same
from worker.picture.outline.detected_points import Artefacts
from worker.picture.outline.points.colour_edges import chroma_gradients
from worker.picture.outline.points.edge_points import SLOPE_OF_STEP
from worker.picture.outline.points.sampled_picture import SampledPicture, chroma_channels
from worker.spec.spec import Outline

#: Luminance of linear sRGB, IEC 61966-2-1.
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
RED = np.array([200.0, 70.0, 60.0])


def linear(encoded: Floats) -> Floats:
    """Values up to 255 to linear light, IEC 61966-2-1."""
    share = encoded / 255.0
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def encoded(light: Floats) -> Floats:
    """Linear light to values up to 255, IEC 61966-2-1."""
    curve = 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055
    return np.where(light <= 0.0031308, light * 12.92, curve) * 255.0


def as_light_as_red(share: float) -> Floats:
    """Linear light of a green of red's luminance; or of a mixture with red, by its share."""
    green = linear(np.array([60.0, 0.0, 90.0]))
    green[1] = (LUMINANCE @ linear(RED) - LUMINANCE[[0, 2]] @ green[[0, 2]]) / LUMINANCE[1]
    return np.asarray(share * green + (1 - share) * linear(RED))


def equally_light_disc(share: float = 1.0) -> Bytes:
    """A green disc of 25 mm on red, for 120 x 80 mm; edges are mixed as light mixes."""
    inside = (220.0 - disc(grey=20)[..., None]) / 200.0
    light = inside * as_light_as_red(share) + (1 - inside) * linear(RED)
    assert np.ptp(encoded(light @ LUMINANCE)) < 0.01
    return np.rint(encoded(light)).astype(np.uint8)


@pytest.mark.parametrize(("share", "quality"), [(1.0, None), (1.0, 75), (0.5, 75)])
def test_a_border_of_equally_light_colours_is_found(
    share: float, quality: int | None, tmp_path: Path
) -> None:
    photo = equally_light_disc(share)
    data = as_png(photo) if quality is None else as_jpeg(Image.fromarray(photo), quality)
    strokes, _ = found_in(data, spec_of(120, 80), tmp_path)
    assert len(strokes) == 1
    assert np.abs(middle_of(strokes) - 25.0).max() < 0.3
    assert strokes.length_mm[0] == pytest.approx(2 * np.pi * 25, rel=0.02)


def test_a_border_stays_one_line_where_its_colours_grow_equally_light(tmp_path: Path) -> None:
    """Grey beside a ramp through its own lightness: darker above, lighter below."""
    photo = np.empty((640, 960, 3))
    light = linear(np.linspace(40.0, 220.0, 640))[:, None]
    photo[:, :480] = encoded(np.broadcast_to(light * [0.4, 1.0, 1.3], (640, 3)))[:, None]
    photo[:, 480:] = RED
    data = as_png(np.clip(np.rint(photo), 0, 255).astype(np.uint8))
    strokes, _ = found_in(data, spec_of(120, 80), tmp_path)
    assert len(strokes) == 1
    assert np.abs(sampled(strokes)[:, 0] - 60.0).max() < 0.3
    assert strokes.length_mm[0] > 76.0


@pytest.mark.parametrize(
    ("grain_px", "noise", "quality"),
    # Any two of these values come together in one of the cases.
    [(1, 3.0, None), (1, 8.0, 60), (1, 16.0, None), (3, 3.0, 60), (3, 8.0, None), (3, 16.0, 60)],
)
def test_grain_in_colour_is_no_line(
    grain_px: int, noise: float, quality: int | None, tmp_path: Path
) -> None:
    """Each channel has a grain of its own, fine or in clumps of three pixels.

    At the least of these details the reading is heard fully, at the greatest not at all; with
    less detail than half, lines need more.
    """
    size = (-(-800 // grain_px), -(-1200 // grain_px), 3)
    grain = np.random.default_rng(3).normal(0, noise, size)
    grain = grain.repeat(grain_px, axis=0).repeat(grain_px, axis=1)[:800, :1200]
    photo = np.clip(np.rint(RED + grain), 0, 255).astype(np.uint8)
    specs = [spec_of(300, 200, detail=detail) for detail in (0.5, 0.8, 1.0)]
    data = as_png(photo) if quality is None else as_jpeg(Image.fromarray(photo), quality)
    assert [len(strokes) for strokes in found_for(data, specs, tmp_path)] == [0, 0, 0]


SMALL, LARGE = (600, 400), (2400, 1600)


@functools.cache
def smooth_change(size: tuple[int, int]) -> Bytes:
    """From red to a green that is as light."""
    share = np.linspace(0, 1, size[0])[None, :] * 0.8 + np.linspace(0, 0.2, size[1])[:, None]
    one, other = linear(RED), as_light_as_red(1.0)
    photo = np.rint(encoded(share[..., None] * other + (1 - share[..., None]) * one))
    return photo.astype(np.uint8)


@pytest.mark.parametrize(
    ("size", "chroma_of", "quality"),
    [
        *((SMALL, "4:2:0", quality) for quality in (10, 20, 75)),
        *((SMALL, "4:4:4", quality) for quality in (20, 75)),
        # Where blocks are as small as details.
        *((LARGE, "4:2:0", quality) for quality in (20, 75)),
        (LARGE, "4:4:4", 20),
    ],
)
def test_blocks_of_compressed_colour_are_no_lines(
    quality: int, size: tuple[int, int], chroma_of: str, tmp_path: Path
) -> None:
    """A smooth change from one colour to another that is as light falls into blocks.

    Cameras keep half of colour each way; with all of it, the greatest detail shows some, and a
    few short ones with half. At quality 10 bands of colour are as plain as contours, and some are
    taken for such.
    """
    path = tmp_path / "photo.jpg"
    Image.fromarray(smooth_change(size)).save(path, quality=quality, subsampling=chroma_of)
    details = (0.5, 1.0) if chroma_of == "4:2:0" else (0.2, 0.5)
    specs = [spec_of(300, 200, detail=detail) for detail in details]
    found = found_for(path.read_bytes(), specs, tmp_path)
    for detail, strokes in zip(details, found, strict=True):
        assert len(strokes) <= (8 if quality == 10 else 4 if detail == 1.0 else 0)


def test_colour_without_any_hue_changes_nothing(tmp_path: Path) -> None:
    grey = photograph("camera")[100:356, 100:356]
    tinted = np.repeat(grey[..., None], 3, axis=2)
    plain = found(grey, spec_of(100, 100), tmp_path)
    assert len(plain) > 10
    assert same(found_in(as_png(tinted), spec_of(100, 100), tmp_path)[0], plain)


def test_where_tiles_end_changes_nothing_of_colour() -> None:
    photo = Image.fromarray(photograph("coffee"))
    chroma = tuple(np.asarray(channel) for channel in chroma_channels(photo.reduce(2)))
    grey = np.asarray(photo.convert("L"))
    sampled_picture = SampledPicture(grey=grey, chroma=chroma, across_mm=0.25, down_mm=0.25)
    quiet = Artefacts(noise=0.5, step=0.0, chroma_noise=0.5)
    with ThreadPoolExecutor(2) as pool:
        whole = strokes_on(sampled_picture, Outline(), quiet, pool, tile_px=1024)
        for tile_px in (52, 128, 300):
            assert same(strokes_on(sampled_picture, Outline(), quiet, pool, tile_px=tile_px), whole)
        assert not same(
            strokes_on(replace(sampled_picture, chroma=()), Outline(), quiet, pool), whole
        )


def test_chroma_is_what_the_standard_says() -> None:
    """Full range (ITU-T T.871), while scikit-image has the 224 levels of ITU-R BT.601."""
    photo = photograph("astronaut")
    expected = (rgb2ycbcr(photo)[..., 1:] - 128.0) * 255.0 / 224.0 + 128.0
    mine = np.stack(
        [np.asarray(channel) for channel in chroma_channels(Image.fromarray(photo))], axis=2
    )
    assert np.abs(mine - expected).max() < 1.5


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 90.0, 140.0])
def test_colour_changes_across_its_border(angle_deg: float) -> None:
    """One channel falls where the other rises, and both are seen; to and fro is the same."""
    turn = np.radians(angle_deg)
    down, across = np.mgrid[-30:30, -30:30] + 0.5
    far = np.clip(across * np.cos(turn) + down * np.sin(turn) + 0.5, 0, 1)
    chroma = (np.float32(90 + 80 * far), np.float32(150 - 60 * far))
    gradients = chroma_gradients(chroma, 0, 0, (60, 60))
    at = np.unravel_index(gradients.steep.argmax(), gradients.steep.shape)
    cosine = (gradients.gx[at] * np.cos(turn) + gradients.gy[at] * np.sin(turn)) / gradients.steep[
        at
    ]
    assert abs(cosine) > 0.999
    assert gradients.steep[at] / SLOPE_OF_STEP == pytest.approx(1.5 * 100.0, rel=0.07)
