"""Where lines run beside better ones: of what is there twice a draughtsman draws one."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.nearness import pairs_within

_Ints = npt.NDArray[np.int64]


def beside_better(  # noqa: PLR0913 - lines, which is better, and what is beside.
    points: Points,
    chains: Chains,
    rank: _Ints,
    places: tuple[_Ints, _Ints],
    *,
    reach_px: float,
    cosine: float,
) -> tuple[_Ints, _Ints, Floats]:
    """Pairs of places of which the first runs beside a better line's, and how far apart they are.

    Args:
        points: All of them.
        chains: The lines.
        rank: Of each line, the better the higher.
        places: Those in the lines' order that are asked of, and those they may be beside.
        reach_px: How far apart at most.
        cosine: How parallel at least.
    """
    one, two = pairs_within(points, chains.order[places[0]], chains.order[places[1]], reach_px)
    one, two = places[0][one], places[1][two]
    ranks = rank[chains.owner]
    better = np.flatnonzero(ranks.take(two) > ranks.take(one))
    one, two = one.take(better), two.take(better)
    a, b = chains.order.take(one), chains.order.take(two)
    alike = points.across_x.take(a) * points.across_x.take(b)
    alike += points.across_y.take(a) * points.across_y.take(b)
    along = np.flatnonzero(np.abs(alike) > np.float32(cosine))
    one, two, a, b = (each.take(along) for each in (one, two, a, b))
    far = np.hypot(points.x.take(a) - points.x.take(b), points.y.take(a) - points.y.take(b))
    return one, two, far
