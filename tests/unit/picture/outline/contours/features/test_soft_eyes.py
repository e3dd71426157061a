"""Eyes of which no circle is seen clearly, in soft faces painted for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.contours.features.painted_faces import EYES, face, noise
from tests.unit.picture.outline.contours.test_contour_lines import (
    GRID,
    Bytes,
    Floats,
    placed,
    places_of_grid,
)
from worker.picture.outline.contours.features.face_features import face_features
from worker.picture.outline.contours.features.face_frames import face_frames
from worker.picture.outline.contours.features.irises import Iris, irises
from worker.picture.outline.contours.features.lid_shapes import Lids
from worker.picture.outline.contours.features.soft_eyes import soft_eyes
from worker.picture.outline.points.sampled_picture import SampledPicture

#: Half of an eye's width, how far both lids are from its level, and an iris' radius, in mm: of
#: eyes that are 63 mm apart they are 15 and 5.9 (common anatomy).
HALF, UPPER, LOWER, RADIUS = 7.5, 2.4, 2.2, 2.8


def lid(across: Floats, high: float) -> Floats:
    return np.asarray(high * (1 - np.minimum(np.abs(across) / HALF, 1) ** 2))


def soft_face(*, opened: bool = True, looks: float = 0.0, blur: float = 2.0) -> Bytes:
    """Eyes in dark sockets: what is white is grey, irises are soft, lids are darker than both."""
    x, y = places_of_grid()
    grey = np.full(x.shape, 190.0)
    for at_x, at_y in EYES:
        across, down = x - at_x, y - at_y
        grey -= 60 * np.exp(-((across / 5) ** 2) - ((down + 1) / 4.5) ** 2)
        wide = np.abs(across) < HALF
        within = wide & (down > -lid(across, UPPER)) & (down < lid(across, LOWER))
        iris = np.where(np.hypot(across - looks, down) < RADIUS, 40.0, 85.0)
        lashes = wide & (np.abs(down + lid(across, UPPER)) < 0.5)
        if opened:
            grey = np.where(within, iris, grey)
        grey = np.where(lashes, 40.0, grey)
    return np.rint(gaussian_filter(grey, blur)).astype(np.uint8)


def found_in(grey: Bytes, known: tuple[Iris, ...] = ()) -> tuple[Lids, ...]:
    laid = placed(face())
    return soft_eyes(laid, face_frames(laid, ()), known, grey, GRID)


@pytest.mark.parametrize("blur", [1.2, 2.0])
@pytest.mark.parametrize("looks", [-1.0, 0.0, 1.0])
def test_eyes_in_shadow_are_found_where_they_are(looks: float, blur: float) -> None:
    grey = soft_face(looks=looks, blur=blur)
    assert irises(placed(face()), grey, GRID) == ()
    both = found_in(grey)
    assert len(both) == 2
    for one, (at_x, at_y) in zip(both, EYES, strict=True):
        place = (np.array((one.iris.x, one.iris.y)) + 0.5) * GRID.pitch_mm
        assert np.hypot(*(place - (at_x + looks, at_y))) < 0.9
        assert one.iris.radius * GRID.pitch_mm == pytest.approx(RADIUS, abs=0.1)
        for line, high in zip(one.lines(), (-UPPER, LOWER), strict=True):
            across, down = ((line + 0.5) * GRID.pitch_mm - (at_x, at_y)).T
            here = np.abs(across) < 0.7 * HALF
            assert np.abs(down - np.sign(high) * lid(across, abs(high)))[here].max() < 1.0


def test_they_are_features_of_the_face() -> None:
    grey = soft_face()
    picture = SampledPicture(grey=grey, chroma=(), across_mm=0.25, down_mm=0.25)
    found = face_features(placed(face()), picture)
    assert [one.iris for one in found.lids] == list(found.irises)
    assert len(found.irises) == 2


def test_a_face_whose_irises_are_known_is_not_looked_at() -> None:
    grey = soft_face()
    known = tuple(one.iris for one in found_in(grey))
    assert found_in(grey, known) == ()


@pytest.mark.parametrize("what", ["skin", "noise", "closed", "glasses", "one", "shadow"])
def test_where_no_eyes_are_seen_none_are_found(what: str) -> None:
    """Bare skin; blotches; closed eyes; dark glasses; one eye alone; sockets in deep shadow."""
    x, y = places_of_grid()
    grey = soft_face(opened=what != "closed")
    if what == "skin":
        grey = np.full_like(grey, 190)
    elif what == "noise":
        grey = noise(3, 8.0, 3.0)
    elif what == "glasses":
        glass = np.min([np.hypot((x - a) / 12, (y - b) / 9) for a, b in EYES], axis=0) < 1
        grey = np.where(glass, 40 + grey // 16, 190).astype(np.uint8)
    elif what == "one":
        grey = np.where(x > 75, 190, grey).astype(np.uint8)
    elif what == "shadow":
        grey = (20 + grey // 4).astype(np.uint8)
    assert found_in(grey) == ()


def test_eyes_that_are_printed_small_are_left() -> None:
    laid = placed(face())
    small = replace(GRID, across_mm=GRID.across_mm / 2, down_mm=GRID.down_mm / 2)
    assert soft_eyes(laid, face_frames(laid, ()), (), soft_face(), small) == ()
