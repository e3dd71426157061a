"""The height of the steps between JPEG's blocks, so that none is taken for an edge.

JPEG compresses blocks of 8 × 8 pixels (ITU-T T.81) and rounds the mean of each. What is smooth
in the scene then has steps between blocks: straight, long and regular, just like lines. They
are measured by how much more neighbouring pixels differ at every eighth place.
"""

from __future__ import annotations

import math
from concurrent.futures import Executor

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.colour_edges import CHROMA_WEIGHT
from worker.picture.outline.points.sampled_picture import CHROMA_PX, chroma_channels
from worker.reference.master import TILE_HEIGHT_PX, TILE_WIDTH_PX, Box, Master

BLOCK_PX = 8
#: Parts of the reference that are looked at, each way, and their sides.
_PARTS, _PART_PX = 3, 256
#: Which of the jumps counts: one in fifty is higher.
_HIGHEST = 0.98
#: By how much it must be higher where blocks meet than elsewhere, not to be the scene's own.
_STANDS_OUT = 1.5
#: Higher ones are edges of the scene.
_MOST_LEVELS = 24.0
#: How much of the usual step is taken off.
_GRAINY = 2.0

_Floats = npt.NDArray[np.float32]


def block_step(master: Master, threads: Executor) -> float:
    """The height of a step that compression made, in levels; near 0 where there is none."""
    return _highest(list(threads.map(lambda box: _part(master, box), _boxes(master))))


def chroma_block_step(master: Master, threads: Executor) -> float:
    """The same of colour, which is kept at half as many pixels each way, or less."""
    if not master.coloured:
        return 0.0
    parts = list(threads.map(lambda box: _chroma_channels(master, box), _boxes(master)))
    steps = [_highest(list(channel)) for channel in zip(*parts, strict=True)]
    return CHROMA_WEIGHT * math.hypot(*steps)


def _boxes(master: Master) -> list[Box]:
    """Parts in tiles of their own, evenly over the reference."""
    return [
        (left, top, min(left + _PART_PX, master.width_px), min(top + _PART_PX, master.height_px))
        for top in _even(master.height_px, TILE_HEIGHT_PX)
        for left in _even(master.width_px, TILE_WIDTH_PX)
    ]


def _even(side_px: int, tile_px: int) -> list[int]:
    tiles = -(-side_px // tile_px)
    return sorted({number * tiles // _PARTS * tile_px for number in range(_PARTS)})


def _part(master: Master, box: Box) -> _Floats:
    return np.asarray(master.window("grey", box), np.float32)


def _chroma_channels(master: Master, box: Box) -> tuple[_Floats, ...]:
    part = master.window("colour", box, shrink=CHROMA_PX)
    return tuple(np.asarray(channel, np.float32) for channel in chroma_channels(part))


def _highest(parts: list[_Floats]) -> float:
    """The step that is higher of those between rows and those between columns."""
    return max(_step([part.T for part in parts]), _step(parts))


def _step(parts: list[_Floats]) -> float:
    """Steps between rows: by how much the highest at one place of eight stand out."""
    steps = np.concatenate([_jumps(part) for part in parts], axis=1)
    if not steps.size:
        return 0.0
    high = np.quantile(steps, _HIGHEST, axis=1)
    place = int(high.argmax())
    most, usual = float(high[place]), float(np.median(high))
    if most <= _STANDS_OUT * usual:
        return 0.0
    # Grain that was rounded makes steps everywhere, which run together to no line.
    return max(min(most, _MOST_LEVELS) - _GRAINY * float(np.median(steps[place])), 0.0)


def _jumps(part: _Floats) -> _Floats:
    """Jumps between rows, over eight columns each, by their place of eight; (8, jumps).

    The mean over a block's width leaves little of grain.
    """
    rows, columns = part.shape[0] // BLOCK_PX - 1, part.shape[1] // BLOCK_PX
    if rows < 1 or columns < 1:
        return np.zeros((BLOCK_PX, 0), np.float32)
    wide = part[:, : columns * BLOCK_PX].reshape(-1, columns, BLOCK_PX).mean(axis=2)
    step = np.diff(wide, axis=0)
    # What goes on before and after is a slope of the scene.
    jump = np.abs(step[1:-1] - (step[:-2] + step[2:]) * np.float32(0.5))
    jump = jump[: rows * BLOCK_PX].reshape(rows, BLOCK_PX, columns)
    return np.asarray(jump.swapaxes(0, 1).reshape(BLOCK_PX, -1))
