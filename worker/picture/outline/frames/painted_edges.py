"""Edges painted into small squares, so that what is supposed to be a side is compared with them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from worker.picture.outline.points.edge_points import CHROMA, DARK, EDGE, LIGHT
from worker.picture.outline.polylines import Flags, Floats, Ints
from worker.picture.outline.ruling.segments import PictureEdges, in_mm

#: The squares' sides, at least, and in pixels of the grid, so that edges have no gaps; a side is
#: found by edges in the square that it passes and beside it.
_SQUARE_MM, _SQUARE_PX = 0.5, 1.25
#: An edge is of a side if it is as parallel, by this cosine.
_PARALLEL = 0.85
#: Edges go on over gaps of so many mm at most, and are followed so far.
_GAP_MM, _BEYOND_MM = 3.0, 40.0
#: A side is turned to its edges the less, the fewer and nearer to each other they are.
_TURNS_LITTLE = 0.4
#: More contrast than this is no better.
_MOST_LEVELS = 80.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Found:
    """What there is of edges along supposed sides.

    Attributes:
        share: The share of each that has an edge.
        levels: The mean contrast, nothing where there is none.
        aside: How far inside of each, at both ends, the edges are, in mm; (sides, 2).
    """

    share: Floats
    levels: Floats
    aside: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Beside:
    """What there is of edges of one polarity beside lines: (lines, places beside).

    Attributes:
        share, levels: As `Found` has them.
        aside: How far inside of the place beside the edges are in the mean, in mm.
    """

    share: Floats
    levels: Floats
    aside: Floats


class PaintedEdges:
    """Edges of a picture.

    Attributes:
        scale: How large it is beside one of 60 x 40 cm.
    """

    def __init__(self, edges: PictureEdges) -> None:
        points, self._edges, self.scale = edges.points, edges, edges.scale
        self._points, self._places = points, in_mm(points, edges.grid)
        self._square_mm = max(_SQUARE_MM, _SQUARE_PX * edges.grid.pitch_mm)
        order = np.argsort(points.total, kind="stable")
        at = np.floor(self._places[order] / self._square_mm).astype(np.int64) + 2
        self._squares = np.full(tuple(at.max(axis=0, initial=0) + 4), -1, np.int64)
        across = np.stack((points.across_x, points.across_y), axis=1)[order]
        aside = np.where(np.abs(across[:, :1]) > np.abs(across[:, 1:]), (1, 0), (0, 1))
        for step in (-1, 1, 0):
            to = np.maximum(at + step * aside, 0)
            self._squares[to[:, 0], to[:, 1]] = order

    @cached_property
    def _across(self) -> tuple[Floats, Floats]:
        points = self._points
        return points.across_x.astype(np.float64), points.across_y.astype(np.float64)

    @cached_property
    def _thin(self) -> Flags:
        kind = self._points.kind
        return np.asarray((kind == LIGHT) | (kind == DARK) | (kind == CHROMA))

    def along(self, start: Floats, stop: Floats, dark: Flags, many: int = 16) -> Found:
        """Edges along sides whose inside is that of positive cross products.

        Args:
            start: Of each side, (sides, 2).
            stop: Of each side.
            dark: Whether what is inside is darker than what is outside.
            many: How many places of each are looked at.
        """
        share = (np.arange(many) + 0.5) / many
        way = stop - start
        inside = inwards(way)
        x, y = (start[:, axis, None] + share * way[:, axis, None] for axis in (0, 1))
        point, there = self._there(x, y, inside, dark)
        levels = np.minimum(self._points.total[point], _MOST_LEVELS)
        aside = self._aside(point, x, y, inside)
        return Found(
            share=there.mean(axis=1),
            levels=(levels * there).mean(axis=1),
            aside=_fitted(share, aside, there),
        )

    def lettered(self, places: Floats) -> Flags:
        """Which places of the picture, in mm, are of lettering."""
        plain, grid = self._edges.plain, self._edges.grid
        x, y = (places / (grid.across_mm, grid.down_mm) - 0.5).astype(np.float32).T
        return np.asarray(replace(plain, squares=plain.letters).within(x, y))

    def beside(self, start: Floats, stop: Floats, far: Floats, many: int) -> tuple[Beside, Beside]:
        """Edges at some distances inside of lines: those that are lighter inside, and darker.

        Args:
            start: Of each line, (lines, 2).
            stop: Of each line.
            far: The distances in mm, to the side of positive cross products.
            many: How many places of each are looked at.
        """
        share = (np.arange(many) + 0.5) / many
        way = stop - start
        inside = inwards(way)
        x, y = (
            start[:, axis, None, None]
            + share * way[:, axis, None, None]
            + far[:, None] * inside[:, axis, None, None]
            for axis in (0, 1)
        )
        point = self._at(x, y)
        cosine = self._cosine(point, inside[:, None])
        thin = self._thin[point]
        edge = (point >= 0) & (thin | (self._points.kind[point] == EDGE))
        levels = np.minimum(self._points.total[point], _MOST_LEVELS)
        aside = self._aside(point, x, y, inside[:, None])
        found = []
        for along in (cosine, -cosine):
            there = edge & (np.where(thin, np.abs(cosine), along) > _PARALLEL)
            count = np.maximum(there.sum(axis=2), 1)
            found.append(
                Beside(
                    share=there.mean(axis=2),
                    levels=(levels * there).mean(axis=2),
                    aside=(aside * there).sum(axis=2) / count,
                )
            )
        return found[0], found[1]

    def beyond(self, start: Floats, way: Floats, inside: Floats, dark: Flags) -> Floats:
        """How far edges go on from places without longer gaps, in mm.

        Args:
            start: Where sides end, (sides, 2).
            way: Unit vectors beyond.
            inside: Unit vectors across, to what is inside.
            dark: Whether that is darker than what is outside.
        """
        far = np.arange(1, int(_BEYOND_MM / self._square_mm) + 1) * self._square_mm
        x, y = (start[:, axis, None] + far * way[:, axis, None] for axis in (0, 1))
        there = self._there(x, y, inside, dark)[1]
        last = np.maximum.accumulate(np.where(there, far, 0), axis=1)
        # Beyond the first gap that is too long there is something else.
        ended = np.maximum.accumulate(far - last > _GAP_MM, axis=1)
        return np.asarray(np.where(ended, 0, last).max(axis=1))

    def _there(self, x: Floats, y: Floats, inside: Floats, dark: Flags) -> tuple[Ints, Flags]:
        """The points at places of sides, and whether they are edges of these."""
        point = self._at(x, y)
        cosine, thin = self._cosine(point, inside), self._thin[point]
        cosine = np.where(thin, np.abs(cosine), cosine * np.where(dark, -1, 1)[:, None])
        edge = thin | (self._points.kind[point] == EDGE)
        return point, (point >= 0) & edge & (cosine > _PARALLEL)

    def _cosine(self, point: Ints, inside: Floats) -> Floats:
        """How far each point's edge faces what is inside, whatever is lighter."""
        across_x, across_y = self._across
        return across_x[point] * inside[..., 0, None] + across_y[point] * inside[..., 1, None]

    def _aside(self, point: Ints, x: Floats, y: Floats, inside: Floats) -> Floats:
        """How far inside of places their points are, in mm."""
        at_x, at_y = self._places[:, 0], self._places[:, 1]
        off_x, off_y = at_x[point] - x, at_y[point] - y
        return off_x * inside[..., 0, None] + off_y * inside[..., 1, None]

    def _at(self, x: Floats, y: Floats) -> Ints:
        # Around the picture there is nothing.
        across, down = (
            np.clip(each * (1 / self._square_mm) + 2, 0, size - 1).astype(np.int32)
            for each, size in zip((x, y), self._squares.shape, strict=True)
        )
        return np.asarray(self._squares.ravel()[across * self._squares.shape[1] + down])


def inwards(way: Floats) -> Floats:
    """Unit vectors to the side of positive cross products; (..., 2) both."""
    long = np.maximum(np.hypot(way[..., 0], way[..., 1]), 1e-9)
    return np.asarray(way[..., ::-1] * (-1, 1) / long[..., None])


def _fitted(share: Floats, aside: Floats, there: Flags) -> Floats:
    """The straight line through what is there, at both ends (least squares, with a prior)."""
    count = np.maximum(there.sum(axis=1), 1)
    middle = (share * there).sum(axis=1) / count
    mean = (aside * there).sum(axis=1) / count
    rest = (share - middle[:, None]) * there
    slope = (rest * aside).sum(axis=1) / ((rest * rest).sum(axis=1) + _TURNS_LITTLE)
    return np.stack((mean - slope * middle, mean + slope * (1 - middle)), axis=1)
