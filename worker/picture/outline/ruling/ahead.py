"""What is ahead of an end: the first line that it would cross if it went on."""

from __future__ import annotations

import numpy as np

from worker.picture.outline.points.nearness import within
from worker.picture.outline.polylines import Floats, Ints, Polylines

#: What is ahead is crossed at more than this sine.
_LEAST_SINE = 0.35


def ahead(start: Floats, way: Floats, most: Floats, lines: Polylines, own: Ints) -> Floats:
    """How far it is from each end to the next line ahead, in mm; infinitely if there is none.

    Args:
        start: The ends, (ends, 2), in mm of the picture.
        way: Unit vectors onwards.
        most: How far each may go on, in mm; not at all if this is nothing or less.
        lines: What may be ahead. It takes the least time where no piece of them, from place to
            place, is longer than ends go on.
        own: The number of a line that is not ahead of each, or -1.
    """
    nearest = np.full(len(start), np.inf)
    owner, furthest = lines.owner, float(most.max(initial=0.0))
    pieces = np.flatnonzero(owner[:-1] == owner[1:])
    if furthest <= 0 or not len(pieces):
        return nearest
    # What is crossed in reach begins no further away than that and itself.
    long = np.hypot(*(lines.places[pieces + 1] - lines.places[pieces]).T)
    end, at = within(start, lines.places[pieces], furthest + float(long.max()))
    at = pieces[at]
    others = owner[at] != own[end]
    end, at = end[others], at[others]
    along = way[end]
    one, two = lines.places[at] - start[end], lines.places[at + 1] - start[end]
    aside, beyond = (each[:, 0] * along[:, 1] - each[:, 1] * along[:, 0] for each in (one, two))
    share = aside / np.where(aside == beyond, 1, aside - beyond)
    far = ((one + share[:, None] * (two - one)) * along).sum(axis=1)
    sine = np.abs(beyond - aside) / np.maximum(np.hypot(*(two - one).T), 1e-9)
    crossed = (aside * beyond <= 0) & (sine > _LEAST_SINE)
    crossed &= (far > 0) & (far < most[end])
    np.minimum.at(nearest, end[crossed], far[crossed])
    return nearest
