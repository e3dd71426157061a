"""Discs that are darker inside than around: a first look, at few places of each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.round_forms.rings import Ring
from worker.picture.outline.contours.round_forms.seen_picture import SeenPicture, ways
from worker.picture.outline.points.gaussian import Floats

#: Radii at which levels are compared with those two further out, and places around each.
_RADII, _AROUND = np.array((0.6, 0.8, 1.0, 1.25, 1.5)), 16
#: It is lighter outside by so many levels along so much of it.
_LEVELS, _DARKER = 12.0, 0.8
#: More contrast than this says no more; so many of the best are looked at closely.
_MOST_LEVELS, _MOST = 80.0, 32
#: Discs are like a ring that have so much of its contrast, are as large up to this factor, and lie
#: so far from it, in its radii.
_CONTRAST, _AS_LARGE, _FROM, _TO = 0.6, 1.75, 1.6, 8.0


@dataclass(frozen=True, kw_only=True, eq=False)
class LikelyDiscs:
    """Those of a picture, the best first.

    Attributes:
        discs: (discs, 3): across and down of the middle, and the radius, in pixels of the grid.
        contrast: (discs,) in levels.
    """

    discs: Doubles
    contrast: Floats

    @property
    def best(self) -> Doubles:
        """Some of them."""
        return self.discs[:_MOST]

    def alike(self, ring: Ring) -> int:
        """How many are around a ring that are like it: many, if it is one of a texture."""
        off = np.hypot(*(self.discs[:, :2] - ring.centre).T) / ring.radius
        size = np.abs(np.log(self.discs[:, 2] / ring.radius))
        like = (off > _FROM) & (off < _TO) & (size < np.log(_AS_LARGE))
        return int((like & (self.contrast > _CONTRAST * ring.contrast)).sum())


def likely_discs(seen: SeenPicture, discs: Doubles) -> LikelyDiscs:
    """Those of some discs.

    Args:
        seen: The picture.
        discs: As those of `LikelyDiscs`.
    """
    middles, radii = discs[:, None, None, :2], discs[:, 2, None, None, None]
    levels = seen.at(middles + radii * _RADII[:, None, None] * ways(_AROUND))
    step = (levels[:, 2:] - levels[:, :-2]).max(axis=1)
    share, contrast = (step > _LEVELS).mean(axis=1), np.median(step, axis=1)
    worth = share * np.minimum(contrast, _MOST_LEVELS)
    order = np.argsort(-worth, kind="stable")
    order = order[share[order] > _DARKER]
    return LikelyDiscs(discs=discs[order], contrast=contrast[order])
