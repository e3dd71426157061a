"""Where joints are taped: at every junction, and along seams where tape hides the least line.

What tape covers cannot be traced, so each seam gets as few small bits as hold it. Their places
along one seam are optimal, by dynamic programming.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from worker.layout.pieces import Cell
from worker.layout.seams.cost_map import TAPE_ACROSS_MM, TAPE_ALONG_MM, CostMap
from worker.spec.plan import Rect, Seam, TapeSpot

#: Bits along one seam are at most this far apart, so that joints do not gape.
FARTHEST_MM = 120.0
#: And at least this far, since less holds no better.
NEAREST_MM = 30.0
#: A bit more is worth this much line: each is work to lay and to lift.
_SPOT_COST = 1.0
_SAME_MM = 1e-6
#: A bit holds a junction that is at least this far inside it.
_GRIP_MM = 3.0

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class _Run:
    """One seam, seen upright: where it stands, from where to where, what holds its ends."""

    at_mm: float
    low_mm: float
    high_mm: float
    held_low: bool
    held_high: bool

    @property
    def length_mm(self) -> float:
        return self.high_mm - self.low_mm


def tape_spots(
    cells: tuple[Cell, ...], seams: tuple[Seam, ...], cost_map: CostMap
) -> tuple[TapeSpot, ...]:
    """All bits of tape: first those at junctions, then those along the seams."""
    lying = cost_map.transposed()
    junctions = _junctions(cells, seams, cost_map)
    spots = list(dict.fromkeys(junctions.values()))
    for seam in seams:
        standing = seam.from_mm[0] == seam.to_mm[0]
        run = _run(seam, junctions)
        for along_mm in _places(run, cost_map if standing else lying):
            rect = _bit(run.at_mm, along_mm, standing=standing)
            spots.append(_spot(rect, seam.between, cost_map, at_junction=False))
    return tuple(spots)


def _bit(at_mm: float, along_mm: float, *, standing: bool) -> Rect:
    """A bit across an upright or a lying seam, its middle at `along_mm`."""
    across, along = TAPE_ACROSS_MM, TAPE_ALONG_MM
    if standing:
        return Rect(at_mm - across / 2, along_mm - along / 2, across, along)
    return Rect(along_mm - along / 2, at_mm - across / 2, along, across)


def _spot(rect: Rect, joins: tuple[str, ...], cost_map: CostMap, *, at_junction: bool) -> TapeSpot:
    starts, ends = np.asarray([rect.left]), np.asarray([rect.right])
    line = cost_map.traced.length.in_columns(starts, ends, rect.top, rect.bottom)
    return TapeSpot(rect_mm=rect, joins=joins, at_junction=at_junction, line_mm=float(line[0]))


def _worth(rect: Rect, cost_map: CostMap) -> float:
    """What the line under a bit counts for."""
    starts, ends = np.asarray([rect.left]), np.asarray([rect.right])
    return float(cost_map.traced.weighed.in_columns(starts, ends, rect.top, rect.bottom)[0])


def _meets(one: Rect, other: Rect) -> bool:
    apart_across = one.right <= other.left or other.right <= one.left
    apart_down = one.bottom <= other.top or other.bottom <= one.top
    return not apart_across and not apart_down


_Point = tuple[float, float]


def _junctions(
    cells: tuple[Cell, ...], seams: tuple[Seam, ...], cost_map: CostMap
) -> dict[_Point, TapeSpot]:
    """A bit at every place inside the picture where three or four pieces meet.

    Staggered seams may meet a line a millimetre or two apart, from either side: one bit then
    holds both.
    """
    points = sorted({point for seam in seams for point in (seam.from_mm, seam.to_mm)})
    found: dict[_Point, TapeSpot] = {}
    for point in points:
        joins = tuple(cell.label for cell in cells if _touches(cell.rect_mm, point))
        if len(joins) > 2 and _share(found, point, joins):  # noqa: PLR2004 as below
            continue
        offers = [
            _spot(rect, joins, cost_map, at_junction=True)
            for rect in _junction_bits(cells, joins, point)
            if not any(_meets(rect, area) for area in cost_map.protected)
        ]
        if len(joins) > 2 and offers:  # noqa: PLR2004 two pieces make a seam, three a junction
            found[point] = min(offers, key=lambda spot: _worth(spot.rect_mm, cost_map))
    return found


def _share(found: dict[_Point, TapeSpot], point: _Point, joins: tuple[str, ...]) -> bool:
    """Let a bit that is there already hold this junction too; False if none does."""
    x, y = point
    for spot in found.values():
        rect = spot.rect_mm
        across = rect.left + _GRIP_MM <= x <= rect.right - _GRIP_MM
        if across and rect.top + _GRIP_MM <= y <= rect.bottom - _GRIP_MM:
            both = replace(spot, joins=tuple(dict.fromkeys((*spot.joins, *joins))))
            found.update({at: both for at, other in found.items() if other == spot})
            found[point] = both
            return True
    return False


def _junction_bits(cells: tuple[Cell, ...], joins: tuple[str, ...], point: _Point) -> list[Rect]:
    """Across the seam that runs through; where both do, either way will hold."""
    rects = [cell.rect_mm for cell in cells if cell.label in joins]
    bits = []
    if not any(rect.left + _SAME_MM < point[0] < rect.right - _SAME_MM for rect in rects):
        bits.append(_bit(point[0], point[1], standing=True))
    if not any(rect.top + _SAME_MM < point[1] < rect.bottom - _SAME_MM for rect in rects):
        bits.append(_bit(point[1], point[0], standing=False))
    return bits


def _touches(rect: Rect, point: _Point) -> bool:
    inside_across = rect.left - _SAME_MM <= point[0] <= rect.right + _SAME_MM
    return inside_across and rect.top - _SAME_MM <= point[1] <= rect.bottom + _SAME_MM


def _run(seam: Seam, junctions: Iterable[_Point]) -> _Run:
    along = 1 if seam.from_mm[0] == seam.to_mm[0] else 0
    return _Run(
        at_mm=seam.from_mm[1 - along],
        low_mm=seam.from_mm[along],
        high_mm=seam.to_mm[along],
        held_low=seam.from_mm in junctions,
        held_high=seam.to_mm in junctions,
    )


def _places(run: _Run, cost_map: CostMap) -> list[float]:
    """The middles of the bits along a run, outside its junctions."""
    offsets = np.arange(1, math.ceil(run.length_mm), dtype=np.float64)
    costs = _costs(run, cost_map, run.low_mm + offsets)
    for farthest in (FARTHEST_MM, 1.5 * FARTHEST_MM, 2.5 * FARTHEST_MM, math.inf):
        # Where a protected area leaves no room the bits may lie further apart.
        chosen = _quietest_chain(costs, run, min(farthest, run.length_mm + FARTHEST_MM))
        if chosen is not None:
            return [run.low_mm + float(offsets[index]) for index in chosen]
    return []


def _costs(run: _Run, cost_map: CostMap, middles_mm: Floats) -> Floats:
    """What the line under a bit counts for at each place; infinite where none may lie."""
    half = TAPE_ALONG_MM / 2
    left, right = run.at_mm - TAPE_ACROSS_MM / 2, run.at_mm + TAPE_ACROSS_MM / 2
    turned = cost_map.traced.weighed.transposed()
    costs = turned.in_columns(middles_mm - half, middles_mm + half, left, right) + _SPOT_COST
    for area in cost_map.protected:
        if area.left < right and area.right > left:
            costs[(middles_mm + half > area.top) & (middles_mm - half < area.bottom)] = np.inf
    short = (middles_mm < run.low_mm + half) | (middles_mm > run.high_mm - half)
    costs[short & (run.length_mm > TAPE_ALONG_MM)] = np.inf
    return costs


def _quietest_chain(costs: Floats, run: _Run, farthest_mm: float) -> list[int] | None:
    """Indices of the bits with the least cost in all, or None if no chain is near enough.

    Place k of the table is k mm along the run; 0 and the end stand for its two ends. An end
    that no junction holds wants its first bit within half the farthest distance.
    """
    end = costs.size + 1
    best, came = [math.inf] * (end + 1), [-1] * (end + 1)
    best[0] = 0.0
    first = range(
        int(NEAREST_MM) if run.held_low else 1,
        math.floor(farthest_mm if run.held_low else farthest_mm / 2) + 1,
    )
    # Places from which the next bit can be reached, their costs rising (a monotone queue).
    near: deque[int] = deque()
    for place, cost in enumerate(costs.tolist(), start=1):
        _admit(near, place - int(NEAREST_MM), best)
        while near and near[0] < place - farthest_mm:
            near.popleft()
        before = 0 if place in first else near[0] if near else None
        if before is not None:
            best[place], came[place] = best[before] + cost, before
    return _chain(came, _last(np.asarray(best), run, farthest_mm, end))


def _admit(near: deque[int], place: int, best: list[float]) -> None:
    if place < 1 or math.isinf(best[place]):
        return
    while near and best[near[-1]] >= best[place]:
        near.pop()
    near.append(place)


def _chain(came: list[int], last: int | None) -> list[int] | None:
    if last is None:
        return None
    chosen = []
    while last > 0:
        chosen.append(last - 1)
        last = came[last]
    return chosen[::-1]


def _last(best: Floats, run: _Run, farthest_mm: float, end: int) -> int | None:
    """The last bit of the cheapest chain; 0 if none is needed."""
    reach = farthest_mm if run.held_high else farthest_mm / 2
    gap = NEAREST_MM if run.held_high else 0.0
    if run.held_low and run.length_mm <= reach:
        return 0
    if run.held_high and run.length_mm <= (farthest_mm if run.held_low else farthest_mm / 2):
        return 0
    low = max(1, math.ceil(run.length_mm - reach))
    high = min(end, math.floor(run.length_mm - gap) + 1)
    if high <= low or math.isinf(float(np.min(best[low:high]))):
        return None
    return low + int(np.argmin(best[low:high]))
