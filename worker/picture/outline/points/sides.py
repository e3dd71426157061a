"""How much the two sides of a line differ as wholes, in grey and colour.

A line that parts two things has another mean on either side, however much texture each of them
has. Along a line of a texture, as of grain, grass or leaves within a crown, both are alike.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats, box_mean

_Ints = npt.NDArray[np.int64]
#: Sides are seen in squares that reach so far from their middles, and these lie so far aside.
_REACH_MM, _ASIDE_MM = 4.0, 6.0


def sides_apart(channels: Sequence[Floats], points: Points, cell_px: int, cell_mm: float) -> Floats:
    """By how many levels the means of both sides of points differ, over all channels.

    Args:
        channels: Grey, and colour as far as it counts beside it, in means of small cells.
        points: Where it is asked for.
        cell_px: A cell's side in pixels of the picture's grid.
        cell_mm: The same in mm.
    """
    reach = max(round(_REACH_MM / cell_mm), 1)
    # Squares on either side do not overlap.
    aside_px = np.float32(max(_ASIDE_MM / cell_mm, reach + 0.5) * cell_px)
    one, two = (_cells_at(points, far, cell_px, channels[0].shape) for far in (aside_px, -aside_px))
    squared = np.zeros(len(points), np.float32)
    for channel in channels:
        means = box_mean(channel, reach).ravel()
        squared += (means[one] - means[two]) ** 2
    return np.sqrt(squared)


def _cells_at(points: Points, far: np.float32, cell_px: int, shape: tuple[int, ...]) -> _Ints:
    """The cells so far aside of points."""
    row = ((points.y + far * points.across_y) / cell_px).astype(np.int64)
    column = ((points.x + far * points.across_x) / cell_px).astype(np.int64)
    row, column = np.clip(row, 0, shape[0] - 1), np.clip(column, 0, shape[1] - 1)
    return np.asarray(row * shape[1] + column)
