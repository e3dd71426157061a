"""What squaring up promises, for corners of all kinds."""

from __future__ import annotations

import io
import math
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, assume, given, reject, settings
from hypothesis import strategies as st
from PIL import Image

from tests.pictures.cameras import View
from tests.unread import without_reading
from worker.errors import CornersUnusable
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.reference.master import Master
from worker.reference.square_up.corners import Quad, quad_of
from worker.reference.square_up.homography import homography, mapped
from worker.reference.square_up.proportion import squared_size_px, true_proportion
from worker.reference.square_up.square_up import square_up

aside = st.floats(0, 0.4, allow_nan=False)


def around(turn_deg: float, swings: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Corners at so many degrees off a quarter turn, so far from the middle of the photo."""
    corners = []
    for quarter, (swing_deg, radius) in enumerate(swings):
        angle = math.radians(turn_deg + 90 * quarter + swing_deg)
        corners.append((0.5 + radius * math.cos(angle), 0.5 + radius * math.sin(angle)))
    return corners


#: Four places anywhere make a picture one time in three; nearly all of these do: each near
#: the photo's own corner, or around its middle at any turn, also on a tip.
near_corners = st.tuples(*[aside] * 8).map(
    lambda by: [
        (by[0], by[1]),
        (1.0 - by[2], by[3]),
        (1.0 - by[4], 1.0 - by[5]),
        (by[6], 1.0 - by[7]),
    ]
)
around_the_middle = st.builds(
    around,
    st.floats(0, 90),
    st.lists(st.tuples(st.floats(-25, 25), st.floats(0.2, 0.5)), min_size=4, max_size=4),
)
corner_sets = (near_corners | around_the_middle).flatmap(st.permutations)
photo_sizes = st.tuples(st.integers(128, 12000), st.integers(128, 12000))
views = st.builds(
    View,
    sheet_mm=st.tuples(st.floats(100, 700), st.floats(100, 700)),
    tilt_deg=st.tuples(st.floats(-40, 40), st.floats(-40, 40)),
    roll_deg=st.floats(-10, 10),
    focal_mm=st.floats(20, 85),
)


def usable(corners: list[tuple[float, float]], photo_px: tuple[int, int]) -> Quad:
    try:
        return quad_of(corners, photo_px)
    except CornersUnusable:
        reject()
        raise


@given(corner_sets, photo_sizes, st.permutations(range(4)))
def test_the_order_of_corners_does_not_matter(
    corners: list[tuple[float, float]], photo_px: tuple[int, int], order: list[int]
) -> None:
    quad = usable(corners, photo_px)
    again = quad_of([corners[index] for index in order], photo_px)
    assert np.array_equal(quad.corners_px, again.corners_px)


@given(corner_sets, photo_sizes)
def test_nothing_is_ever_mirrored_or_turned_over(
    corners: list[tuple[float, float]], photo_px: tuple[int, int]
) -> None:
    """Everywhere, a step across and one down go round the same way as in the photo."""
    quad = usable(corners, photo_px)
    matrix = homography(quad.corners_px, (1.0, 1.0))
    grid = np.stack(np.meshgrid(*[np.linspace(0.02, 0.98, 7)] * 2), -1).reshape(-1, 2)
    here = mapped(matrix, grid)
    across, down = (mapped(matrix, grid + step) - here for step in ([1e-3, 0.0], [0.0, 1e-3]))
    assert (across[:, 0] * down[:, 1] - across[:, 1] * down[:, 0] > 0).all()
    # On the whole, right is right and down is down, however the corners were given.
    top_left, top_right, bottom_right, bottom_left = quad.corners_px
    assert (top_right + bottom_right - top_left - bottom_left)[0] + (
        bottom_left + bottom_right - top_left - top_right
    )[1] >= 0


@given(corner_sets, photo_sizes)
def test_what_lies_between_the_corners_lies_in_the_photo(
    corners: list[tuple[float, float]], photo_px: tuple[int, int]
) -> None:
    quad = usable(corners, photo_px)
    grid = np.stack(np.meshgrid(*[np.linspace(0, 1, 9)] * 2), -1).reshape(-1, 2)
    places = mapped(homography(quad.corners_px, (1.0, 1.0)), grid)
    assert places.min() > -1e-6
    assert (places < np.array(photo_px) + 1e-6).all()


@given(views)
@settings(max_examples=200)
def test_the_estimate_is_a_sheets(view: View) -> None:
    """Within what a lens that is not a phone's does from the front; from a corner, far less."""
    try:
        quad = quad_of(view.corners().tolist(), view.photo_px)
    except CornersUnusable:
        reject()
        raise
    width_mm, height_mm = view.sheet_mm
    wanted = width_mm / height_mm
    steep = max(abs(angle) for angle in view.tilt_deg)
    from_corner = min(abs(angle) for angle in view.tilt_deg) > 8
    within = 0.01 if from_corner or steep < 4 else 0.35
    turned = quad.corners_px - view.corners_px()
    assume(np.abs(turned).max() < 1e-6)
    assert abs(true_proportion(quad) / wanted - 1) < within


@given(corner_sets, photo_sizes, st.floats(0.05, 20), st.integers(1_000, 60_000_000))
def test_sizes_keep_to_the_budget_and_the_proportion(
    corners: list[tuple[float, float]],
    photo_px: tuple[int, int],
    proportion: float,
    max_pixels: int,
) -> None:
    width_px, height_px = squared_size_px(usable(corners, photo_px), proportion, max_pixels)
    assert 1 <= width_px * height_px <= max_pixels
    assert abs(width_px - proportion * height_px) <= 1 + proportion


@given(
    size_px=st.tuples(st.integers(60, 300), st.integers(60, 300)),
    order=st.permutations([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]),
    seed=st.integers(0, 2**32 - 1),
    mode=st.sampled_from(["L", "RGB"]),
)
@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow], deadline=None)
def test_the_photos_own_corners_give_the_same_picture(
    size_px: tuple[int, int], order: list[tuple[float, float]], seed: int, mode: str
) -> None:
    noise = np.random.default_rng(seed).integers(0, 256, (9, 9, 3), np.uint8)
    picture = Image.fromarray(noise).resize(size_px, Image.Resampling.BICUBIC).convert(mode)
    file = io.BytesIO()
    picture.save(file, "PNG")
    file.seek(0)
    with (
        tempfile.TemporaryDirectory() as before,
        tempfile.TemporaryDirectory() as after,
        without_reading(),
    ):
        take_in(file, Path(before), Limits(), threads=1)
        with Master.open(Path(before) / "master.zip") as master:
            found = square_up(master, order, Path(after), format_="png", threads=1)
            original = np.asarray(master.window("colour", (0, 0, *size_px)), np.int16)
        assert (found.width_px, found.height_px) == size_px
        with Master.open(Path(after) / "master.zip") as master:
            squared = np.asarray(master.window("colour", (0, 0, *size_px)), np.int16)
    # Each is a JPEG, so they differ by what a second encoding does.
    assert np.abs(squared - original).mean() < 1.0
    assert np.abs(squared - original).max() <= 16
