"""Sides of frames and bars, each drawn once: panes of one window share theirs."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from worker.picture.outline.contours.contour_lines import APART_MM
from worker.picture.outline.polylines import Flags, Floats, Polylines

#: Frames are drawn through places so far apart.
_STEP_MM = 0.4
#: A side is drawn whole if no more than this of it has been drawn, looked at in such steps; of
#: others what has not is drawn, if it is longer than this.
_DRAWN, _LOOKED_MM, _REST_MM = 0.7, 1.0, 2.0
#: A side of a bar is not drawn so near to one of a frame; to another bar's it is.
_APART_BAR_MM = 3.0
#: What is there runs along a side by this cosine.
_ALONG = 0.8


class DrawnSides:
    """Sides that are drawn, each once.

    Attributes:
        weight: Of each line of them.
    """

    def __init__(self) -> None:
        self.weight: list[int] = []
        self._drawn: list[Floats] = []
        self._start, self._way = np.zeros((0, 2)), np.zeros((0, 2))
        self._bar_apart_mm = np.zeros(0)

    @property
    def lines(self) -> Polylines:
        """All that are drawn."""
        return Polylines.of(self._drawn)

    def draw(self, corners: Floats, weight: int) -> None:
        """Draw what there is not yet of a frame."""
        ends = np.concatenate((corners, corners[:1]))
        there = [self._there(ends[side], ends[side + 1]) for side in range(4)]
        new = [float(each.mean()) <= _DRAWN for each in there]
        # From the first side after one that is there.
        first = 0 if all(new) else (new.index(False) + 1) % 4
        order = [(first + step) % 4 for step in range(4)]
        found, run = list[Floats](), list[int]()
        for side in [*order, None]:
            if side is not None and new[side]:
                run.append(side)
            elif run:
                found.append(ends[[*run, run[-1] + 1]])
                run = []
        for side in np.flatnonzero(np.logical_not(new)).tolist():
            found += _rests(ends[side], ends[side + 1], there[side])
        for line in found:
            self._keep(line, weight, _APART_BAR_MM)

    def draw_bar(self, sides: Sequence[Floats], weight: int) -> None:
        """Draw what there is not yet of both sides of a bar, each from start to stop."""
        there = [self._there(ends[0], ends[1], self._bar_apart_mm) for ends in sides]
        for ends, each in zip(sides, there, strict=True):
            found = [ends] if not each.any() else _rests(ends[0], ends[1], each)
            for line in found:
                self._keep(line, weight, APART_MM)

    def _keep(self, corners: Floats, weight: int, bar_apart_mm: float) -> None:
        """Draw a line, and bars' sides no nearer to it than so."""
        self._drawn.append(_through(corners))
        self.weight.append(weight)
        self._start = np.concatenate((self._start, corners[:-1]))
        self._way = np.concatenate((self._way, np.diff(corners, axis=0)))
        more = np.full(len(corners) - 1, bar_apart_mm)
        self._bar_apart_mm = np.concatenate((self._bar_apart_mm, more))

    def _there(self, start: Floats, stop: Floats, apart_mm: Floats | None = None) -> Flags:
        """Which places along a side have one already, nearer than two lines are drawn apart.

        Args:
            start: Of the side.
            stop: Of the side.
            apart_mm: How far apart that is from each that is drawn, if not as far as any lines.
        """
        apart = np.full(len(self._way), APART_MM) if apart_mm is None else apart_mm
        many = max(round(float(np.hypot(*(stop - start))) / _LOOKED_MM), 10)
        places = start + ((np.arange(many) + 0.5) / many)[:, None] * (stop - start)
        low, high = np.minimum(start, stop), np.maximum(start, stop)
        end = self._start + self._way
        beside = np.minimum(self._start, end) < high + apart[:, None]
        beside &= np.maximum(self._start, end) > low - apart[:, None]
        some = beside.all(axis=1)
        rest, way = places[:, None] - self._start[some], self._way[some]
        square = np.maximum((way**2).sum(axis=1), 1e-9)
        share = np.clip((rest * way).sum(axis=2) / square, 0, 1)
        off = rest - share[..., None] * way
        along = (way * (stop - start)).sum(axis=1)
        cosine = along / np.sqrt(square) / max(float(np.hypot(*(stop - start))), 1e-9)
        near = (np.hypot(off[..., 0], off[..., 1]) < apart[some]) & (np.abs(cosine) > _ALONG)
        return np.asarray(near.any(axis=1))


def _rests(start: Floats, stop: Floats, there: Flags) -> list[Floats]:
    """Ends of what is not there of a side, but for what is too short."""
    change = np.flatnonzero(np.diff(there, prepend=True, append=True))
    share = change.reshape(-1, 2) / len(there)
    long = np.diff(share, axis=1)[:, 0] * np.hypot(*(stop - start)) > _REST_MM
    return [start + each[:, None] * (stop - start) for each in share[long]]


def _through(corners: Floats) -> Floats:
    """Places from corner to corner."""
    parts = [corners[:1]]
    for start, stop in pairwise(corners):
        many = max(int(np.hypot(*(stop - start)) / _STEP_MM), 2)
        parts.append(start + (np.arange(1, many + 1) / many)[:, None] * (stop - start))
    return np.concatenate(parts)
