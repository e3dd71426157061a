"""Straight edges of the picture itself: they know where a built thing has its sides.

The reading's map has one band of both sides of a frame, and turns its corners in a curve; the
picture's own edges are known to a twentieth of a pixel. So chains of them are divided into straight
segments (as Akinlar and Topal have it, 2011), of which those are kept that are plain.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.plain_forms import PlainForms
from worker.picture.outline.points.chains import chains_of
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.linking import Ids
from worker.picture.outline.points.sampled_picture import PixelGrid
from worker.picture.outline.polylines import Flags, Floats, Polylines
from worker.picture.outline.ruling.collinear import joined_pieces
from worker.picture.outline.ruling.dividing import divided, straight_stretches
from worker.picture.outline.ruling.fitting import Rule
from worker.picture.outline.ruling.meeting import ruled_ways

#: Points of edges have so many levels of contrast, and segments so many in the mean.
_POINT_LEVELS, _LEVELS = 18.0, 22.0
#: What scales with the picture is given in mm of one that is so large, 60 x 40 cm.
_USUAL_MM2 = 600.0 * 400.0
#: Edges are looked at in squares of this side where lines are drawn, and in those around.
_CELL_MM = 4.0
#: No point is further from its segment than this, in pixels of the grid: grain and a lens's bow.
_NEAR_PX = 1.2
_STRAIGHT = Rule(
    shortest_mm=3.0,
    shortest_part_mm=3.0,
    aside=0.1,
    bow=0.04,
    nearer=1.0,
    frayed=0.0,
    furthest=1.0,
)


@dataclass(frozen=True, kw_only=True, eq=False)
class PictureEdges:
    """Edges of a picture.

    Attributes:
        points: Their points.
        link: Neighbours of each.
        plain: Where there is lettering, which has no frames.
        grid: The grid that points are on.
        size_mm: Of the picture, across and down.
    """

    points: Points
    link: Ids
    plain: PlainForms
    grid: PixelGrid
    size_mm: tuple[float, float]

    @property
    def scale(self) -> float:
        """How large the picture is beside one of 60 x 40 cm, by the root of its area."""
        return math.sqrt(self.size_mm[0] * self.size_mm[1] / _USUAL_MM2)

    def beside(self, places: Floats) -> PictureEdges:
        """Those that are clear, around places of lines in mm.

        Args:
            places: (places, 2), in mm of the picture.
        """
        points = self.points
        keep = points.total > np.float32(_POINT_LEVELS)
        keep[keep] = _beside(in_mm(points.taken(keep), self.grid), places)
        letters = replace(self.plain, squares=self.plain.letters)
        keep[keep] = ~letters.within(points.x[keep], points.y[keep])
        number = np.where(keep, np.cumsum(keep) - 1, -1).astype(np.int32)
        link = self.link[keep]
        return PictureEdges(
            points=points.taken(keep),
            link=np.where(link >= 0, number[link], np.int32(-1)),
            plain=self.plain,
            grid=self.grid,
            size_mm=self.size_mm,
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class Segments:
    """Straight edges, along which the lighter side is that of positive cross products.

    Attributes:
        start, stop: In mm of the picture; (segments, 2).
        levels: The contrast of each.
        kind: What the middle of each is: `EDGE`, or of a thin line, which has no lighter side.
    """

    start: Floats
    stop: Floats
    levels: Floats
    kind: npt.NDArray[np.uint8]

    def __len__(self) -> int:
        """How many."""
        return len(self.kind)

    def longer(self, least_mm: float) -> Segments:
        """Those that are so long."""
        long = self.lengths_mm >= least_mm
        names = Segments.__dataclass_fields__
        return Segments(**{name: getattr(self, name)[long] for name in names})

    @property
    def lengths_mm(self) -> Floats:
        """From end to end."""
        return np.asarray(np.hypot(*(self.stop - self.start).T))

    @property
    def ways(self) -> Floats:
        """Unit vectors from start to stop."""
        return np.asarray((self.stop - self.start) / self.lengths_mm[:, None])


@dataclass(frozen=True, kw_only=True, eq=False)
class SeenEdges:
    """Edges around lines, with their straight segments."""

    edges: PictureEdges
    segments: Segments


def segments_of(edges: PictureEdges) -> Segments:
    """Straight segments of edges."""
    points, grid = edges.points, edges.grid
    chains = chains_of(edges.link)
    chains = chains.taken(chains.counts * grid.pitch_mm > _STRAIGHT.shortest_mm)
    lines = Polylines(
        places=in_mm(points.taken(chains.order), grid), first=chains.first, closed=chains.closed
    )
    near = np.full(len(lines.places), _NEAR_PX * grid.pitch_mm)
    ends = divided(lines, np.zeros(len(lines.places), np.bool_))
    found = straight_stretches(lines, near, _STRAIGHT, ends)
    sums = (points.total, points.across_x, points.across_y)
    levels, across_x, across_y = (
        np.diff(
            np.concatenate(([0.0], np.cumsum(each[chains.order], dtype=np.float64)))[
                np.stack((found.begin, found.end + 1), axis=1)
            ]
        )[:, 0]
        / (found.end + 1 - found.begin)
        for each in sums
    )
    ways = ruled_ways(lines.places, found)
    way = ways.stop - ways.start
    back = (way[:, 0] * across_y < way[:, 1] * across_x)[:, None]
    clear = levels > _LEVELS
    start = np.where(back, ways.stop, ways.start)[clear]
    stop = np.where(back, ways.start, ways.stop)[clear]
    kind = points.kind[chains.order[(found.begin + found.end) // 2]][clear]
    levels = levels[clear]
    start, stop, pieces = joined_pieces(start, stop, kind)
    first = np.array([each[0] for each in pieces], np.int64)
    return Segments(
        start=start,
        stop=stop,
        levels=np.array([levels[each].mean() for each in pieces]),
        kind=kind[first],
    )


def in_mm(points: Points, grid: PixelGrid) -> Floats:
    """Places of points in mm of the picture; (points, 2)."""
    places = np.stack((points.x, points.y), axis=1).astype(np.float64) + 0.5
    return np.asarray(places * (grid.across_mm, grid.down_mm))


def _beside(at: Floats, places: Floats) -> Flags:
    """Which of some places are in squares of others, or beside these."""
    cells, others = (
        np.floor(np.maximum(each, 0) / _CELL_MM).astype(np.int64) + 1 for each in (at, places)
    )
    columns, rows = np.maximum(cells.max(axis=0, initial=0), others.max(axis=0, initial=0)) + 2
    squares = np.zeros((rows, columns), np.bool_)
    for down in (-1, 0, 1):
        for across in (-1, 0, 1):
            squares[others[:, 1] + down, others[:, 0] + across] = True
    return np.asarray(squares[cells[:, 1], cells[:, 0]])
