"""Lines below noses, where what is drawn anyway is but crumbs of them.

Where one line that was found has most of it, that line knows tip and wings as well and stays.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.noses import Nose
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points

#: One line has a nose's if it is along so much of it; a crumb has so much of itself along it.
_HAS, _CRUMB = 0.45, 0.6
#: Parts of a nose that a line may be along.
_PARTS = 20

Flags = npt.NDArray[np.bool_]


def missing_noses(
    noses: tuple[Nose, ...], points: Points, chains: Chains
) -> tuple[tuple[Nose, ...], Flags]:
    """Noses that no line has yet, and which lines stay beside them.

    Args:
        noses: Those that were found.
        points: All points.
        chains: Lines that are drawn.
    """
    stay, missing = np.ones(len(chains), np.bool_), []
    x, y, owner = points.x[chains.order], points.y[chains.order], chains.owner
    for nose in noses:
        at = nose.frame.near(x, y)
        across, down = nose.frame.seen_from(x[at], y[at]).T
        on = nose.covers(across, down)
        at, across = at[on], across[on]
        share = (across - nose.across[0]) / (nose.across[-1] - nose.across[0])
        part = np.clip((share * _PARTS).astype(np.int64), 0, _PARTS - 1)
        parts = np.unique(owner[at] * _PARTS + part) // _PARTS
        if np.bincount(parts, minlength=len(chains)).max(initial=0) > _HAS * _PARTS:
            continue
        missing.append(nose)
        stay &= np.bincount(owner[at], minlength=len(chains)) < _CRUMB * chains.counts
    return tuple(missing), stay
