"""What a picture is of, told from what is around it, by what the reading of contours sees.

A network of a few layers beside that for contours, which learnt from the same made-up scenes: there
it is known what was painted as the picture's main thing, or as a thing before ground and sky. A
draughtsman closes the outer contour of that, and lets the rest recede (common practice).
"""

from __future__ import annotations

from functools import cache

import numpy as np

from worker.reading.network import Network, Weights
from worker.reading.planes import Floats, Planes
from worker.reading.stored import stored_weights

#: It is told for squares of so many pixels.
SQUARE_PX = 4
#: Convolutions at a 32nd of the sides, and how often the grid is made finer after them.
_DEEP, _LEVELS = 2, 3


@cache
def subject_weights() -> Weights:
    """Of the network; where they come from is written beside them."""
    return stored_weights("subjects.npz.xz")


def subject_logits(network: Network, seen: list[Planes]) -> Floats:
    """Log odds that a square is of what the picture is of, (rows, columns).

    Args:
        network: With `subject_weights`.
        seen: What the network for contours sees on its way up, from a 32nd of the sides on.
    """
    x = seen[0]
    for layer in range(_DEEP):
        x = network.convolved(f"s.{layer}", x)
    mean = Planes.of(x.inner.mean(axis=(1, 2), dtype=np.float64).astype(np.float32)[:, None, None])
    x.inner[...] += network.convolved("g", mean, rectify=False).inner
    for level in range(_LEVELS):
        finer = network.convolved(f"b.{level}", seen[level + 1], rectify=False)
        network.add_doubled(finer, x)
        x = network.convolved(f"w.{level}", finer)
    return np.array(network.convolved("m", x, rectify=False).inner[0])
