"""What the picture is of: where its main thing lies, and which contrast is usual around it.

Lines are ranked by the thing that they are of and not each alone. A faint contour among faint ones
is a contour, as in a dark wood; a plain one behind what is in focus may be left out. Four things
tell the main thing, each of them a hint: what is in focus, what is in the picture's middle, heads
with their figures (common practice), and what the reading takes for a figure before a ground.

All of it changes slowly over the picture, so it is found on a coarse grid.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.evidence import Evidence
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats, box_mean
from worker.picture.outline.prominence.figures import sitters

#: Squares of the coarse grid, and over how many of them to either side values are averaged, twice.
_CELL_MM, _AROUND_CELLS = 8.0, 4
#: Contrast that contours usually have, in levels; in a faint picture or part it is less, down to
#: this share. So much of it is that of the whole picture, the rest that of the surroundings.
_USUAL_LEVELS, _FAINTEST_SHARE, _WHOLE = 45.0, 0.22, 0.5
#: As much as so many mm of sure contours say, it is so anyway; and weight, in points for each
#: square of the grid, below which a mean around says little.
_FEW_MM, _LITTLE = 100.0, 0.05
#: How much lines of what is not in focus count, and those in corners of the picture.
_OUT_OF_FOCUS, _CORNER = 0.5, 0.85
#: Of less of the picture than this nothing can be behind; it is asked at so many places a side.
_SOME, _ASKED = 0.1, 64
#: How much less lines count that are surely behind what the picture is of, where that is likelier
#: than not, and how much more what bounds it; so far aside, in pixels of the maps.
_GROUND, _OUTLINE, _ASIDE_PX = 0.3, 0.4, 8.0
#: Where there are heads: how much lines in them count, and those that are of no figure.
_HEAD, _BEHIND = 1.3, 0.6

_Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Prominence:
    """One value for each point.

    Attributes:
        usual: Contrast that contours have around it, in parts of what they have anywhere.
        main: How far it counts as being of the main thing; about 1.
        figure: How far it is of a figure, 0 to 1; 1 where no head was found.
        border: How far it is on a figure's border, 0 to 1.
        focus: How far it is in focus, 0 to 1.
        behind: How surely it is of what is behind what the picture is of, 0 to 1.
        bounds: How surely it bounds that, 0 to 1.
        within: How surely it lies within that, 0 to 1.
        head: Whether it is in a head, 0 or 1.
    """

    usual: Floats
    main: Floats
    figure: Floats
    border: Floats
    focus: Floats
    behind: Floats
    bounds: Floats
    within: Floats
    head: Floats


def prominence_of(  # noqa: PLR0913, PLR0917 - what is known of points, and where they are.
    points: Points,
    evidence: Evidence,
    placed: PlacedReading,
    shape: tuple[int, int],
    pitch_mm: float,
    figures: tuple[Floats, Floats],
    focus: Floats,
) -> Prominence:
    """Where points lie in what the picture is of.

    Args:
        points: All of them.
        evidence: What the reading says of each.
        placed: The reading.
        shape: Rows and columns of the picture's grid.
        pitch_mm: Its pixel.
        figures: How far points are of figures, and how far on their borders.
        focus: How far points are in focus.
    """
    cells = _Cells.of(points, shape, _CELL_MM / pitch_mm)
    figure, border = figures
    head = _in_heads(points, placed, shape)
    main = (_OUT_OF_FOCUS + (1 - _OUT_OF_FOCUS) * focus**2) * _middle(points, shape)
    # Heads and figures count more than what is behind them.
    main *= (_BEHIND + (1 - _BEHIND) * figure) * np.where(head > 0, _HEAD, 1)
    behind, bounds, within = _by_subject(points, placed, shape)
    main *= (1 - _GROUND * np.maximum(2 * behind - 1, 0)) * (1 + _OUTLINE * bounds)
    return Prominence(
        usual=_usual(points, evidence, cells, pitch_mm),
        main=np.asarray(main, np.float32),
        figure=figure,
        border=border,
        focus=focus,
        behind=behind,
        bounds=bounds,
        within=within,
        head=head,
    )


def _by_subject(
    points: Points, placed: PlacedReading, shape: tuple[int, int]
) -> tuple[Floats, Floats, Floats]:
    """How surely points are behind what the picture is of, bound it, and lie within it; 0 to 1.

    A line is behind it, or within it, if both sides are. As little as the picture is told apart, or
    has of it, is that known.
    """
    rows, columns = (np.linspace(0, side - 1, _ASKED, dtype=np.float32) for side in shape)
    likely = placed.subject(np.tile(columns, _ASKED), rows.repeat(_ASKED))
    told = np.abs(2 * likely - 1).mean() * min(likely.mean() / _SOME, 1)
    aside = np.float32(_ASIDE_PX * placed.layers[0].map_px)
    across, down = aside * points.across_x, aside * points.across_y
    one = placed.subject(points.x + across, points.y + down)
    two = placed.subject(points.x - across, points.y - down)
    return (
        np.asarray(told * (1 - np.maximum(one, two)), np.float32),
        np.asarray(np.abs(one - two), np.float32),
        np.asarray(told * np.minimum(one, two), np.float32),
    )


@dataclass(frozen=True, kw_only=True)
class _Cells:
    """The square of a coarse grid that each point is in."""

    at: _Ints
    rows: int
    columns: int

    @classmethod
    def of(cls, points: Points, shape: tuple[int, int], side_px: float) -> _Cells:
        rows, columns = (int(side / side_px) + 1 for side in shape)
        row = np.clip((points.y / side_px).astype(np.int64), 0, rows - 1)
        column = np.clip((points.x / side_px).astype(np.int64), 0, columns - 1)
        return cls(at=row * columns + column, rows=rows, columns=columns)

    def mean(self, values: Floats, weight: Floats, otherwise: float = 0.0) -> Floats:
        """The weighted mean around each square, flat, drawn to a value where little has weight."""
        total, little = self._around(weight), np.float32(_LITTLE)
        sums = self._around(values * weight) + np.float32(otherwise) * little
        return np.asarray(sums / (total + little), np.float32)

    def _around(self, values: Floats) -> Floats:
        sums = np.bincount(self.at, values, self.rows * self.columns).astype(np.float32)
        whole = sums.reshape(self.rows, self.columns)
        for _ in range(2):
            whole = box_mean(whole, _AROUND_CELLS)
        return whole.ravel()


def _usual(points: Points, evidence: Evidence, cells: _Cells, pitch_mm: float) -> Floats:
    """Contrast of contours beside what it is anywhere; few contours say little."""
    weight = evidence.ridge * evidence.contour
    few = _FEW_MM / pitch_mm
    whole = float((points.total * weight).sum() + _USUAL_LEVELS * few) / (float(weight.sum()) + few)
    # Where no contour is near, the whole picture's are all that there is to go by.
    around = cells.mean(points.total, weight, otherwise=whole)[cells.at]
    levels = np.float32(_WHOLE * whole) + np.float32(1 - _WHOLE) * around
    return np.asarray(np.clip(levels / _USUAL_LEVELS, _FAINTEST_SHARE, 1), np.float32)


def _middle(points: Points, shape: tuple[int, int]) -> Floats:
    down, across = points.y / shape[0] - 0.5, points.x / shape[1] - 0.5
    return np.asarray(1 - (1 - _CORNER) * 2 * (down**2 + across**2), np.float32)


def _in_heads(points: Points, placed: PlacedReading, shape: tuple[int, int]) -> Floats:
    inside = np.zeros(len(points), np.bool_)
    x, y = placed.shares(points.x, points.y)
    for face in sitters(placed, shape):
        head = face.head
        across = (x >= head.left) & (x <= head.left + head.width)
        inside |= across & (y >= head.top) & (y <= head.top + head.height)
    return inside.astype(np.float32)
