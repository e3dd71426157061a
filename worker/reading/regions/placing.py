"""Borders of regions moved to where the picture has an edge.

Regions are grown on a coarse grid, so their borders run in steps and beside what they follow. Of
all ways that stay near, each takes the one with most of contours and slopes along it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.reading.best_paths import best_path
from worker.reading.planes import Floats, between_pixels
from worker.reading.regions.merging import Doubles, Ints

#: Places are so far apart, in pixels, and means are taken along a line so often before and after.
_STEP_PX, _BEFORE, _AFTER = 2.0, 10, 4
#: So far aside a line may be moved, in pixels, and so far more from one place to the next.
_ASIDE_PX, _MORE_PX = 6, 2
#: What a likely contour counts at most, how much slopes count beside, and what it costs to be a
#: pixel aside, or to go a pixel aside, squared.
_MOST_LIKELY, _SLOPE, _IS_ASIDE, _GOES_ASIDE = 0.8, 0.5, 0.006, 0.15


@dataclass(frozen=True, kw_only=True, eq=False)
class PlacedLines:
    """Lines in pixels of the picture.

    Attributes:
        places: (places, 2) line after line, from the middle of the first pixel.
        first: (lines + 1,) line i has the places from `first[i]` up to `first[i + 1]`.
    """

    places: Doubles
    first: Ints

    @property
    def owner(self) -> Ints:
        """The line of each place."""
        return np.repeat(np.arange(len(self.first) - 1), np.diff(self.first))


def placed(lines: list[Doubles], contour: Floats, slope: Floats) -> PlacedLines:
    """Lines on the picture's edges.

    Args:
        lines: Each (places, 2), in pixels of the picture; at least one.
        contour: (rows, columns) how likely a contour passes.
        slope: (rows, columns) how steep the picture is, about 0 to 1.
    """
    parts = [_evenly(line) for line in lines]
    first = np.concatenate(([0], np.cumsum([len(part) for part in parts])))
    rough = PlacedLines(places=np.concatenate(parts), first=first)
    places = _levelled(rough, _BEFORE)
    ahead = np.gradient(places, axis=0)
    # At an end the way is that of the place beside it.
    at = np.arange(len(places))
    at[first[:-1]] += 1
    at[first[1:] - 1] -= 1
    ahead = ahead[at]
    ahead /= np.maximum(np.hypot(*ahead.T), 1e-6)[:, None]
    aside = np.arange(-_ASIDE_PX, _ASIDE_PX + 1)
    x = places[:, :1] - aside * ahead[:, 1:]
    y = places[:, 1:] + aside * ahead[:, :1]
    worth = np.minimum(between_pixels(contour, x, y), _MOST_LIKELY)
    worth += _SLOPE * np.minimum(between_pixels(slope, x, y), 1) - _IS_ASIDE * np.abs(aside)
    best = _best(worth, rough)
    moved = np.stack((x[np.arange(len(x)), best], y[np.arange(len(y)), best]), axis=1)
    return PlacedLines(
        places=_levelled(PlacedLines(places=moved, first=first), _AFTER), first=first
    )


def _evenly(line: Doubles) -> Doubles:
    """Places of a line at even steps, three at least."""
    along = np.concatenate(([0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
    at = np.linspace(0, along[-1], max(round(along[-1] / _STEP_PX), 2) + 1)
    return np.stack([np.interp(at, along, side) for side in line.T], axis=1)


def _levelled(lines: PlacedLines, rounds: int) -> Doubles:
    """Places averaged along their lines, of which ends stay."""
    places = lines.places.copy()
    inner = np.ones(len(places), bool)
    inner[lines.first[:-1]] = inner[lines.first[1:] - 1] = False
    at = np.flatnonzero(inner)
    for _ in range(rounds):
        places[at] = (places[at - 1] + 2 * places[at] + places[at + 1]) / 4
    return places


def _best(worth: Floats, lines: PlacedLines) -> Ints:
    """How far aside each place goes so that its line is worth most: an index into `worth`."""
    count = np.diff(lines.first)
    step = np.arange(len(worth)) - np.repeat(lines.first[:-1], count)
    # Beyond the end of a line nothing is worth anything, and none goes aside there.
    strips = np.zeros((len(count), worth.shape[1], int(count.max())))
    strips[lines.owner, :, step] = worth
    costs = [_GOES_ASIDE * more * more for more in range(1, _MORE_PX + 1)]
    return best_path(strips, costs)[lines.owner, step]
