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

_Ints = npt.NDArray[np.intp]
#: Sides are seen in squares that reach so far from their middles, and these lie so far aside.
_REACH_MM, _ASIDE_MM = 4.0, 6.0
#: Means are taken over squares of at most so many mm first.
_CELL_MM = 2.0


def coarsening(cell_mm: float) -> int:
    """Over how many cells of this side, in mm, means may be taken before sides are compared."""
    return max(int(_CELL_MM / cell_mm), 1)


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
    aside_px = max(_ASIDE_MM / cell_mm, reach + 0.5) * cell_px
    shape = (channels[0].shape[0], channels[0].shape[1])
    one, two = (cells_aside(points, far, cell_px, shape) for far in (aside_px, -aside_px))
    squared = np.zeros(len(points), np.float32)
    for channel in channels:
        means = box_mean(channel, reach).ravel()
        off = means.take(one)
        off -= means.take(two)
        off *= off
        squared += off
    return np.sqrt(squared)


def cells_aside(points: Points, far_px: float, cell_px: int, shape: tuple[int, int]) -> _Ints:
    """The cells so far aside of points, counted row by row.

    Args:
        points: Whose lines they are beside.
        far_px: How far, in pixels of the picture's grid, towards light or away.
        cell_px: A cell's side.
        shape: Rows and columns of cells.
    """
    far = np.float32(far_px)
    row = _cell(points.y + far * points.across_y, cell_px, shape[0])
    row *= shape[1]
    row += _cell(points.x + far * points.across_x, cell_px, shape[1])
    return row


def _cell(places: Floats, cell_px: int, count: int) -> _Ints:
    places *= np.float32(1 / cell_px)
    np.clip(places, 0, count - 1, out=places)
    return places.astype(np.intp)
