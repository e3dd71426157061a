"""Outer contours of what a picture is of, closed where fur, blur or dark left gaps in them.

A draughtsman closes the outer contour of the main thing before anything else (common practice). It
is done last, over all that is drawn, so that nothing is drawn twice and every end lies where it
will be.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.closing.facing_ends import facing_ends
from worker.picture.outline.closing.outer_ways import OuterWays
from worker.picture.outline.closing.painted_lines import PaintedLines
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.fairing.fairing import faired
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.nearness import within
from worker.picture.outline.points.sampled_picture import PixelGrid
from worker.picture.outline.polylines import Floats, Polylines
from worker.spec.strokes import PLAIN

#: A line that goes on is so long, in pixels of the map; and its end is so far from any other line,
#: and from the picture's edge, in mm.
_LONG_PX, _OPEN_MM, _EDGE_MM = 15.0, 0.5, 3.0
#: What is less likely than this to bound anything does not go on.
_BOUNDS = 0.3
#: So near a way is known to run, in pixels of the map.
_KNOWN_PX = 2.2

_Ints = npt.NDArray[np.int64]
_Weights = npt.NDArray[np.uint8]


def missing_outlines(
    placed: PlacedReading, grid: PixelGrid, lines: Polylines, weight: _Weights, many: int
) -> tuple[Polylines, _Weights]:
    """What is missing of outer contours, and how heavy it is.

    Args:
        placed: The reading.
        grid: That it lies under.
        lines: All that is drawn, in mm of the picture.
        weight: Of each.
        many: Of so many lines, the first ones, ends may go on.
    """
    place = lines.places / (grid.across_mm, grid.down_mm) - 0.5
    x, y = place.astype(np.float32).T
    chains = Chains(order=np.arange(len(x)), first=lines.first, closed=lines.closed)
    painted = PaintedLines.on(placed.layers[0], chains, x, y)
    ends = _open_ends(lines, painted, many)
    ends = ends[placed.face_px(x[ends], y[ends]) == 0]
    ends = ends[placed.sampled("outer", x[ends], y[ends]) > _BOUNDS]
    ways = facing_ends(placed, painted, ends).apart(painted).chosen()
    owner = lines.owner
    heavier = np.maximum(weight[owner[ways.end]], weight[owner[ways.met]])
    return _fair(placed, grid, lines, ways), np.maximum(heavier, np.uint8(PLAIN))


def _open_ends(lines: Polylines, painted: PaintedLines, many: int) -> _Ints:
    """Places that are ends and near no other line."""
    first, last = lines.first[:-1][:many], lines.first[1:][:many] - 1
    goes_on = ~lines.closed[:many] & (last - first > _LONG_PX * painted.px)
    ends = np.concatenate((first[goes_on], last[goes_on]))
    place = lines.places[ends]
    size = lines.places.max(axis=0, initial=0)
    inside = (np.minimum(place, size - place) > _EDGE_MM).all(axis=1)
    ends = ends[inside]
    one, two = within(lines.places[ends], lines.places, _OPEN_MM)
    met = lines.owner[ends[one]] != lines.owner[two]
    return np.delete(ends, np.unique(one[met]))


def _fair(
    placed: PlacedReading, grid: PixelGrid, lines: Polylines, ways: OuterWays
) -> Polylines:
    """Ways as fair lines, from the places of lines that they begin and end at."""
    whole, found = placed.layers[0], list[Floats]()
    for number, (end, met) in enumerate(zip(ways.end, ways.met, strict=True)):
        way = ways.way[number, 1 : ways.last[number]]
        x, y = whole.to_grid(way.real, way.imag)
        inner = (np.stack((x, y), axis=1) + 0.5) * (grid.across_mm, grid.down_mm)
        found.append(np.concatenate((lines.places[[end]], inner, lines.places[[met]])))
    new = Polylines.of(found)
    known = np.full(len(new.places), _KNOWN_PX * whole.map_px * grid.pitch_mm)
    return faired(new, known, np.zeros(len(new.places), np.bool_))
