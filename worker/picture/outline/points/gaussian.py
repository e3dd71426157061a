"""Gaussian smoothing by adding neighbours, exact in integers.

Repeated sums of neighbours approach a Gaussian (central limit theorem); a box of four takes two
additions. All sums are integers below 2^24, which float32 holds exactly. So a value depends on
its surroundings only, and not on the tile in which it is computed.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]

#: How far `gaussian_smoothed` reaches, in pixels.
REACH_PX = 5
#: Three boxes of four and a pair: variance 3 x 15/12 + 1/4 = 4, so sigma is 2 pixels; and
#: offsets of 1, 2 and 1, 2 and 1, 2 and 1 add up to ten pixels, five on each side.
OFFSETS = (1, 2, 1, 2, 1, 2, 1)
#: After so many rounds a sum is of 256 values.
_ROUNDS_IN_TWO_BYTES = 8


def gaussian_smoothed(
    values: npt.NDArray[np.uint8] | Floats, offsets: tuple[int, ...] = OFFSETS
) -> Floats:
    """Smooth with a sigma of 2 pixels; the result loses `REACH_PX` on each side.

    Args:
        values: (rows, columns), at least eleven each.
        offsets: Of the neighbours that are added, round after round. Each adds a quarter of its
            square to the variance, and the result loses half of their sum on each side.
    """
    # Sums of up to 256 bytes fit in two bytes, of which twice as many are added at once.
    in_two = values.dtype == np.uint8 and len(offsets) <= _ROUNDS_IN_TWO_BYTES
    across: npt.NDArray[np.generic] = values.astype(np.uint16 if in_two else np.float32)
    for offset in offsets:
        across = np.add(across[:, offset:], across[:, :-offset])
    sums = across.astype(np.float32, copy=False)
    for offset in offsets:
        sums = sums[offset:] + sums[:-offset]
    sums *= np.float32(1.0 / 2 ** (2 * len(offsets)))
    return sums


def box_mean(values: Floats, radius: int) -> Floats:
    """The mean over a square of side `2 * radius + 1`; edge values are repeated outwards."""
    count = 2 * radius + 1
    for axis in (0, 1):
        # Small strips of faces are smoothed by the hundred: for these `np.pad` took half the time.
        size = list(values.shape)
        size[axis] += count
        sums = np.empty(size, np.float64)
        # The same memory with rows and columns changed, so that both ways are one.
        along, given = (sums, values) if axis == 0 else (sums.T, values.T)
        along[: radius + 1], along[radius + 1 : len(along) - radius] = given[:1], given
        along[len(along) - radius :] = given[-1:]
        np.cumsum(sums, axis=axis, out=sums)
        mean = along[count:] - along[:-count]
        mean /= count
        values = (mean if axis == 0 else mean.T).astype(np.float32)
    return values
