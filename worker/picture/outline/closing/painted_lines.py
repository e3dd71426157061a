"""Drawn lines painted into a map, so that a way over it can tell what it meets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.placed_reading import PlacedMaps
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.gaussian import Floats

#: Places are painted so near to each other, in pixels of the map.
_APART_PX = 0.6
#: What is further outside of the map is not painted.
_OUTSIDE_PX = 30.0

_Ints = npt.NDArray[np.int64]
_Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class PaintedLines:
    """Lines over a map.

    Attributes:
        chains: The lines.
        x, y: Of each of their places, in pixels of the map.
        px: A pixel of the map, in places of lines.
        place: (rows, columns) a place of a line in each pixel, or -1.
    """

    chains: Chains
    x: Floats
    y: Floats
    px: float
    place: _Ints

    @classmethod
    def on(cls, layer: PlacedMaps, chains: Chains, x: Floats, y: Floats) -> PaintedLines:
        """Paint lines, also across their gaps.

        Args:
            layer: The maps.
            chains: The lines.
            x: Of each of their places, in pixels of the grid.
            y: The same down.
        """
        (x, y), shape = layer.from_grid(x, y), layer.maps.contour.shape
        # Of a part of the picture most lines are elsewhere.
        near = (x > -_OUTSIDE_PX) & (x < shape[1] + _OUTSIDE_PX)
        near &= (y > -_OUTSIDE_PX) & (y < shape[0] + _OUTSIDE_PX)
        near[chains.first[:-1]] = False
        at = np.flatnonzero(near[1:])
        far = np.hypot(x[at + 1] - x[at], y[at + 1] - y[at])
        many = np.ceil(far / _APART_PX).astype(np.int64)
        at, number = np.repeat(at, many), np.repeat(many, many)
        share = (np.arange(len(at)) - np.repeat(np.cumsum(many) - many, many)) / number
        column = np.rint(x[at] + share * (x[at + 1] - x[at])).astype(np.int64)
        row = np.rint(y[at] + share * (y[at + 1] - y[at])).astype(np.int64)
        inside = (row >= 0) & (column >= 0) & (row < shape[0]) & (column < shape[1])
        place = np.full(shape, -1, np.int64)
        place[row[inside], column[inside]] = at[inside]
        return cls(chains=chains, x=x, y=y, px=layer.map_px, place=place)

    def at(self, x: _Ints, y: _Ints) -> _Ints:
        """The place in pixels, or -1."""
        rows, columns = self.place.shape
        inside = (x >= 0) & (y >= 0) & (x < columns) & (y < rows)
        found = self.place[np.where(inside, y, 0), np.where(inside, x, 0)]
        found[~inside] = -1
        return found

    def inwards(self, place: _Ints, far_px: float) -> _Ints:
        """Places so far from ends of lines, no further than the other ends."""
        owner, steps = self.chains.owner[place], max(round(far_px * self.px), 1)
        first, last = self.chains.first[owner], self.chains.first[owner + 1] - 1
        ahead = np.minimum(place + steps, last)
        return np.where(place - first <= last - place, ahead, np.maximum(place - steps, first))

    def outwards(self, place: _Ints, far_px: float) -> tuple[Floats, Floats]:
        """Unit vectors in which ends point, by their lines over the last way."""
        inner = self.inwards(place, far_px)
        dx, dy = self.x[place] - self.x[inner], self.y[place] - self.y[inner]
        far = np.maximum(np.hypot(dx, dy), np.float32(1e-6))
        return dx / far, dy / far
