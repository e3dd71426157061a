"""Landmarks and features of a real face, in a picture that is cropped, turned and mirrored.

The face is the astronaut's that ships with scikit-image (NASA, public domain).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import skimage.data
from PIL import Image

from tests.unit.picture.outline.contours.features.painted_faces import in_colour
from worker.picture.outline.contours.features.face_features import (
    seek_features,
    seek_landmarks,
)
from worker.picture.outline.contours.features.seen_landmarks import seen_landmarks
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.sampled_picture import SampledPicture
from worker.reading.faces import find_faces
from worker.reading.landmark_numbers import MIRRORED
from worker.spec.reading import NOTHING_READ

PX = 512
#: What is drawn of the photograph is so large on the paper.
GRID_MM = 0.5


@cache
def photo() -> Image.Image:
    return Image.fromarray(skimage.data.astronaut())


def sampled(picture: Image.Image) -> SampledPicture:
    return replace(in_colour(np.asarray(picture)), across_mm=GRID_MM, down_mm=GRID_MM)


def laid(to_photo: np.ndarray) -> PlacedReading:
    """The faces of the photograph under a picture; from the grid to pixels of the photograph."""
    share = np.add(to_photo, ((0, 0, 0.5), (0, 0, 0.5))) / PX
    reading = replace(NOTHING_READ, faces=tuple(find_faces(photo())))
    return PlacedReading(reading=reading, to_map=share, to_share=share)


WHOLE = np.array(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)))


def seen(to_photo: np.ndarray, picture: SampledPicture) -> tuple[np.ndarray, ...]:
    placed = laid(to_photo)
    return tuple(seen_landmarks(placed, picture, placed.reading.faces))


def upright() -> np.ndarray:
    (found,) = seen(WHOLE, sampled(photo()))
    return found


def mirrored() -> tuple[Image.Image, np.ndarray]:
    flipped = photo().transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    return flipped, np.array(((-1.0, 0.0, PX - 1.0), (0.0, 1.0, 0.0)))


def cropped() -> tuple[Image.Image, np.ndarray]:
    return photo().crop((121, 31, 421, 331)), np.add(WHOLE, ((0, 0, 121), (0, 0, 31)))


def turned() -> tuple[Image.Image, np.ndarray]:
    """By 20 degrees clockwise about the photograph's middle."""
    cosine, sine = math.cos(math.radians(20)), math.sin(math.radians(20))
    middle = (PX - 1) / 2
    matrix = np.array(((cosine, sine), (-sine, cosine)))
    start = middle - matrix @ (middle, middle)
    return photo().rotate(-20, Image.Resampling.BICUBIC), np.column_stack((matrix, start))


@pytest.mark.parametrize("change", [mirrored, cropped, turned])
def test_landmarks_are_where_they_are_in_the_photograph(
    change: Callable[[], tuple[Image.Image, np.ndarray]],
) -> None:
    picture, to_photo = change()
    (found,) = seen(to_photo, sampled(picture))
    there = found @ to_photo[:, :2].T + to_photo[:, 2]
    if change is mirrored:
        there = there[MIRRORED]
    expected = upright()
    known = ~np.isnan(expected[:, 0])
    # The face is 106 pixels wide; a percent or two of it.
    assert np.hypot(*(there - expected)[known].T).mean() < 2.0


def test_a_photo_without_colour_has_landmarks_too() -> None:
    grey = replace(sampled(photo()), chroma=())
    (found,) = seen(WHOLE, grey)
    assert np.nanmean(np.hypot(*(found - upright()).T)) < 2.0


def test_a_face_beyond_the_picture_has_none() -> None:
    picture = photo().crop((0, 300, 200, 500))
    away = np.add(WHOLE, ((0, 0, 0), (0, 0, 300)))
    assert seen(away, sampled(picture)) == ()


def test_features_of_a_real_face_are_found() -> None:
    """Against what anyone sees in the photograph: boxes around each, in its pixels."""
    placed, picture = laid(WHOLE), sampled(photo())
    (one,) = seek_features(seek_landmarks(placed, picture), placed, picture).faces
    assert len(one.eyes) == 2
    assert len(one.brows) == 2
    assert one.mouth is not None
    assert len(one.mouth.inner) == 2
    boxes = [
        (one.eyes[0].upper, (188, 94, 218, 106)),
        (one.eyes[1].upper, (232, 96, 262, 109)),
        (one.brows[0].middle, (187, 86, 216, 95)),
        (one.brows[1].middle, (235, 89, 266, 99)),
        (one.mouth.inner[0], (199, 136, 251, 148)),
    ]
    for places, (left, top, right, bottom) in boxes:
        line = one.part.on_grid(places)
        assert (line > (left, top)).all()
        assert (line < (right, bottom)).all()
        assert np.ptp(line[:, 0]) > 0.6 * (right - left)
    for eye, middle in zip(one.eyes, ((203.5, 101.0), (246.0, 103.0)), strict=True):
        assert np.hypot(*(one.part.on_grid(eye.iris.middle) - middle)) < 2.0
