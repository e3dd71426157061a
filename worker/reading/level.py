"""Boxes that are level with two landmarks, for what is looked at upright."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.reading.planes import Floats

Doubles = npt.NDArray[np.float64]


def level_box(places: Floats, first: Floats, last: Floats) -> tuple[Doubles, Doubles, Doubles]:
    """The box around places that is level with the way from one landmark to another.

    Args:
        places: (places, 2); NaN where nothing is known.
        first: The landmark that the way begins at, (2,).
        last: The one that it ends at.

    Returns:
        What is to the right and below in it, (2, 2), as `turned` says; and its upper left and
        lower right corner along these.
    """
    turn = turned(unit(last.astype(float) - first))
    level = places[~np.isnan(places[:, 0])].astype(float) @ turn
    return turn, level.min(0), level.max(0)


def turned(right: Doubles) -> Doubles:
    """What is to the right, and what is below, as columns."""
    return np.array([[right[0], -right[1]], [right[1], right[0]]])


def unit(vector: Doubles) -> Doubles:
    """The same way, one long."""
    return np.asarray(vector / max(float(np.hypot(*vector)), 1e-6))
