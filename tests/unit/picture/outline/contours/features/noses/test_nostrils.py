"""Nostrils, in faces painted for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.contours.features.painted_faces import (
    NOSTRIL_HALF_MM,
    NOSTRIL_MM,
    in_mm,
    noise,
    painted,
    part,
)
from tests.unit.picture.outline.contours.test_contour_lines import places_of_grid
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.contours.features.landmarks import NOSE
from worker.picture.outline.contours.features.noses.nostrils import Nostril, nostrils


def seen_in(part: FacePart) -> tuple[Nostril, ...]:
    """Those within the line that was painted."""
    return nostrils(part, part.along(NOSE))


@pytest.mark.parametrize("off", [(0.0, 0.0), (0.4, 0.3), (-0.4, -0.3)])
@pytest.mark.parametrize("sides", [(-1, 1), (-1,), (1,)])
def test_nostrils_are_found_where_they_are(
    sides: tuple[int, ...], off: tuple[float, float]
) -> None:
    seen = part(painted(nostrils=sides, blur=1.0), off)
    found = seen_in(seen)
    assert len(found) == len(sides)
    for side, one in zip(sides, found, strict=True):
        ((x, y),) = np.transpose(in_mm(seen.on_grid(one.middle[None])))
        assert np.hypot(x - side * NOSTRIL_MM[0], y - NOSTRIL_MM[1]) < 0.4
        across, down = in_mm(seen.on_grid(one.outline))
        assert np.ptp(across) == pytest.approx(2 * NOSTRIL_HALF_MM[0], rel=0.3)
        assert np.ptp(down) == pytest.approx(2 * NOSTRIL_HALF_MM[1], rel=0.4)
        assert (one.outline[0] == one.outline[-1]).all()


def test_what_lies_in_a_nostril_is_within_its_outline() -> None:
    (one,) = seen_in(part(painted(nostrils=(1,), blur=1.0)))
    inner = one.middle + 0.9 * (one.outline[1:-1] - one.middle)
    outer = one.middle + 1.1 * (one.outline - one.middle)
    ends = np.hypot(*(inner - one.middle).T) > 0.85 * np.hypot(*one.axes[0])
    assert one.has(inner[~ends]).all()
    assert not one.has(outer).any()


def test_where_the_picture_ends_in_a_nose_none_is_found() -> None:
    seen = part(painted(nostrils=(-1, 1), blur=1.0))
    rows, columns = seen.grey.shape
    for share in np.linspace(0, 1, 40):
        down, across = round(rows * share), round(columns * share)
        for grey in (seen.grey[:down], seen.grey[:, :across], seen.grey[:down, :across]):
            assert len(seen_in(replace(seen, grey=grey))) <= 2
    assert not seen_in(replace(seen, grey=seen.grey[: rows // 3]))


@pytest.mark.parametrize("what", ["skin", "noise", "shade", "dimple"])
def test_where_no_nostril_is_seen_none_is_found(what: str) -> None:
    """Skin; blotches on it; a shade that goes on below; and a spot that is no darker than those."""
    picture, (x, y) = painted(brows=False, mouth="none"), places_of_grid()
    if what == "noise":
        picture = replace(picture, grey=noise(7, 8.0, 3.0))
    elif what == "shade":
        shaded = np.where(y > 35.0 + NOSTRIL_MM[1] - 0.5, 90, picture.grey)
        picture = replace(picture, grey=shaded.astype(np.uint8))
    elif what == "dimple":
        near = np.hypot((x - 75.0 - NOSTRIL_MM[0]) / 2.6, y - 35.0 - NOSTRIL_MM[1]) < 1
        picture = replace(picture, grey=np.where(near, picture.grey - 25, picture.grey))
    assert seen_in(part(picture)) == ()


@pytest.mark.parametrize(("other", "seen"), [((), 0), ((-1,), 2)])
def test_a_shallow_one_is_seen_beside_a_deep_one_alone(other: tuple[int, ...], seen: int) -> None:
    """It is 52 levels darker than skin, in a face a quarter lighter than usual."""
    picture, (x, y) = painted(nostrils=other, blur=1.0), places_of_grid()
    off = np.stack((x - 75.0 - NOSTRIL_MM[0], y - 35.0 - NOSTRIL_MM[1]), axis=-1)
    near = np.hypot(*np.moveaxis(off / NOSTRIL_HALF_MM, -1, 0)) < 1
    grey = np.where(near, picture.grey - 58.0, picture.grey)
    shallow = replace(picture, grey=np.rint(gaussian_filter(grey, 1.0)).astype(np.uint8))
    assert len(seen_in(part(shallow))) == seen


@pytest.mark.parametrize(("wide", "ends"), [(1.0, 8.6), (0.75, 6.5)])
def test_a_nostril_ends_at_the_wing_though_it_is_dark_beyond(wide: float, ends: float) -> None:
    """A shade of 7 mm; in a nose whose wing is 8.4 mm from the middle there, and in one of 6.3."""
    picture, (x, y) = painted(nostrils=(-1,), blur=1.0), places_of_grid()
    off = np.stack((x - 75.0 - 7.5, y - 35.0 - NOSTRIL_MM[1]), axis=-1)
    near = np.hypot(*np.moveaxis(off / (3.5, 0.9), -1, 0)) < 1
    grey = gaussian_filter(np.where(near, 60.0, picture.grey), 1.0)
    seen = part(replace(picture, grey=grey.astype(np.uint8)))
    line = seen.along(NOSE)
    line = line.mean(axis=0) + wide * (line - line.mean(axis=0))
    _, one = nostrils(seen, line)
    ((at, _),) = np.transpose(in_mm(seen.on_grid((one.middle + one.axes[0])[None])))
    assert at == pytest.approx(ends, abs=0.7)
