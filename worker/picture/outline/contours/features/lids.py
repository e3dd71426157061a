"""Lids of eyes, as two curves that meet in the corners.

What is linked around an eye is lashes, folds and reflections; a draughtsman draws one line for
either lid (common practice). So the two are sought together, as a deformable template does (Yuille,
Hallinan and Cohen, "Feature extraction from faces using deformable templates", International
Journal of Computer Vision 8, 1992; from memory): curves between two corners around an iris that
was found, which lie best where it is darker than above and below, and along the rim of what the
reading has of the eye. Both eyes of a face are alike as a rule, so one
of them is fitted to be near the mirror of the other. They are used for lines and kept nowhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from worker.picture.outline.contours.features.irises import Iris
from worker.picture.outline.contours.features.lid_shapes import Lids, Shape
from worker.picture.outline.contours.features.lid_templates import fitted_to, sights_of
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.sampled_picture import Bytes

#: Templates that fit less well than these are none: the one of two eyes, and the better one.
_LEAST_FIT, _BETTER_FIT = 0.8, 1.0


def lids(placed: PlacedReading, grey: Bytes, irises: tuple[Iris, ...]) -> tuple[Lids, ...]:
    """Those that are seen clearly around both irises of a face.

    Args:
        placed: The reading.
        grey: The picture on its grid.
        irises: Those that were found, two of a face.
    """
    hand = float(np.sign(np.linalg.det(placed.to_share[:, :2])))
    found: list[Lids] = []
    for pair in zip(irises[::2], irises[1::2], strict=True):
        fits, both = fitted_alike(placed, grey, pair, hand)
        if min(fits) > _LEAST_FIT and max(fits) > _BETTER_FIT:
            found += both
    return tuple(found)


def fitted_alike(
    placed: PlacedReading, grey: Bytes, pair: Sequence[Iris], hand: float
) -> tuple[list[float], list[Lids]]:
    """How well the best template fits each of two eyes, and both.

    Either is fitted alone, and then as what is in the mirror of the other; the pair counts that
    fits better on the whole.
    """
    sights = [sights_of(placed, grey, iris, hand) for iris in pair]
    alone = [fitted_to(sight, iris, hand) for sight, iris in zip(sights, pair, strict=True)]
    like = [
        fitted_to(replace(sight, like=_mirrored(other)), iris, hand)
        for sight, iris, (_, other) in zip(sights, pair, alone[::-1], strict=True)
    ]
    pairs = (alone[0], like[1]), (like[0], alone[1])
    best = max(pairs, key=lambda one: one[0][0] + one[1][0])
    return [fit for fit, _ in best], [one for _, one in best]


def _mirrored(one: Lids) -> Shape:
    """What the other eye is like as a rule: how far down both corners are, and both arches."""
    return one.right[1], one.left[1], one.upper[0], one.lower[0]


def fitted(placed: PlacedReading, grey: Bytes, iris: Iris, hand: float) -> tuple[float, Lids]:
    """How well the best template fits one eye, and it."""
    return fitted_to(sights_of(placed, grey, iris, hand), iris, hand)
