"""Lines that are drawn are joined over wider gaps than others, where the reading sees them go on.

A draughtsman draws an outline in one (common practice): what remains broken is broken in the scene.
What turns aside at a line's very end is no more of it: the map goes round a stroke's tip.
"""

from __future__ import annotations

import functools

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.detected_points import DetectedPoints
from worker.picture.outline.judging import Lines
from worker.picture.outline.points.bridging import joined_chains
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import CONTOUR, Points
from worker.picture.outline.points.gaussian import Floats

#: Drawn lines go on in each other within this where the reading sees more of a line between, by
#: their course over the last millimetres.
_FAR_MM, _COURSE_MM = 12.0, 5.0
#: It sees a line where it makes one likelier than this.
_SEEN = 0.3

#: What turns by more than this cosine within so much of an end, from the way behind it, is a hook.
_ASIDE, _HOOK_MM, _WAY_MM = 0.7, 0.9, 2.0
#: So is what the map alone has beyond an edge's end, if it turns by more than this within so much.
_ROUND, _TIP_MM = 0.97, 2.0

_Weights = npt.NDArray[np.uint8]


def drawn_on(detected: DetectedPoints, lines: Lines, weight: _Weights) -> tuple[Chains, _Weights]:
    """Lines joined where one goes on in another; the longest part says how heavy.

    Args:
        detected: All points.
        lines: Those that are drawn.
        weight: Of each.
    """
    pitch_mm = detected.grid.pitch_mm
    chains, before = joined_chains(
        detected.points,
        without_hooks(detected.points, lines.chains, pitch_mm),
        reach_px=_FAR_MM / pitch_mm,
        seen=functools.partial(_seen, detected.placed),
        back=max(round(_COURSE_MM / pitch_mm), 1),
    )
    # Of all places of a joined line one of its longest part comes last.
    order = np.lexsort((lines.length_mm[before], chains.owner))
    return chains, weight[before[order[chains.first[1:] - 1]]]


def without_hooks(points: Points, chains: Chains, pitch_mm: float) -> Chains:
    """Open lines without what turns aside at their very ends, as a map does around a tip.

    Args:
        points: All points.
        chains: The lines.
        pitch_mm: Between pixels of the grid.
    """
    hook, tip = (max(round(mm / pitch_mm), 1) for mm in (_HOOK_MM, _TIP_MM))
    way = max(round(_WAY_MM / pitch_mm), 2)
    x, y = points.x[chains.order], points.y[chains.order]
    read = points.kind[chains.order] == CONTOUR
    inner = np.ones(len(x), bool)
    long = ~chains.closed & (chains.counts > 2 * (hook + way))
    for end, sign in ((chains.first[:-1][long], 1), (chains.first[1:][long] - 1, -1)):
        alone = chains.counts[long] > 2 * (tip + way)
        for steps in range(1, max(hook, tip) + 1):
            turn, far = end + sign * steps, end + sign * (steps + way)
            ax, ay = x[turn] - x[end], y[turn] - y[end]
            bx, by = x[far] - x[turn], y[far] - y[turn]
            along, both = ax * bx + ay * by, np.hypot(ax, ay) * np.hypot(bx, by)
            # Where an edge takes over from what only the map has.
            alone &= read[turn - sign]
            off = alone & ~read[turn] & (along < _ROUND * both) & (steps <= tip)
            off |= (along < _ASIDE * both) & (steps <= hook)
            for step in range(steps):
                inner[end[off] + sign * step] = False
    counts = np.bincount(chains.owner, inner, len(chains)).astype(np.int64)
    return Chains(
        order=chains.order[inner],
        first=np.concatenate(([0], np.cumsum(counts))),
        closed=chains.closed,
    )


def _seen(placed: PlacedReading, x: Floats, y: Floats) -> Floats:
    """How likely a line passes at places, where it is likely at all."""
    likely = placed.sampled("contour", x, y)
    return np.where(likely > np.float32(_SEEN), likely, np.float32(0))
