"""Mouths, in faces painted for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.contours.features.painted_faces import (
    BELOW_MM,
    HALF_MM,
    LOWER_MM,
    OPEN_MM,
    PARTING_MM,
    UPPER_MM,
    frames,
    in_mm,
    mouth_edge,
    noise,
    painted,
    turned_round,
)
from tests.unit.picture.outline.contours.test_contour_lines import Floats
from worker.picture.outline.contours.features.face_frames import face_frames
from worker.picture.outline.contours.features.mouths import Mouth, mouths
from worker.picture.outline.points.sampled_picture import SampledPicture


def found_in(picture: SampledPicture) -> tuple[Mouth, ...]:
    return mouths(frames()[1], picture)


def off_mm(line: Floats, below: float) -> Floats:
    """How far a line is from the curve that was painted, but near corners."""
    across, down = in_mm(line)
    inner = np.abs(across) < 0.85 * HALF_MM
    return np.abs(down - mouth_edge(across, below))[inner]


@pytest.mark.parametrize("mouth", ["closed", "open"])
@pytest.mark.parametrize("blur", [1.0, 2.0])
def test_lips_and_what_is_between_them_are_found(mouth: str, blur: float) -> None:
    (one,) = found_in(painted(mouth=mouth, blur=blur))
    outer, inner = one.lines()
    between = (PARTING_MM,) if mouth == "closed" else (PARTING_MM, OPEN_MM)
    assert len(inner) == len(between)
    for line, below in zip((*outer, *inner), (UPPER_MM, LOWER_MM, *between), strict=True):
        assert np.sqrt((off_mm(line, below) ** 2).mean()) < 0.3
        assert off_mm(line, below).max() < 1.0
        across, down = in_mm(line[[0, -1]])
        assert np.abs(np.abs(across) - HALF_MM).max() < 1.5
        assert np.abs(down - BELOW_MM).max() < 1.0


def test_teeth_are_covered_and_the_chin_is_not() -> None:
    (one,) = found_in(painted(mouth="open"))
    across, down = np.array((0, 5, 0, 0, 20)) / 76, np.array((32, 33, 42, 22, 32)) / 76
    assert one.covers(across, down).tolist() == [True, True, False, False, False]


def test_in_a_mirrored_picture_a_mouth_is_mirrored() -> None:
    laid, _ = frames()
    picture = painted(mouth="open")
    back, mirrored = turned_round(laid, picture)
    (one,), (other,) = found_in(picture), mouths(face_frames(back, ()), mirrored)
    for lines, others in zip(one.lines(), other.lines(), strict=True):
        for line, there in zip(lines, others, strict=True):
            moved = there * (-1, 1) + (picture.shape[1] - 1, 0)
            # As finely as templates are tried.
            assert np.abs(line - moved).max() * 0.25 < 0.8


@pytest.mark.parametrize("what", ["nothing", "noise", "grey"])
def test_where_no_mouth_is_seen_none_is_found(what: str) -> None:
    """Skin; blotches on it; and a photo without colour, in which lips are not told from skin."""
    picture = painted(mouth="closed" if what == "grey" else "none")
    if what == "noise":
        picture = replace(picture, grey=noise(6, 10.0, 4.0))
    if what == "grey":
        picture = replace(picture, chroma=())
    assert found_in(picture) == ()


def test_a_moustache_is_no_lip() -> None:
    assert found_in(painted(mouth="moustache")) == ()
