"""Where enough is straight, all is built."""

from __future__ import annotations

import numpy as np
import pytest

from worker.picture.outline.polylines import Polylines
from worker.picture.outline.ruling.straightening import ruled


@pytest.mark.parametrize(("sills", "built"), [(3, False), (6, True)])
def test_a_picture_of_few_lines_is_built_only_if_much_is_straight(
    sills: int,
    built: bool,  # noqa: FBT001 - one of the cases.
) -> None:
    """A bird on a post has some straight lines that are parallel, and hardly any others."""
    far = np.arange(0, 42, 0.25)
    level = [np.stack((far, np.full(len(far), 10.0 * at)), axis=1) for at in range(sills)]
    upright = [each[:, ::-1] + (60.0, 0.0) for each in level]
    angle = np.arange(0, 3, 0.005)
    bows = [
        50 * np.stack((np.cos(angle), np.sin(angle)), axis=1) + (200.0, 100.0 * at)
        for at in range(4)
    ]
    found = ruled(Polylines.of([*level, *upright, *bows]), 0.3).built
    assert found.all() == built
