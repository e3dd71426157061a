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
from worker.picture.outline.closing.way_strips import to_grid
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.fairing.fairing import faired
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.gaussian import Floats as Coordinates
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
_Flags = npt.NDArray[np.bool_]
_Weights = npt.NDArray[np.uint8]


def missing_outlines(
    placed: PlacedReading,
    grid: PixelGrid,
    lines: Polylines,
    weight: _Weights,
    size_mm: tuple[float, float],
) -> tuple[Polylines, _Weights]:
    """What is missing of outer contours, and how heavy it is.

    Args:
        placed: The reading.
        grid: That it lies under.
        lines: All that is drawn, in mm of the picture.
        weight: Of the first lines, whose ends may go on.
        size_mm: Of the picture, across and down; no line ends at its edge.
    """
    ends = _may_go_on(placed, grid, lines, len(weight))
    ends = ends[_open(lines, ends, size_mm)]
    x, y = _on_grid(lines.places, grid)
    chains = Chains(order=np.arange(len(x)), first=lines.first, closed=lines.closed)
    painted = PaintedLines.on(placed.layers[0], chains, x, y)
    ways = facing_ends(placed, painted, ends).apart(painted).chosen()
    owner = lines.owner
    heavier = np.maximum(weight[owner[ways.end]], weight[owner[ways.met]])
    return _fair(placed, grid, lines, ways), np.maximum(heavier, np.uint8(PLAIN))


def _on_grid(places: Floats, grid: PixelGrid) -> tuple[Coordinates, Coordinates]:
    """Places in mm of the picture, in pixels of the grid."""
    x, y = (places / (grid.across_mm, grid.down_mm) - 0.5).astype(np.float32).T
    return x, y


def _may_go_on(placed: PlacedReading, grid: PixelGrid, lines: Polylines, many: int) -> _Ints:
    """Places that are ends of what may bound something, outside of faces."""
    first, last = lines.first[:-1][:many], lines.first[1:][:many] - 1
    long_mm = _LONG_PX * placed.layers[0].map_px * grid.pitch_mm
    goes_on = ~lines.closed[:many] & (lines.lengths_mm[:many] > long_mm)
    ends = np.concatenate((first[goes_on], last[goes_on]))
    x, y = _on_grid(lines.places[ends], grid)
    may = (placed.face_px(x, y) == 0) & (placed.sampled("outer", x, y) > _BOUNDS)
    return np.asarray(ends[may])


def _open(lines: Polylines, ends: _Ints, size_mm: tuple[float, float]) -> _Flags:
    """Which ends are near no other line, nor the picture's edge."""
    place = lines.places[ends]
    one, two = within(place, lines.places, _OPEN_MM)
    found = np.minimum(place, size_mm - place).min(axis=1, initial=np.inf) > _EDGE_MM
    found[one[lines.owner[ends[one]] != lines.owner[two]]] = False
    return np.asarray(found)


def _fair(placed: PlacedReading, grid: PixelGrid, lines: Polylines, ways: OuterWays) -> Polylines:
    """Ways as fair lines, from the places of lines that they begin and end at."""
    map_px, found = placed.layers[0].map_px, list[Floats]()
    for end, met, way in zip(ways.end, ways.met, ways.way, strict=True):
        # About as far apart as points of lines are, where there are so many.
        far_px = np.abs(np.diff(way)).sum() * map_px
        many = int(np.clip(far_px, 1, len(way) - 1))
        column = np.rint(np.linspace(0, len(way) - 1, many + 1)).astype(np.int64)[1:-1]
        x, y = to_grid(placed, way[column])
        inner = (np.stack((x, y), axis=1) + 0.5) * (grid.across_mm, grid.down_mm)
        found.append(np.concatenate((lines.places[[end]], inner, lines.places[[met]])))
    new = Polylines.of(found)
    known = np.full(len(new.places), _KNOWN_PX * map_px * grid.pitch_mm)
    return faired(new, known, np.zeros(len(new.places), np.bool_))
