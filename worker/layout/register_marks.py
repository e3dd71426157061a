"""Where register marks cross the seams: few, far apart, and where there is least to trace.

A mark is half on each of two pieces, so its place is part of the plan: both sheets are drawn from
the same number. Marks keep off protected areas, eyes, tape and junctions, and off faces where a
seam leaves them room elsewhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from worker.layout.seams.cost_map import CostMap
from worker.spec.plan import REGISTER_MARK_MM, Rect, Seam, TapeSpot
from worker.spec.spec import Grid

#: Between a mark and tape or what is protected.
_CLEAR_MM = 1.0
#: Between a mark and the end of its seam, where a blade may slip.
_FROM_END_MM = 4.0
#: Three marks on a seam of this length, two on a shorter one.
_THREE_FROM_MM = 150.0
#: Marks on one seam are at least this far apart.
_APART_MM = 20
#: What a place in a face counts for: more than any line, less than having no mark.
_FACE_COST = 1e4
#: A crossing line of the grid counts as so much line to trace: it hides ticks.
_GRID_COST = 20.0
#: The name of a square stands so far behind its grid line.
_NAME_MM = 6.0
#: Of two places alike the one nearer to the seam's end shows more of a turned sheet.
_OUTWARD = 1e-6
_SAME_MM = 1e-6

Floats = npt.NDArray[np.float64]
_Span = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Obstacles:
    """What marks keep off, in millimetres of the picture.

    Attributes:
        barred: Tape, protected areas and eyes.
        faces: Faces, which are spared where a seam has other places.
        grid: The grid that is printed over the picture, if there is one.
    """

    barred: tuple[Rect, ...]
    faces: tuple[Rect, ...]
    grid: Grid | None


@dataclass(frozen=True, kw_only=True)
class _Run:
    """One seam, seen upright: where it stands, and from where to where."""

    at_mm: float
    low_mm: float
    high_mm: float
    standing: bool

    def point(self, along_mm: float) -> tuple[float, float]:
        """A place on it, in the picture."""
        return (self.at_mm, along_mm) if self.standing else (along_mm, self.at_mm)

    def along(self, rect: Rect) -> _Span:
        """From where to where a rectangle reaches along it."""
        return (rect.top, rect.bottom) if self.standing else (rect.left, rect.right)

    def across(self, rect: Rect) -> _Span:
        """From where to where a rectangle reaches across it."""
        return (rect.left, rect.right) if self.standing else (rect.top, rect.bottom)


def with_register_marks(
    seams: tuple[Seam, ...],
    cost_map: CostMap,
    spots: tuple[TapeSpot, ...],
    faces: tuple[Rect, ...],
    grid: Grid | None,
) -> tuple[Seam, ...]:
    """The seams with the places of their marks; where a seam has no free place it gets none."""
    barred = (*(spot.rect_mm for spot in spots), *cost_map.protected, *cost_map.traced.eyes)
    obstacles = Obstacles(barred=barred, faces=faces, grid=grid)
    near = _Nearby(barred)
    marked = []
    for seam in seams:
        run = _run(seam)
        places = _places(run, cost_map, replace(obstacles, barred=near.to(run)))
        marked.append(replace(seam, register_marks_mm=tuple(run.point(at) for at in places)))
    return tuple(marked)


class _Nearby:
    """Finds the rectangles that a mark on a seam could meet; a mural has thousands."""

    def __init__(self, rects: tuple[Rect, ...]) -> None:
        self._rects = rects
        sides = [(rect.left, rect.top, rect.right, rect.bottom) for rect in rects]
        self._sides = np.asarray(sides, np.float64).reshape(-1, 4)

    def to(self, run: _Run) -> tuple[Rect, ...]:
        reach = REGISTER_MARK_MM[1] / 2 + _CLEAR_MM
        strip = (run.at_mm - reach, run.low_mm, run.at_mm + reach, run.high_mm)
        left, top, right, bottom = strip if run.standing else (*strip[1::-1], *strip[:1:-1])
        sides = self._sides
        across = (sides[:, 0] < right) & (sides[:, 2] > left)
        met = across & (sides[:, 1] < bottom) & (sides[:, 3] > top)
        return tuple(self._rects[int(index)] for index in np.flatnonzero(met))


def _run(seam: Seam) -> _Run:
    along = 1 if seam.standing else 0
    return _Run(
        at_mm=seam.from_mm[1 - along],
        low_mm=seam.from_mm[along],
        high_mm=seam.to_mm[along],
        standing=seam.standing,
    )


def _places(run: _Run, cost_map: CostMap, obstacles: Obstacles) -> list[float]:
    """The middles of the marks along a seam, ascending."""
    clear = REGISTER_MARK_MM[0] / 2 + _FROM_END_MM
    middles = np.arange(run.low_mm + clear, run.high_mm - clear + _SAME_MM)
    if not middles.size:
        return []
    costs = _costs(run, cost_map, middles)
    _add_soft(costs, run, obstacles, middles)
    for rect in obstacles.barred:
        costs[_met(run, rect, middles)] = np.inf
    found: list[int] = []
    for start, end, wanted in _stretches(run, middles.size):
        found += _best(costs, range(start, end), wanted)
    return sorted(float(middles[place]) for place in found)


def _stretches(run: _Run, places: int) -> tuple[tuple[int, int, int], ...]:
    """Where each mark is looked for, and the place of that it prefers: outer marks first."""
    if run.high_mm - run.low_mm < _THREE_FROM_MM:
        half = (places + 1) // 2
        return (0, half, 0), (places - half, places, places - 1)
    third = places // 3
    return (
        (0, third, 0),
        (places - third, places, places - 1),
        (third, places - third, places // 2),
    )


def _best(costs: Floats, stretch: range, wanted: int) -> list[int]:
    """The cheapest place of a stretch, if any is free; what is near it is then taken."""
    inside = costs[stretch.start : stretch.stop]
    away = np.abs(np.arange(stretch.start - wanted, stretch.stop - wanted))
    place = stretch.start + int(np.argmin(inside + _OUTWARD * away))
    if math.isinf(costs[place]):
        return []
    costs[max(0, place - _APART_MM) : place + _APART_MM] = np.inf
    return [place]


def _costs(run: _Run, cost_map: CostMap, middles: Floats) -> Floats:
    """The line to trace under a mark at each place, for what it counts."""
    half_along, half_across = REGISTER_MARK_MM[0] / 2, REGISTER_MARK_MM[1] / 2
    weighed = cost_map.traced.weighed
    seen = weighed.transposed() if run.standing else weighed
    across = run.at_mm - half_across, run.at_mm + half_across
    return seen.in_columns(middles - half_along, middles + half_along, *across)


def _add_soft(costs: Floats, run: _Run, obstacles: Obstacles, middles: Floats) -> None:
    """Add what marks had better not lie on: faces, and lines and names of a grid."""
    reach = REGISTER_MARK_MM[1] / 2
    for face in obstacles.faces:
        low, high = run.across(face)
        if low < run.at_mm + reach and high > run.at_mm - reach:
            costs[_met(run, face, middles)] += _FACE_COST
    if obstacles.grid is None:
        return
    side, half = obstacles.grid.square_mm, REGISTER_MARK_MM[0] / 2
    crossings = {0.0}
    if obstacles.grid.diagonals:
        crossings |= {run.at_mm % side, -run.at_mm % side}
    for crossing in crossings:
        behind = (middles - crossing) % side
        costs[(behind < half + _NAME_MM) | (behind > side - half)] += _GRID_COST


def _met(run: _Run, rect: Rect, middles: Floats) -> npt.NDArray[np.bool_]:
    reach = REGISTER_MARK_MM[0] / 2 + _CLEAR_MM
    low, high = run.along(rect)
    met: npt.NDArray[np.bool_] = (middles + reach > low) & (middles - reach < high)
    return met
