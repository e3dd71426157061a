"""Borders between tones as signed distance fields.

Cells say which tones meet where; the smoothed greys say how far each cell is from the border.
So every border has a field: the distance to it, in cells. Where tones meet that are not
neighbours in lightness, as along a sharp edge, all borders between them share one field, so
that no sliver of a middle tone appears.
"""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt

from worker.picture.tones.edge_preserving import FINE, Bytes, Floats
from worker.picture.tones.posterisation import Posterised

#: Beyond so many cells a distance to a border does not matter.
_FAR_CELLS = 1.5
#: Greys from cell to cell below which there is no slope to speak of.
_FLAT = 0.25
#: A cell is at least so far on its own side of a border: borders never leave their cells.
_OWN_CELLS = 0.25
#: Where a tone runs out between two others, its tip is cut off at this width.
_TIP_CELLS = 0.6
#: A field holds this at its border, nothing far below it, and twice as much far above.
_HALF = 127
_TIP = np.int16(round(_HALF / _FAR_CELLS * _TIP_CELLS))


def border_fields(posterised: Posterised, window: tuple[slice, slice]) -> list[Bytes]:
    """For each border between two tones, the signed distance of each cell, as a byte.

    127.5 is the border; higher values are on its lighter side.
    """
    grey = posterised.fine[window].astype(np.float32) / np.float32(FINE)
    present = _present(posterised.cells[window])
    slope = _slope(grey)
    reach = np.float32(_HALF / _FAR_CELLS)
    fields = []
    for border, table in enumerate(_tables(posterised)):
        off = np.clip((grey - table[present]) / slope, -_FAR_CELLS, _FAR_CELLS)
        above = posterised.cells[window] > border
        off = np.where(above, np.maximum(off, _OWN_CELLS), np.minimum(off, -_OWN_CELLS))
        fields.append(np.rint(off * reach + np.float32(127.5)).astype(np.uint8))
    return fields


def _present(cells: Bytes) -> Bytes:
    """Which tones lie in the nine cells around each, a bit for each tone."""
    padded = np.pad(np.left_shift(np.uint8(1), cells), 1, mode="edge")
    across: Bytes = padded[:, :-2] | padded[:, 1:-1] | padded[:, 2:]
    present: Bytes = across[:-2] | across[1:-1] | across[2:]
    return present


def _slope(grey: Floats) -> Floats:
    """Greys from cell to cell, at the steepest."""
    padded = np.pad(grey, 1, mode="edge")
    across = (padded[1:-1, 2:] - padded[1:-1, :-2]) / 2
    down = (padded[2:, 1:-1] - padded[:-2, 1:-1]) / 2
    return np.maximum(np.hypot(across, down), np.float32(_FLAT))


def _tables(posterised: Posterised) -> list[npt.NDArray[np.float32]]:
    """For each border, the grey it runs at, by which tones are present.

    Minus infinity where only lighter tones are, infinity where only darker ones are.
    """
    count = len(posterised.tones)
    thresholds = [share * 255.0 for share in posterised.thresholds]
    tables = [np.empty(1 << count, np.float32) for _ in thresholds]
    for mask, border in itertools.product(range(1 << count), range(count - 1)):
        below = [tone for tone in range(border + 1) if mask >> tone & 1]
        above = [tone for tone in range(border + 1, count) if mask >> tone & 1]
        if not below or not above:
            tables[border][mask] = np.inf if below else -np.inf
        else:
            between = thresholds[below[-1] : above[0]]
            tables[border][mask] = (between[0] + between[-1]) / 2
    return tables


def tone_of(fields: list[Bytes]) -> Bytes:
    """The number of each pixel's tone, from the fields of the borders, low to high."""
    tone = np.zeros(fields[0].shape, np.uint8)
    for field in fields:
        tone += field > _HALF
    narrow = np.zeros(tone.shape, np.bool_)
    for number, (lower, upper) in enumerate(itertools.pairwise(fields), 1):
        narrow |= (tone == number) & (lower < upper + _TIP)
    places = np.nonzero(narrow)
    tone[places] = _without_tips(np.stack([field[places] for field in fields]), tone[places])
    return tone


def _without_tips(fields: Bytes, tone: Bytes) -> Bytes:
    """Let borders that run nearly together be one, and part the tones on its two sides.

    Args:
        fields: (borders, pixels).
        tone: (pixels,) a tone between the lowest and the highest.
    """
    near = fields[:-1].astype(np.int16) < fields[1:].astype(np.int16) + _TIP
    low, high = tone.astype(np.intp) - 1, tone.astype(np.intp)
    pixels = np.arange(len(tone))
    for _ in range(len(near)):
        low -= (low > 0) & near[np.maximum(low - 1, 0), pixels]
        high += (high < len(near)) & near[np.minimum(high, len(near) - 1), pixels]
    total = np.concatenate([np.zeros((1, len(tone)), np.int64), np.cumsum(fields, axis=0)])
    mean = (total[high + 1, pixels] - total[low, pixels]) / (high - low + 1)
    return np.where(mean > _HALF, high + 1, low).astype(np.uint8)
