"""Lines that end on others end exactly there, wherever ruling and fairing moved either."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.chains import Chains
from worker.picture.outline.polylines import Polylines

#: An end goes straight on or back to the other line within this, or aside to it; and of its line so
#: much moves with it, in parts of how far, and at least.
_STRAIGHT_MM, _WITH_IT, _LEAST_MM = 2.5, 4.0, 2.0
#: The part of a line that may move, and of the other one that is looked at.
_END_MM, _NEAR_MM = 12.0, 5.0
#: Its direction is that over so many places.
_COURSE = 6

_Complex = npt.NDArray[np.complex128]


def landings(chains: Chains) -> list[tuple[int, int, int]]:
    """Ends that are points of other lines.

    Returns:
        The line, 0 for its start or 1 for its end, and the other line.
    """
    order, owner = chains.order, chains.owner
    inner = np.ones(len(order), bool)
    inner[chains.first[:-1]] = inner[chains.first[1:] - 1] = False
    # A place within a line counts before an end.
    by_point = np.full(int(order.max(initial=0)) + 1, -1, np.int64)
    by_point[order[~inner]] = owner[~inner]
    by_point[order[inner]] = owner[inner]
    found = []
    for side, place in ((0, chains.first[:-1]), (1, chains.first[1:] - 1)):
        other = by_point[order[place]]
        on = ~chains.closed & (other != np.arange(len(chains)))
        found += [(int(line), side, int(other[line])) for line in np.flatnonzero(on)]
    return found


def landed(lines: Polylines, ends: list[tuple[int, int, int]]) -> Polylines:
    """Lines whose ends lie on others.

    Args:
        lines: In mm of the picture.
        ends: As `landings` has them.
    """
    places = np.ascontiguousarray(lines.places).copy()
    at = places.view(np.complex128)[:, 0]
    many = round(_END_MM / lines.usual_step_mm) + _COURSE if ends else 0
    for line, side, other in ends:
        own = at[lines.first[line] : lines.first[line + 1]]
        outwards = (own if side else own[::-1])[-many:]
        target = at[lines.first[other] : lines.first[other + 1]]
        near = np.flatnonzero(np.abs(target - outwards[-1]) < _NEAR_MM)
        if len(near):
            target = target[max(near[0] - 1, 0) : near[-1] + 2]
        outwards += _moved(outwards, _met(outwards, target) - outwards[-1])
    return Polylines(places=places, first=lines.first, closed=lines.closed)


def _met(at: _Complex, target: _Complex) -> complex:
    """Where a line's end comes to another line: straight on or back, else at its nearest place."""
    end = at[-1]
    way = end - at[max(len(at) - 1 - _COURSE, 0)]
    way /= max(abs(way), 1e-9)
    start, steps = target[:-1], target[1:] - target[:-1]
    # Along the way from the end, and to its side.
    seen = (target - end) * way.conjugate()
    one, two = seen[:-1], seen[1:]
    share = one.imag / np.where(one.imag == two.imag, 1, one.imag - two.imag)
    along = one.real + share * (two.real - one.real)
    far = np.where(one.imag * two.imag <= 0, np.abs(along), np.inf)
    if far.min(initial=np.inf) <= _STRAIGHT_MM:
        return complex(end + along[np.argmin(far)] * way)
    square = np.maximum((steps * steps.conj()).real, 1e-12)
    share = np.clip(((end - start) * steps.conj()).real / square, 0, 1)
    near = start + share * steps
    return complex(near[np.argmin(np.abs(near - end))])


def _moved(at: _Complex, move: complex) -> _Complex:
    """How each place moves as the last one does."""
    before = np.zeros(len(at))
    before[:-1] = np.cumsum(np.abs(at[1:] - at[:-1])[::-1])[::-1]
    share = np.maximum(1 - before / max(_WITH_IT * abs(move), _LEAST_MM), 0)
    # What is short moves less at its other end, which may lie on a line as well.
    share = np.minimum(share, 1 - before / max(before[0], 1e-9))
    return np.asarray(share * share * (3 - 2 * share) * move)
