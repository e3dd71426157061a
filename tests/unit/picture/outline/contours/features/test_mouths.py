"""Mouths, in faces painted for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.contours.features.painted_faces import (
    BELOW_MM,
    HALF_MM,
    LOWER_MM,
    OFF,
    OPEN_MM,
    PARTING_MM,
    UPPER_MM,
    in_mm,
    marks,
    mirrored,
    mouth_edge,
    noise,
    open_marks,
    painted,
    part,
)
from tests.unit.picture.outline.contours.test_contour_lines import Floats
from worker.picture.outline.contours.features.face_part import face_part
from worker.picture.outline.contours.features.mouths import mouth


def off_mm(line: Floats, below: float) -> Floats:
    """How far a line is from the curve that was painted, but near corners."""
    across, down = in_mm(line)
    inner = np.abs(across) < 0.85 * HALF_MM
    return np.abs(down - mouth_edge(across, below))[inner]


@pytest.mark.parametrize("off", OFF)
@pytest.mark.parametrize("kind", ["closed", "open"])
@pytest.mark.parametrize("blur", [1.0, 2.0])
def test_lips_and_what_is_between_them_are_found(
    kind: str, blur: float, off: tuple[float, float]
) -> None:
    places = marks(off) if kind == "closed" else open_marks(off)
    seen = face_part(places, painted(mouth=kind, blur=blur))
    one = mouth(seen)
    assert one is not None
    between = (PARTING_MM,) if kind == "closed" else (PARTING_MM, OPEN_MM)
    assert len(one.inner) == len(between)
    curves = (UPPER_MM, LOWER_MM, *between)
    for found, below in zip((*one.outer, *one.inner), curves, strict=True):
        line = seen.on_grid(found)
        assert np.sqrt((off_mm(line, below) ** 2).mean()) < 0.3
        assert off_mm(line, below).max() < 1.0
        across, down = in_mm(line[[0, -1]])
        assert np.abs(np.abs(across) - HALF_MM).max() < 1.5
        assert np.abs(down - BELOW_MM).max() < 1.0


def test_in_a_mirrored_picture_a_mouth_is_mirrored() -> None:
    picture = painted(mouth="open")
    seen = face_part(open_marks(), picture)
    back, places = mirrored(picture, open_marks())
    there = face_part(places, back)
    one, other = mouth(seen), mouth(there)
    assert one is not None
    assert other is not None
    for line, turned in zip((*one.outer, *one.inner), (*other.outer, *other.inner), strict=True):
        moved = there.on_grid(turned)[::-1] * (-1, 1) + (picture.shape[1] - 1, 0)
        assert np.abs(seen.on_grid(line) - moved).max() * 0.25 < 0.3


@pytest.mark.parametrize("what", ["nothing", "noise", "grey"])
def test_where_no_mouth_is_seen_none_is_found(what: str) -> None:
    """Skin; blotches on it; and a photo without colour, in which lips are not told from skin."""
    picture = painted(mouth="closed" if what == "grey" else "none")
    if what == "noise":
        picture = replace(picture, grey=noise(6, 10.0, 4.0))
    if what == "grey":
        picture = replace(picture, chroma=())
    assert mouth(part(picture)) is None


def test_a_moustache_is_no_lip() -> None:
    assert mouth(part(painted(mouth="moustache"))) is None
