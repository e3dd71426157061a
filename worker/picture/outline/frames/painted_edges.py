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
    """Edges of a picture."""

    def __init__(self, edges: PictureEdges) -> None:
        points, self._edges = edges.points, edges
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
    def _turned(self) -> Floats:
        return np.stack((self._points.across_x, self._points.across_y), axis=1).astype(np.float64)

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
        places = start[:, None] + share[:, None] * way[:, None]
        point, there = self._there(places, inside, dark)
        levels = np.minimum(self._points.total[point], _MOST_LEVELS)
        aside = ((self._places[point] - places) * inside[:, None]).sum(axis=2)
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
        places = start[:, None] + share[:, None] * way[:, None]
        places = places[:, None] + far[:, None, None] * inside[:, None, None]
        point = self._at(places)
        cosine = (self._turned[point] * inside[:, None, None]).sum(axis=3)
        kind = self._points.kind[point]
        thin = (kind == LIGHT) | (kind == DARK) | (kind == CHROMA)
        edge = (point >= 0) & (thin | (kind == EDGE))
        levels = np.minimum(self._points.total[point], _MOST_LEVELS)
        aside = ((self._places[point] - places) * inside[:, None, None]).sum(axis=3)
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
        places = start[:, None] + far[:, None] * way[:, None]
        there = self._there(places, inside, dark)[1]
        last = np.maximum.accumulate(np.where(there, far, 0), axis=1)
        # Beyond the first gap that is too long there is something else.
        ended = np.maximum.accumulate(far - last > _GAP_MM, axis=1)
        return np.asarray(np.where(ended, 0, last).max(axis=1))

    def _there(self, places: Floats, inside: Floats, dark: Flags) -> tuple[Ints, Flags]:
        """The points at places of sides, and whether they are edges of these."""
        point = self._at(places)
        cosine = (self._turned[point] * inside[:, None]).sum(axis=2)
        kind = self._points.kind[point]
        thin = (kind == LIGHT) | (kind == DARK) | (kind == CHROMA)
        cosine = np.where(thin, np.abs(cosine), cosine * np.where(dark, -1, 1)[:, None])
        return point, (point >= 0) & (thin | (kind == EDGE)) & (cosine > _PARALLEL)

    def _at(self, places: Floats) -> Ints:
        # Around the picture there is nothing.
        x, y = (
            np.clip(places[..., axis] * (1 / self._square_mm) + 2, 0, size - 1).astype(np.int32)
            for axis, size in enumerate(self._squares.shape)
        )
        return np.asarray(self._squares.ravel()[x * self._squares.shape[1] + y])


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
