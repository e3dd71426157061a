"""Lines that leave a figure are parted where they do, and what is behind it is light.

A bar that touches a head in the picture goes on in the head's outline, and is drawn with it as one
line. A draughtsman draws the head heavy, and the bar as what is behind (common practice). So a
collar may go on in the shade of a chin, which is no outline: there lines are parted as well.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.detected_points import DetectedPoints
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.gaussian import Floats
from worker.spec.strokes import FORM, INNER, PLAIN

#: What is less than this of a figure is behind it; shorter ways than this leave nothing.
_OF_FIGURE, _SHORTEST_MM = 0.5, 14.0
#: Below a face lines are soft whose sides differ by fewer levels, unless they are more than that on
#: a figure's border; shorter ways, in sides of the largest face, part nothing.
_OUTER_LEVELS, _BORDER, _SHORTEST_SOFT = 45.0, 0.35, 0.12

_Flags = npt.NDArray[np.bool_]
_Ints = npt.NDArray[np.int64]
_Weights = npt.NDArray[np.uint8]


def parted(detected: DetectedPoints, chains: Chains, weight: _Weights) -> tuple[Chains, _Weights]:
    """Lines that do not leave figures or turn soft below faces, each with its weight.

    Rings stay whole.

    Args:
        detected: All points.
        chains: Lines that are drawn.
        weight: Of each.
    """
    prominence = detected.prominence
    if not prominence.head.any() or not len(chains):
        return chains, weight
    behind = prominence.figure < np.float32(_OF_FIGURE)
    all_lines = np.ones(len(chains), np.bool_)
    chains, apart, of = _parted(detected, chains, all_lines, behind, _SHORTEST_MM)
    weight = np.where(apart, np.uint8(INNER), weight[of])
    soft = _soft_below_faces(detected)
    widest = max((face.part.side_on_grid for face in detected.faces), default=0.0)
    shortest_mm = _SHORTEST_SOFT * widest * detected.grid.pitch_mm
    chains, apart, of = _parted(detected, chains, weight == FORM, soft, shortest_mm)
    return chains, np.where(apart, np.uint8(PLAIN), weight[of])


def _soft_below_faces(detected: DetectedPoints) -> _Flags:
    """Which points are of a chin and a neck that hardly differ, and bound no figure."""
    points, prominence = detected.points, detected.prominence
    found = np.zeros(len(points), np.bool_)
    for face in detected.faces:
        found |= face.has(face.neck, points.x, points.y)
    levels = detected.measures.form / prominence.usual
    soft = (levels < np.float32(_OUTER_LEVELS)) & (prominence.border < np.float32(_BORDER))
    return np.asarray(found & soft)


def _parted(
    detected: DetectedPoints, chains: Chains, which: _Flags, there: _Flags, shortest_mm: float
) -> tuple[Chains, _Flags, _Ints]:
    """Lines parted where they come somewhere or leave it.

    Args:
        detected: All points.
        chains: The lines.
        which: Those that may be parted.
        there: For each point whether it is there.
        shortest_mm: Shorter ways in or out part nothing.

    Returns:
        The parts, whether each is of a line that was parted and lies there, and of which line.
    """
    owner, points = chains.owner, detected.points
    steps = np.hypot(
        *(np.diff(at[chains.order], append=np.float32(0)) for at in (points.x, points.y))
    )
    steps[chains.first[1:] - 1] = 0
    shortest = np.float32(shortest_mm / detected.grid.pitch_mm)
    state = there[chains.order] & (which & ~chains.closed)[owner]
    for passing in (True, False):
        # What is there for a moment is not; then neither is what is elsewhere for one.
        run, length = _runs(state, owner, steps)
        state ^= (state == passing) & (length[run] < shortest)
    begin = np.flatnonzero(np.diff(_runs(state, owner, steps)[0], prepend=-1))
    # Both parts have the place where the line is parted, so that no gap is between them.
    later = begin[1:][owner[begin[1:]] == owner[begin[1:] - 1]]
    order = np.insert(chains.order, later, chains.order[later - 1])
    whole = np.bincount(owner, state, len(chains)) % np.maximum(chains.counts, 1) == 0
    parts = Chains(
        order=order,
        first=np.append(begin + np.searchsorted(later, begin), len(order)),
        closed=chains.closed[owner[begin]],
    )
    return parts, state[begin] & ~whole[owner[begin]], owner[begin]


def _runs(state: _Flags, owner: _Ints, steps: Floats) -> tuple[_Ints, Floats]:
    """The number of the run of one state that each place is in, and how long each is."""
    new = (np.diff(owner, prepend=-1) != 0) | np.diff(state, prepend=False)
    run = np.cumsum(new) - 1
    return run, np.bincount(run, steps).astype(np.float32)
