"""Landmarks in photographs that anyone can get: on what they name, however a face is turned."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import fields

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image, ImageOps

from tests.pictures.photographs import photograph
from worker.reading.faces import find_faces
from worker.reading.landmark_numbers import (
    COARSE,
    COUNT,
    LEFT_EYE,
    LEFT_IRIS,
    LIPS,
    MIRRORED,
    OVAL,
    RIGHT_EYE,
    RIGHT_IRIS,
)
from worker.reading.landmarks import Landmarks, face_landmarks, landmarks_of_faces
from worker.spec.reading import MAPS, Face, Maps, Reading
from worker.spec.spec import Area

Floats = npt.NDArray[np.float32]
#: Measured by eye in the picture of 512 × 512 pixels, to some 3 pixels: her right and left eye
#: from corner to corner and from brow to lower lid, and the chin.
EYES = {RIGHT_EYE: (191, 89, 213, 105), LEFT_EYE: (238, 91, 261, 107)}
CHIN = (220, 177)
BY_EYE = 3
#: Across her face, in pixels.
FACE_PX = 110


def picture_of(name: str) -> Image.Image:
    return Image.fromarray(photograph(name)).convert("RGB")


def landmarks_of(picture: Image.Image) -> Landmarks:
    (face,) = find_faces(picture)
    found = face_landmarks(picture, face)
    assert found is not None
    assert 0.5 <= found.likely <= 1
    return found


@pytest.fixture(scope="module")
def hers() -> Floats:
    return landmarks_of(picture_of("astronaut")).points


def test_lids_and_irises_are_in_the_eyes(hers: Floats) -> None:
    for (eye, (left, top, right, bottom)), iris in zip(
        EYES.items(), (RIGHT_IRIS, LEFT_IRIS), strict=True
    ):
        lids = hers[list(eye[:16])]
        middle = hers[iris[0]]
        for places in (lids, middle[None]):
            assert (places > np.array([left, top]) - BY_EYE).all()
            assert (places < np.array([right, bottom]) + BY_EYE).all()
        assert lids[:, 0].min() < middle[0] < lids[:, 0].max()
        assert np.ptp(lids[:, 0]) > 0.7 * (right - left)


def test_the_chin_is_lowest_and_the_lips_are_above_it(hers: Floats) -> None:
    assert np.hypot(*(hers[152] - CHIN)) < 2 * BY_EYE
    lips = hers[list(LIPS)]
    assert lips[:, 1].max() < hers[152, 1]
    assert lips[:, 1].min() > hers[list(RIGHT_EYE[:16]), 1].max()
    # Outer lips go around inner ones: 0 and 17 are their middles, 13 and 14 those inside.
    assert hers[0, 1] < hers[13, 1] <= hers[14, 1] + 1 < hers[17, 1] + 1


def test_nose_and_mouth_are_found_in_a_profile() -> None:
    """His nose's tip and the corner of his mouth, measured by eye as well."""
    his = landmarks_of(picture_of("camera")).points
    assert np.hypot(*(his[4] - (254, 166))) < BY_EYE
    assert np.hypot(*(his[61] - (230, 181))) < BY_EYE


def turned_left(places: Floats, degrees: float) -> Floats:
    """Where places are when the picture of 512 × 512 pixels is turned around its middle."""
    turn = cmath.exp(-1j * math.radians(degrees))
    moved = (places[:, 0] + 1j * places[:, 1] - (256 + 256j)) * turn + (256 + 256j)
    return np.stack([moved.real, moved.imag], 1)


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (ImageOps.mirror, lambda at: at[MIRRORED] * (-1, 1) + (512, 0)),
        (lambda one: one.rotate(90), lambda at: turned_left(at, 90)),
        (
            lambda one: one.rotate(30, Image.Resampling.BICUBIC),
            lambda at: turned_left(at, 30),
        ),
        (lambda one: one.rotate(270), lambda at: turned_left(at, 270)),
        (lambda one: one.resize((1400, 1400)), lambda at: at * 1400 / 512),
        (lambda one: one.crop((100, 0, 400, 300)), lambda at: at - (100, 0)),
    ],
    ids=["mirrored", "to the left", "a little to the left", "to the right", "larger", "cut"],
)
def test_a_changed_picture_has_the_changed_landmarks(
    hers: Floats, change: Callable[[Image.Image], Image.Image], place: Callable[[Floats], Floats]
) -> None:
    picture = change(picture_of("astronaut"))
    ours, expected = landmarks_of(picture).points, place(hers)
    there = ~np.isnan(expected[:, 0])
    assert np.array_equal(there, ~np.isnan(ours[:, 0]))
    apart = np.hypot(*(ours - expected)[there].T)
    scale = max(picture.width / 512, 1)
    assert apart.mean() < 0.02 * FACE_PX * scale
    assert apart.max() < 0.06 * FACE_PX * scale


