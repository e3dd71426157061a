"""Eyes, in faces painted for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.contours.features.painted_faces import (
    EYE_MM,
    EYES,
    IRIS_MM,
    LID_MM,
    OFF,
    RIM_MM,
    in_mm,
    lid,
    marks,
    mirrored,
    noise,
    painted,
    part,
)
from tests.unit.picture.outline.contours.test_contour_lines import places_of_grid
from worker.picture.outline.contours.features.eyes.eyes import eyes
from worker.picture.outline.contours.features.face_part import face_part


@pytest.mark.parametrize("off", OFF)
@pytest.mark.parametrize("glance", [-2.0, 0.0, 2.0])
def test_lids_and_iris_are_found_where_they_are(glance: float, off: tuple[float, float]) -> None:
    seen = part(painted(eyes=True, glance=glance, blur=1.0), off, glance)
    both = eyes(seen)
    assert len(both) == 2
    for one, (at_x, _) in zip(both, EYES, strict=True):
        for found, high in ((one.upper, LID_MM), (one.lower, -RIM_MM)):
            across, down = in_mm(seen.on_grid(found))
            across = across - (at_x - 75.0)
            inner = np.abs(across) < 0.8 * EYE_MM
            assert np.abs(down - lid(across, high))[inner].max() < 0.5
            assert np.abs(np.abs(across[[0, -1]]) - EYE_MM).max() < 1.5
        ((middle_x, middle_y),) = np.transpose(in_mm(seen.on_grid(one.iris.middle[None])))
        assert np.hypot(middle_x - (at_x - 75.0) - glance, middle_y) < 0.5
        assert one.iris.radius * 0.25 * seen.coarser == pytest.approx(IRIS_MM, rel=0.12)


def test_an_iris_is_drawn_between_the_lids_alone() -> None:
    seen = part(painted(eyes=True))
    both = eyes(seen)
    assert len(both) == 2
    for one in both:
        # A lid of 2.6 mm cuts an iris of 2.8, and not its pupil.
        *arcs, pupil = one.iris.arcs(one)
        assert np.allclose(np.hypot(*(pupil - one.iris.middle).T), one.iris.pupil)
        assert (pupil[0] == pupil[-1]).all()
        assert len(arcs) >= 1
        assert sum(map(len, arcs)) > 40
        for arc in arcs:
            assert one.has(arc).all()
            assert np.allclose(np.hypot(*(arc - one.iris.middle).T), one.iris.radius)


def test_irises_are_as_high_and_as_large_in_both_eyes() -> None:
    """Of one eye the upper half of the iris is lost in a light."""
    picture, (x, y) = painted(eyes=True, blur=1.0), places_of_grid()
    at_x, at_y = EYES[0]
    lost = (np.abs(x - at_x) < IRIS_MM) & (np.abs(y - at_y + 1.2) < 1.0)
    grey = np.where(gaussian_filter(lost * 1.0, 1.0) > 0.5, 200, picture.grey)
    both = eyes(part(replace(picture, grey=grey.astype(np.uint8))))
    assert len(both) == 2
    heights = [float(one.iris.middle[1] - one.upper[[0, -1], 1].mean()) for one in both]
    assert heights[0] == pytest.approx(heights[1], abs=0.5)
    assert both[0].iris.radius == pytest.approx(both[1].iris.radius)


def test_in_a_mirrored_picture_eyes_are_mirrored() -> None:
    picture = painted(eyes=True, glance=1.5)
    seen = part(picture)
    back, places = mirrored(picture, marks())
    there = face_part(places, back)
    assert len(eyes(seen)) == 2
    for one, other in zip(eyes(seen), eyes(there)[::-1], strict=True):
        for line, turned in ((one.upper, other.upper), (one.lower, other.lower)):
            moved = there.on_grid(turned)[::-1] * (-1, 1) + (picture.shape[1] - 1, 0)
            assert np.abs(seen.on_grid(line) - moved).max() * 0.25 < 0.3


@pytest.mark.parametrize(("wide", "seen"), [(1.0, True), (0.3, False), (0.0, False)])
def test_a_fold_above_most_of_the_lid_is_found(wide: float, *, seen: bool) -> None:
    """A soft dark line 1.8 mm above lashes, along a part of the lid or nowhere."""
    picture, (x, y) = painted(eyes=True, blur=1.0), places_of_grid()
    shade = np.zeros(x.shape)
    for at_x, at_y in EYES:
        across, down = x - at_x, y - at_y
        off = np.abs(down - lid(across, LID_MM) + 1.8)
        shade += 45 * np.exp(-((off / 0.5) ** 2)) * (np.abs(across) < wide * EYE_MM)
    darker = np.clip(picture.grey - gaussian_filter(shade, 1.0), 0, 255)
    face = part(replace(picture, grey=np.rint(darker).astype(np.uint8)))
    for one, (at_x, _) in zip(eyes(face), EYES, strict=True):
        assert (one.fold is not None) is seen
        if one.fold is not None:
            across, down = in_mm(face.on_grid(one.fold))
            across = across - (at_x - 75.0)
            inner = np.abs(across) < 0.8 * EYE_MM
            assert np.ptp(across) > EYE_MM
            assert np.abs(down - lid(across, LID_MM) + 1.8)[inner].max() < 0.3


def test_pupils_are_as_large_as_both_are_seen_or_as_usual() -> None:
    """A dark pupil of 1.2 mm in a pale iris; in one eye alone it may be a light beside it.

    Otherwise as by daylight indoors: 4.2 mm of 11.7 (Winn and others 1994; from memory).
    """
    pale = painted(eyes=True, iris=(140, 120, 110), blur=1.0)
    x, y = places_of_grid()
    there = [np.hypot(x - at_x, y - at_y) < 1.2 for at_x, at_y in EYES]
    for dark, seen in ((there, True), (there[:1], False), ([], False)):
        grey = np.where(np.any([*dark, np.zeros(x.shape, np.bool_)], axis=0), 30, pale.grey)
        face = part(replace(pale, grey=np.rint(gaussian_filter(grey * 1.0, 1.0)).astype(np.uint8)))
        both = eyes(face)
        assert len(both) == 2
        for one in both:
            radius, iris = (
                each * 0.25 * face.coarser for each in (one.iris.pupil, one.iris.radius)
            )
            assert radius == pytest.approx(
                1.2 if seen else 4.2 / 11.7 * iris, abs=0.3 if seen else 0.01
            )


@pytest.mark.parametrize("what", ["skin", "noise", "glasses"])
def test_where_no_eyes_are_seen_none_are_found(what: str) -> None:
    """Closed eyes; blotches; and dark glasses."""
    picture = painted()
    if what == "noise":
        picture = replace(picture, grey=noise(4, 8.0, 3.0))
    if what == "glasses":
        grey = picture.grey.copy()
        grey[100:180, 180:420] = 40
        picture = replace(picture, grey=grey)
    assert eyes(part(picture)) == ()
