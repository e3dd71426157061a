"""Noses, in faces painted for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.contours.features.painted_faces import (
    WING_MM,
    frames,
    in_mm,
    noise,
    nose_line,
    painted,
)
from worker.picture.outline.contours.features.noses import Nose, noses
from worker.picture.outline.points.sampled_picture import SampledPicture


def found_in(picture: SampledPicture) -> tuple[Nose, ...]:
    return noses(frames()[1], picture.grey)


@pytest.mark.parametrize("blur", [1.0, 2.0])
def test_the_line_below_a_nose_is_found_from_wing_to_wing(blur: float) -> None:
    (one,) = found_in(painted(nose=True, blur=blur))
    across, down = in_mm(one.line())
    inner = np.abs(across) < 0.9 * WING_MM
    assert np.abs(down - nose_line(across))[inner].max() < 0.3
    assert across.min() == pytest.approx(-WING_MM, abs=1.0)
    assert across.max() == pytest.approx(WING_MM, abs=1.0)


@pytest.mark.parametrize("what", ["nothing", "noise", "nostril"])
def test_where_no_nose_is_seen_none_is_found(what: str) -> None:
    """Skin; blotches on it; one dark spot, as of a mole."""
    picture = painted(brows=False, mouth="none")
    if what == "noise":
        picture = replace(picture, grey=noise(7, 8.0, 3.0))
    if what == "nostril":
        grey = picture.grey.copy()
        grey[218:226, 284:300] = 70
        picture = replace(picture, grey=grey)
    assert found_in(picture) == ()


def test_near_the_line_is_what_is_a_line_width_away() -> None:
    (one,) = found_in(painted(nose=True))
    across, down = np.array((0, 0, 0, 14)) / 76, np.array((21.5, 20.6, 18.5, 21.5)) / 76
    assert one.covers(across, down).tolist() == [True, True, False, False]
