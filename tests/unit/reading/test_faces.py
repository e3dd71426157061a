"""Faces in photographs that anyone can get: found, and nothing else taken for one."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import fields

import numpy as np
import pytest
from PIL import Image, ImageOps

from tests.pictures.photographs import NAMES, photograph
from worker.reading.faces import find_faces
from worker.spec.reading import Face
from worker.spec.spec import Area

#: Measured by eye in the picture of 512 × 512 pixels, to some 3 pixels: each eye from corner to
#: corner and from brow to lower lid, the chin, and the top of the hair.
EYES = ((191, 89, 213, 105), (238, 91, 261, 107))
CHIN, HAIR = (220, 177), (232, 16)
Turned = Callable[[Image.Image], Image.Image]
Place = tuple[float, float]


def picture_of(name: str) -> Image.Image:
    return Image.fromarray(photograph(name))


def holds(area: Area, place: Place) -> bool:
    across, down = place[0] - area.left, place[1] - area.top
    return 0 <= across <= area.width and 0 <= down <= area.height


def rotated(x: float, y: float, degrees: float) -> Place:
    """Where a place is when the square is turned to the left around its middle."""
    turn = complex(x - 0.5, y - 0.5) * cmath.exp(-1j * math.radians(degrees))
    return turn.real + 0.5, turn.imag + 0.5


def only(faces: tuple[Face, ...]) -> Face:
    (face,) = faces
    return face


def check_her(face: Face, place: Callable[[Place], Place]) -> None:
    """Whether boxes hold what they should, `place` being where a place of hers is, in shares."""
    for left, top, right, bottom in EYES:
        corners = [(left, top), (right, top), (left, bottom), (right, bottom)]
        assert any(all(holds(eye, place(one)) for one in corners) for eye in face.eyes)
        assert holds(face.box, place(((left + right) / 2, (top + bottom) / 2)))
    assert holds(face.head, place(CHIN))
    assert holds(face.head, place(HAIR))
    assert all(eye.width * eye.height < 0.2 * face.box.width * face.box.height for eye in face.eyes)
    assert face.head.width < 0.4
    assert face.head.height < 0.4


@pytest.mark.parametrize("mode", ["RGB", "L"])
def test_a_face_is_found_with_eyes_and_hair(mode: str) -> None:
    picture = picture_of("astronaut").convert(mode).convert("RGB")
    check_her(only(find_faces(picture)), lambda at: (at[0] / 512, at[1] / 512))


@pytest.mark.parametrize(
    ("turned", "place"),
    [
        (ImageOps.mirror, lambda x, y: (1 - x, y)),
        (lambda picture: picture.rotate(90), lambda x, y: (y, 1 - x)),
        (lambda picture: picture.rotate(45), lambda x, y: rotated(x, y, 45)),
        (lambda picture: picture.rotate(270), lambda x, y: (1 - y, x)),
    ],
    ids=["mirrored", "to the left", "half to the left", "to the right"],
)
def test_a_face_is_found_however_it_is_turned(
    turned: Turned, place: Callable[[float, float], Place]
) -> None:
    picture = turned(picture_of("astronaut"))
    check_her(only(find_faces(picture)), lambda at: place(at[0] / 512, at[1] / 512))


@pytest.mark.parametrize("box", [(150, 40, 310, 200), (170, 60, 290, 180)])
def test_a_face_that_fills_the_picture_is_found(box: tuple[int, int, int, int]) -> None:
    face = only(find_faces(picture_of("astronaut").crop(box).resize((700, 700))))
    assert face.box.width > 0.5
    assert all(holds(face.box, (eye.left + eye.width / 2, eye.top)) for eye in face.eyes)


def test_a_face_is_found_at_any_proportion() -> None:
    whole = Image.new("RGB", (512, 1200), "grey")
    whole.paste(picture_of("astronaut"), (0, 700))
    for picture, place in (
        (whole, lambda at: (at[0] / 512, (at[1] + 700) / 1200)),
        (whole.crop((0, 700, 512, 900)), lambda at: (at[0] / 512, at[1] / 200)),
    ):
        face = only(find_faces(picture))
        assert any(holds(eye, place((204, 99))) for eye in face.eyes)


def test_the_man_at_the_camera_is_found() -> None:
    """He is seen from the side, and turned down a little; his nose, measured by eye."""
    face = only(find_faces(picture_of("camera").convert("RGB")))
    assert holds(face.box, (262 / 512, 160 / 512))


def test_nothing_else_is_taken_for_a_face() -> None:
    """Looking closer looks at the whole picture as well."""
    others = {name for name in NAMES if name not in {"astronaut", "camera"}}
    assert len(others) >= 10
    found = {name for name in others if find_faces(picture_of(name).convert("RGB"), closer=True)}
    assert found == set()


def test_small_faces_are_found_by_looking_closer() -> None:
    small = picture_of("astronaut").resize((160, 160), Image.Resampling.BOX)
    picture = Image.new("RGB", (768, 512), "grey")
    picture.paste(small, (600, 300))
    assert find_faces(picture) == ()
    face = only(find_faces(picture, closer=True))
    assert holds(face.box, ((600 + 228 * 160 / 512) / 768, (300 + 120 * 160 / 512) / 512))


def test_faces_come_from_large_to_small_and_in_rounded_boxes() -> None:
    her = picture_of("astronaut")
    picture = Image.new("RGB", (900, 512), "grey")
    picture.paste(her.resize((380, 380)), (515, 100))
    picture.paste(her, (0, 0))
    faces = find_faces(picture)
    assert [face.box.left < 0.5 for face in faces] == [True, False]
    for face in faces:
        for area in (face.box, face.head, *face.eyes):
            sides = np.array([area.left, area.top, area.width, area.height])
            assert np.array_equal(sides, sides.round(3))
            assert sides.min() >= 0
            assert sides[:2].max() + 0 <= 1
            assert (sides[:2] + sides[2:]).max() <= 1 + 1e-9


def test_every_box_has_an_area_also_where_the_picture_cuts_a_face() -> None:
    her, cut = picture_of("astronaut"), 0
    for left, top in ((205, 20), (215, 20), (160, 95), (160, 105)):
        for face in find_faces(her.crop((left, top, left + 150, top + 150))):
            cut += 1
            assert len(face.eyes) == 2
            for area in (face.box, face.head, *face.eyes):
                assert min(area.width, area.height) >= 0.001
                assert area.left + area.width <= 1
                assert area.top + area.height <= 1
    assert cut >= 1


def test_nothing_but_boxes_is_kept_of_a_face() -> None:
    """No points, no likelihood, nothing that would tell one person from another."""
    assert {field.name for field in fields(Face)} == {"box", "head", "eyes"}
    face = only(find_faces(picture_of("astronaut")))
    assert all(isinstance(area, Area) for area in (face.box, face.head, *face.eyes))
    assert len(face.eyes) == 2


@pytest.mark.parametrize("size", [(1, 1), (3, 900), (900, 3)])
def test_the_smallest_pictures_are_looked_at(size: tuple[int, int]) -> None:
    assert find_faces(Image.new("RGB", size), closer=True) == ()
