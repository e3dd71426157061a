"""How much of a damaged photo could be read, told from what its decoder made of it.

Where data run out, a decoder leaves blocks in the middle grey. Where some are missing or
wrong in the middle, what follows is shifted and off in tone, and begins with a jump.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

#: What a block without coefficients decodes to (T.81 A.3.1: levels are shifted by half).
_EMPTY = 128
_BLOCK_PX = 8
#: A row of blocks that differs so many times as much from the one above as rows usually do.
_JUMP = 3.0
#: Less than all is never told as all.
_MOST = 0.99

Pixels = npt.NDArray[np.uint8]


def readable_share(pixels: Pixels, *, restarts: bool) -> float:
    """About how much of a damaged sequential photo is as it was, 0 to 0.99.

    Args:
        pixels: What was decoded, (rows, columns, channels).
        restarts: Whether a decoder finds its place again after damage.
    """
    share = 1.0 - _empty(pixels)
    if not restarts:
        share = min(share, _jump_at(pixels))
    return min(share, _MOST)


def _empty(pixels: Pixels) -> float:
    """The share of blocks that nothing was read for."""
    spots = [pixels[at::_BLOCK_PX, at::_BLOCK_PX, :3] for at in (1, 4, 6)]
    rows = min(len(spot) for spot in spots)
    columns = min(spot.shape[1] for spot in spots)
    if not rows or not columns:
        return 0.0
    empty = [(spot[:rows, :columns] == _EMPTY).all(axis=2) for spot in spots]
    return float(np.logical_and.reduce(empty).mean())


def _jump_at(pixels: Pixels) -> float:
    """Where the photo jumps as no photo does, in shares of its height; 1 for nowhere."""
    above = pixels[_BLOCK_PX - 1 : -1 : _BLOCK_PX, ::4, :3].astype(np.int16)
    below = pixels[_BLOCK_PX::_BLOCK_PX, ::4, :3].astype(np.int16)
    if not len(below):
        return 1.0
    steps = np.abs(below[: len(above)] - above[: len(below)]).mean(axis=(1, 2))
    at = int(steps.argmax())
    if steps[at] <= _JUMP * max(float(np.median(steps)), 1.0):
        return 1.0
    return (at + 1) * _BLOCK_PX / len(pixels)
