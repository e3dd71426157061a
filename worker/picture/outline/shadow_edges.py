"""Edges of shadows and of spots of light, as lines of their own.

The reading tells them from contours. They are the ridges of its map of shadows, as fair curves:
a soft edge has no place to a fraction of a millimetre. Where a contour runs as well, as where
a shadow ends at the thing that throws it, the contour is drawn and the edge of the shadow not.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.contours.layered_ridges import layered_ridges
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.contours.ridge_places import Flags, Ints, Places, places_along
from worker.picture.outline.points.sampled_picture import PixelGrid
from worker.picture.outline.polylines import Polylines

#: Likelihood that a line of shadow needs on the mean, and how likely a contour may be there.
_NEEDED, _NO_CONTOUR = 0.4, 0.3
#: Shorter lines are left out: an edge of shadow says something of a form by its course.
_SHORTEST_MM = 10.0


def shadow_edges(placed: PlacedReading, shape: tuple[int, int], grid: PixelGrid) -> Polylines:
    """Edges of shadows, in mm of the picture.

    Args:
        placed: The reading.
        shape: Rows and columns of the picture's grid.
        grid: The grid.
    """
    places = places_along(layered_ridges(placed, "shadow"), shape)
    contour = placed.sampled("contour", places.x, places.y)
    line = _parted(places, contour < _NO_CONTOUR)
    likely = placed.sampled("shadow", places.x, places.y)
    first, counts = np.unique(line, return_index=True, return_counts=True)[1:]
    mean = np.bincount(line, likely)[line[first]] / counts
    # Places are a pixel of the grid apart.
    keep = (mean > _NEEDED) & (counts * grid.pitch_mm >= _SHORTEST_MM)
    keep &= contour[first] < _NO_CONTOUR
    kept = np.isin(line, line[first][keep])
    middle = np.stack((places.x[kept], places.y[kept]), axis=1).astype(np.float64) + 0.5
    return Polylines(
        places=middle * (grid.across_mm, grid.down_mm),
        first=np.concatenate(([0], np.cumsum(counts[keep]))),
        closed=np.zeros(int(keep.sum()), bool),
    )


def _parted(places: Places, free: Flags) -> Ints:
    """Numbers of lines that end where a contour begins."""
    new = (np.diff(places.line, prepend=-1) != 0) | np.diff(free, prepend=True)
    return np.asarray(np.cumsum(new), np.int64)
