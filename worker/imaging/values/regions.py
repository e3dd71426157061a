"""Patches of tone that a pen can fill: what is narrower goes to the tones around it.

A patch keeps the places where a brush of a given width, a disc, lies wholly inside it
(morphological opening, Serra 1982). All other cells, which are specks, necks, and the thin
bands of middle tones along a sharp edge, go to those of the tones beside them that is
nearest to their own grey. Then every patch has a place as wide as the brush.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.imaging.values.smooth import FINE, Fine

Bytes = npt.NDArray[np.uint8]
Mask = npt.NDArray[np.bool_]

#: A cell of which it is not settled whose it is.
_OPEN = np.uint8(255)
#: Openings may leave new narrow places where patches grew together; these are the rounds that
#: are spent on them.
ROUNDS = 6
#: Open cells that are looked at together.
_CHUNK = 1 << 17
#: Of the steps that grow an octagon like a disc, this share goes to all eight sides.
_SQUARE_SHARE = 0.414


def settled(tones: Bytes, fine: Fine, means: npt.NDArray[np.float64], reach: int) -> Bytes:
    """Each patch at least `2 * reach + 1` cells wide somewhere.

    Args:
        tones: (rows, columns) number of each cell's tone.
        fine: The greys, in 256ths.
        means: Grey of each tone.
        reach: Radius of the brush in cells.
    """
    now = tones
    if reach == 0:
        return now
    for _ in range(ROUNDS):
        kept = _opened(now, reach)
        if kept.all() or not kept.any():
            break
        now = _filled(now, kept, fine, means)
    return now


def _opened(tones: Bytes, reach: int) -> Mask:
    """The cells that a brush inside their patch reaches."""
    border = np.zeros(tones.shape, np.bool_)
    across, down = tones[:, 1:] != tones[:, :-1], tones[1:] != tones[:-1]
    border[:, 1:] |= across
    border[:, :-1] |= across
    border[1:] |= down
    border[:-1] |= down
    # Cells at a border are inside their patch: the brush covers them with its last step, which
    # goes to four sides only and so cannot slip past a corner.
    centres = ~grown(border, reach - 1)
    return grown(grown(centres, reach - 1), 1)


def grown(mask: Mask, reach: int) -> Mask:
    """All cells within an octagon of this radius around those given."""
    squares = round(reach * _SQUARE_SHARE)
    for step in range(reach):
        across = mask.copy()
        across[:, 1:] |= mask[:, :-1]
        across[:, :-1] |= mask[:, 1:]
        source = across if step < squares else mask
        down = across
        below, above = source[:-1].copy(), source[1:].copy()
        down[1:] |= below
        down[:-1] |= above
        mask = down
    return mask


def _filled(tones: Bytes, kept: Mask, fine: Fine, means: npt.NDArray[np.float64]) -> Bytes:
    """Let the kept patches grow, cell by cell, over what is not kept."""
    rows, columns = tones.shape
    # A rim that never settles spares asking where the picture ends.
    padded = np.full((rows + 2, columns + 2), _OPEN)
    padded[1:-1, 1:-1] = np.where(kept, tones, _OPEN)
    flat = padded.reshape(-1)
    inside = np.flatnonzero(~kept)
    place = (inside // columns + 1) * (columns + 2) + inside % columns + 1
    grey = fine.reshape(-1)[inside].astype(np.float32) / FINE
    far = np.append(means, np.full(256 - len(means), np.inf)).astype(np.float32)
    width = columns + 2
    beside = np.array([-width - 1, -width, -width + 1, -1, 1, width - 1, width, width + 1])
    while len(place):
        found = np.empty(len(place), np.uint8)
        for start in range(0, len(place), _CHUNK):
            part = slice(start, start + _CHUNK)
            near = flat[place[part, np.newaxis] + beside]
            off = np.abs(far[near] - grey[part, np.newaxis])
            found[part] = np.take_along_axis(near, off.argmin(axis=1)[:, np.newaxis], 1)[:, 0]
        flat[place] = found
        still = found == _OPEN
        place, grey = place[still], grey[still]
    return padded[1:-1, 1:-1].copy()
