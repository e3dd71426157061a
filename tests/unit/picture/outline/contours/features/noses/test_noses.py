"""Noses, in faces painted for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.contours.features.painted_faces import (
    NOSE_MM,
    OFF,
    WING_MM,
    in_mm,
    noise,
    nose_line,
    painted,
    part,
    wing_line,
)
from worker.picture.outline.contours.features.noses.noses import nose


@pytest.mark.parametrize("off", OFF)
@pytest.mark.parametrize("blur", [1.0, 2.0])
def test_a_nose_is_found_along_its_wings_and_below(blur: float, off: tuple[float, float]) -> None:
    seen = part(painted(nose=True, blur=blur), off)
    line = nose(seen)
    assert line is not None
    across, down = in_mm(seen.on_grid(line))
    below = (np.abs(across) < 0.9 * WING_MM) & (down > NOSE_MM)
    assert np.ptp(across[below]) > 1.7 * WING_MM
    assert np.abs(down - nose_line(across))[below].max() < 0.3
    wing = down < NOSE_MM - 1.0
    assert np.abs(np.abs(across) - wing_line(NOSE_MM - down))[wing].max() < 0.5
    for side in (-1, 1):
        assert np.ptp(down[wing & (side * across > 0)]) > 1.5


@pytest.mark.parametrize("what", ["nothing", "noise"])
def test_where_no_nose_is_seen_none_is_found(what: str) -> None:
    """Skin; and blotches on it."""
    picture = painted(brows=False, mouth="none")
    if what == "noise":
        picture = replace(picture, grey=noise(7, 8.0, 3.0))
    assert nose(part(picture)) is None
