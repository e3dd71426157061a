"""Faces whose features are sought, and those that are left to their edges."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.contours.features.painted_faces import face, marks, painted
from tests.unit.picture.outline.contours.test_contour_lines import placed
from worker.picture.outline.contours.features import face_features
from worker.picture.outline.contours.features.face_features import features_of
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.contours.features.landmarks import TIP
from worker.picture.outline.points.sampled_picture import SampledPicture
from worker.spec.reading import Face


def found(places: np.ndarray, picture: SampledPicture) -> FoundFace | None:
    return features_of(places, placed(face()), picture)


def test_all_features_of_a_face_are_found() -> None:
    one = found(marks(), painted(eyes=True, nose=True))
    assert one is not None
    assert len(one.eyes) == len(one.brows) == 2
    assert one.mouth is not None
    assert one.nose is not None


@pytest.mark.parametrize(("size", "seen"), [(1.0, True), (0.6, True), (0.5, False)])
def test_a_small_face_is_left_to_its_edges(size: float, *, seen: bool) -> None:
    """A face of 76 mm, on paper of half the size and a little more."""
    picture = replace(painted(), across_mm=0.25 * size, down_mm=0.25 * size)
    assert (found(marks(), picture) is not None) is seen


@pytest.mark.parametrize(("at", "seen"), [(0.1, True), (0.9, True), (-0.1, False), (1.1, False)])
def test_a_profile_is_left_to_its_edges(at: float, *, seen: bool) -> None:
    """The nose is beyond one of the ears, in shares of the way between them."""
    places = marks()
    places[TIP, 0] += (at - 0.5) * 68.0 / 0.25
    assert (found(places, painted()) is not None) is seen


@pytest.mark.parametrize(
    ("off", "seen"),
    [((-60.0, 0.0), True), ((60.0, 0.0), True), ((-90.0, 0.0), False), ((0.0, -60.0), False)],
)
def test_a_face_that_is_cut_is_one_while_its_nose_is_there(
    off: tuple[float, float], *, seen: bool
) -> None:
    one = found(marks(off), painted(mouth="none", brows=False))
    assert (one is not None) is seen
    # On skin alone nothing is seen beside landmarks.
    assert one is None or (one.eyes, one.brows, one.mouth, one.nose) == ((), (), None, None)


@pytest.mark.parametrize(("size", "asked"), [(1.0, 1), (0.5, 1), (0.4, 0)])
def test_nothing_is_looked_for_in_a_box_that_is_far_too_small(
    size: float, asked: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same face on smaller paper: boxes of 76, 38 and 30 mm."""
    seen: list[Face] = []

    def look(_: object, __: object, faces: list[Face]) -> list[np.ndarray]:
        seen.extend(faces)
        return []

    monkeypatch.setattr(face_features, "seen_landmarks", look)
    picture = replace(painted(), across_mm=0.25 * size, down_mm=0.25 * size)
    assert face_features.seek_landmarks(placed(face()), picture) == []
    assert len(seen) == asked
