"""Silhouettes of pictures made for it: a thing of fine grain before what is out of focus."""

from __future__ import annotations

import io

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.reading.regions.silhouettes import silhouettes

SIZE = (384, 256)
Y, X = np.mgrid[: SIZE[1], : SIZE[0]].astype(np.float64)
#: How far inside of the thing, in pixels.
INSIDE = 70 - np.hypot(X - 190, Y - 128)
#: What a network may see of its outline: little.
WEAK = np.asarray(0.5 * (np.abs(INSIDE) < 4), np.float32)
NOTHING = np.zeros(SIZE[::-1], np.float32)
#: It is not known what the picture is of; and it is, on a coarse grid.
UNKNOWN = np.full((64, 96), 128, np.uint8)
SUBJECT = np.where(INSIDE[2::4, 2::4] > 0, 230, 20).astype(np.uint8)


def painted(inside: npt.NDArray[np.float64], soft_px: float = 3.0) -> Image.Image:
    """A brown thing whose grain ends gradually, before a green that pales from left to right."""
    share = 1 / (1 + np.exp(-inside / soft_px))[..., None]
    grain = np.random.default_rng(3).normal(0, 14, (*inside.shape, 1))
    thing = np.array((140, 90, 60)) + grain
    ground = np.array((70, 120, 60)) + X[..., None] / 8
    return Image.fromarray(
        np.clip(share * thing + (1 - share) * ground, 0, 255).astype(np.uint8), "RGB"
    )


def near(raised: npt.NDArray[np.float32], inside: npt.NDArray[np.float64]) -> float:
    """The share of directions from the middle in which the outline is raised."""
    turn = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    far = np.arange(55, 86)[:, None]
    x, y = 190 + far * np.cos(turn), 128 + far * np.sin(turn)
    column, row = np.rint(x).astype(int), np.rint(y).astype(int)
    on = (raised[row, column] > 1) & (np.abs(inside[row, column]) < 5)
    return float(on.any(axis=0).mean())


def test_the_outline_of_what_is_in_focus_is_raised_all_round() -> None:
    raised = silhouettes(painted(INSIDE), WEAK, UNKNOWN)
    assert near(raised, INSIDE) > 0.95


def test_neither_its_inside_nor_what_pales_behind_it_is() -> None:
    raised = silhouettes(painted(INSIDE), WEAK, UNKNOWN)
    assert (raised[np.abs(INSIDE) > 12] > 0.3).mean() < 0.002


def test_a_border_that_nothing_is_seen_of_is_not_raised() -> None:
    assert not silhouettes(painted(INSIDE), NOTHING, UNKNOWN).any()


def test_blocks_of_compression_are_not_in_focus() -> None:
    """ITU-T T.81: a slow slope in blocks of eight pixels, which may be read as contours."""
    file = io.BytesIO()
    slope = Image.fromarray((80 + X / 4 + Y / 10).astype(np.uint8)).convert("RGB")
    slope.save(file, "JPEG", quality=10)
    everywhere = np.full(SIZE[::-1], 0.9, np.float32)
    assert not silhouettes(Image.open(file).convert("RGB"), everywhere, UNKNOWN).any()


def test_what_is_out_of_focus_before_something_sharp_is_not() -> None:
    """The same picture with the grain elsewhere: a soft disc behind a sharp strip below."""
    picture = np.asarray(painted(INSIDE, soft_px=9.0).convert("RGB"), np.float64)
    soft = np.asarray(Image.fromarray(picture.astype(np.uint8)).resize((48, 32)).resize(SIZE))
    grain = np.random.default_rng(4).normal(0, 30, SIZE[::-1])[..., None]
    both = np.where(Y[..., None] > 215, np.clip(90 + grain, 0, 255), soft).astype(np.uint8)
    raised = silhouettes(Image.fromarray(both, "RGB"), WEAK, UNKNOWN)
    assert near(raised, INSIDE) < 0.2


def test_flat_and_tiny_pictures_have_none() -> None:
    grey = np.random.default_rng(5).normal(128, 2, SIZE[::-1]).astype(np.uint8)
    everywhere = np.full(SIZE[::-1], 0.9, np.float32)
    assert silhouettes(Image.fromarray(grey).convert("RGB"), everywhere, UNKNOWN).max() == 0
    tiny = np.full((40, 90), 0.9, np.float32)
    assert not silhouettes(Image.new("RGB", (90, 40), "red"), tiny, UNKNOWN).any()


def test_a_grey_picture_has_them_too() -> None:
    grey = painted(INSIDE).getchannel("R")
    assert near(silhouettes(grey.convert("RGB"), WEAK, UNKNOWN), INSIDE) > 0.9


def test_what_the_picture_is_of_is_outlined_where_nothing_is_in_focus() -> None:
    """Both sides are as smooth, and both lie at the picture's edge: only the subject tells them."""
    flat = np.where((X > 190)[..., None], np.array((140, 90, 60)), (70, 120, 60))
    picture = Image.fromarray(flat.astype(np.uint8), "RGB")
    seen = np.asarray(0.5 * (np.abs(X - 190.5) < 4), np.float32)
    right = np.where(X[2::4, 2::4] > 190, 230, 20).astype(np.uint8)
    assert silhouettes(picture, seen, right)[:, 188:194].max(axis=1).min() > 1
    assert silhouettes(picture, seen, UNKNOWN).max() < 0.5


def test_a_step_of_the_subject_raises_no_less() -> None:
    soft = silhouettes(painted(INSIDE), WEAK, SUBJECT)
    assert near(soft, INSIDE) > 0.95
    assert (soft[np.abs(INSIDE) > 12] > 0.3).mean() < 0.002
