"""Round forms as lines: closed, each with its weight."""

from __future__ import annotations

import numpy as np

from tests.unit.picture.outline.contours.round_forms.painted_eyes import bird, found
from tests.unit.picture.outline.contours.round_forms.painted_eyes import ground as plain_ground
from tests.unit.picture.outline.contours.test_contour_lines import GRID
from worker.picture.outline.feature_lines.face_lines import FeatureLines
from worker.picture.outline.feature_lines.round_lines import round_lines
from worker.spec.strokes import FORM, INNER


def mean_radii(lines: FeatureLines, middle: tuple[float, float]) -> list[float]:
    """How far lines are from a place in mm, each in the mean."""
    parts = np.split(lines.lines.places, lines.lines.first[1:-1])
    return [float(np.hypot(*(part - middle).T).mean()) for part in parts]


def test_an_eye_is_heavy_and_the_light_in_it_light() -> None:
    lines = round_lines(found(bird((60.0, 50.0), 8.0)), GRID)
    assert lines.lines.closed.all()
    assert lines.weight.tolist() == [FORM, INNER]
    assert abs(mean_radii(lines, (60.0, 50.0))[0] - 8.0) < 0.1
    assert abs(mean_radii(lines, (62.0, 50.0 - 8 / 3))[1] - 2.0) < 0.1


def test_without_round_forms_there_is_no_line() -> None:
    assert not len(round_lines(found(plain_ground()), GRID).weight)
