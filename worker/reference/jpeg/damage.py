"""How much of a damaged photo could be read, estimated from the decoded pixels.

Where data end, a decoder leaves blocks in the middle grey. Where data are missing or wrong in
the middle, the pixels after them are shifted and have another tone, and begin with a jump.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

#: What a block without coefficients decodes to (T.81 A.3.1: levels are shifted by half).
_EMPTY = 128
_BLOCK_PX = 8
#: A row of blocks that differs so many times as much from the one above as rows usually do: of
#: a dozen sound photographs none did so 1.7 times as much, of damaged ones all 2.3 times.
_JUMP = 2.0
#: Columns that are looked at.
_APART = 4
#: The share of a damaged photo is never given as 1.
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
    """Where the photo first jumps as no photo does, in shares of its height; 1 for nowhere.

    The step from one row of blocks to the next is measured against the steps on either side.
    """
    rows = len(pixels) // _BLOCK_PX - 1
    if rows < 1:
        return 1.0
    step, above, below = (_steps(pixels, _BLOCK_PX + off)[:rows] for off in (-1, -2, 0))
    jumps = step / (1.0 + np.maximum(above, below))
    found = np.flatnonzero(jumps > _JUMP * max(float(np.median(jumps)), 0.1))
    return float((found[0] + 1) * _BLOCK_PX / len(pixels)) if found.size else 1.0


def _steps(pixels: Pixels, first: int) -> npt.NDArray[np.float64]:
    """Mean difference of rows `first`, `first` + 8, … from those below them."""
    upper = pixels[first:-1:_BLOCK_PX, ::_APART, :3].astype(np.int16)
    lower = pixels[first + 1 :: _BLOCK_PX, ::_APART, :3].astype(np.int16)
    steps: npt.NDArray[np.float64] = np.abs(lower[: len(upper)] - upper).mean(axis=(1, 2))
    return steps