def test_mirrored_numbers_are_the_other_side() -> None:
    assert np.array_equal(MIRRORED[MIRRORED], np.arange(COUNT))
    assert {int(MIRRORED[one]) for one in RIGHT_EYE} == set(LEFT_EYE)
    for together in (LIPS, OVAL, COARSE):
        assert {int(MIRRORED[one]) for one in together} == set(together)
    # What is in the middle of a face stays there: forehead, nose, lips, chin.
    assert all(MIRRORED[one] == one for one in (10, 168, 4, 2, 0, 13, 14, 17, 152))


def test_the_numbers_that_are_looked_for_are_said(hers: Floats) -> None:
    said = {*COARSE, *LIPS, *RIGHT_EYE, *LEFT_EYE, *RIGHT_IRIS, *LEFT_IRIS}
    assert set(np.flatnonzero(~np.isnan(hers[:, 0])).tolist()) == said


def somewhere(left: float, top: float, side: float) -> Face:
    def part(across: float, down: float, share: float) -> Area:
        return Area(
            left=left + across * side,
            top=top + down * side,
            width=share * side,
            height=share * side,
        )

    return Face(
        box=part(0, 0, 1), head=part(0, 0, 1), eyes=(part(0.2, 0.2, 0.2), part(0.6, 0.2, 0.2))
    )


@pytest.mark.parametrize("name", ["coffee", "moon", "rocket"])
def test_where_no_face_is_there_are_no_landmarks(name: str) -> None:
    assert face_landmarks(picture_of(name), somewhere(0.3, 0.3, 0.4)) is None


@pytest.mark.parametrize("size", [(1, 1), (3, 900), (900, 3)])
@pytest.mark.parametrize("place", [(0, 0, 1), (0.999, 0.999, 0.001)])
def test_the_smallest_pictures_are_looked_at(
    size: tuple[int, int], place: tuple[float, float, float]
) -> None:
    assert face_landmarks(Image.new("RGB", size), somewhere(*place)) is None


def test_the_landmarks_are_the_same_on_any_number_of_threads(hers: Floats) -> None:
    picture = picture_of("astronaut")
    (face,) = find_faces(picture)
    found = face_landmarks(picture, face, threads=3)
    assert found is not None
    assert np.array_equal(found.points, hers, equal_nan=True)


def test_faces_that_are_looked_at_together_have_the_same_landmarks(hers: Floats) -> None:
    picture = picture_of("astronaut")
    (face,) = find_faces(picture)
    flipped = picture.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    nobody = picture_of("moon"), somewhere(0.3, 0.3, 0.4)
    several = [nobody, (picture, face), (flipped, find_faces(flipped)[0]), nobody, (picture, face)]
    found = landmarks_of_faces(several)
    assert [one is None for one in found] == [True, False, False, True, False]
    for one, expected in zip(
        found, (None, hers, landmarks_of(flipped).points, None, hers), strict=True
    ):
        assert one is None or np.array_equal(one.points, expected, equal_nan=True)
    assert landmarks_of_faces([]) == []


def test_a_reading_has_no_place_for_landmarks() -> None:
    """What is kept of a photo: maps and boxes."""
    maps = {"area", *MAPS}
    assert {field.name for field in fields(Reading)} == {*maps, "subject", "faces", "insets"}
    assert {field.name for field in fields(Maps)} == maps
