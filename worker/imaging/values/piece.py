"""A piece of the picture in flat tones, at print resolution.

The cells say which tones meet where, the greys by how much each cell lies on this or that
side of their border. So for every border there is a field, the distance to it in cells,
which is enlarged smoothly by its absolute place and cut at nothing: lines without steps, the
same on both sides of a seam. Where tones meet that are no neighbours in lightness, as along
a sharp edge, their borders are one and the same, and no sliver of a middle tone comes
between.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageFilter

from worker.imaging.enlarge import piece_size
from worker.imaging.values.levels import Levels
from worker.imaging.values.regions import without_dust
from worker.imaging.values.smooth import FINE, Bytes, Floats
from worker.layout.plan import Piece, Plan, Rect
from worker.layout.spec import Spec

Box = tuple[float, float, float, float]
Sides = tuple[int, int, int, int]

#: Pixels that are made at once.
_STRIP_PIXELS = 1 << 20
#: Beyond so many cells a distance to a border does not matter.
_FAR_CELLS = 1.5
#: Greys from cell to cell below which there is no slope to speak of.
_FLAT = 0.25
#: A cell lies at least so far on its own side of a border: borders never leave their cells.
_OWN_CELLS = 0.25
#: Borders are smoothed by so many cells, against the steps of the grid.
_SOFTEN_CELLS = 0.8
#: Where a tone runs out between two others, its tip is cut off at this width.
_TIP_CELLS = 0.6
#: What smoothing (three boxes), slope and bicubic enlargement reach, in cells.
_HALO = 10
_HALF = 127
#: Dots narrower than the brush of this radius are let go of, and hairs longer than so many
#: pixels; both go by what lies this many pixels around.
_DUST_PX, _HAIR_PX, _AROUND_PX = 2, 6, 16
_TIP = np.int16(round(_HALF / _FAR_CELLS * _TIP_CELLS))


def values_piece(
    levels: Levels, spec: Spec, plan: Plan, piece: Piece, *, ppi: float | None = None
) -> Image.Image:
    """One piece, upright as in the picture.

    Args:
        levels: What `find_levels` found, for this spec and plan.
        spec: The job.
        plan: Its plan.
        piece: One of the plan's.
        ppi: Pixels per inch; by default as many as may be printed, since borders are as
            sharp as they are drawn, however small the photo.

    Returns:
        Mode L, holding `levels.tones` only; each side is rounded up to whole pixels, which
        together cover exactly the piece's millimetres.
    """
    rect_mm = piece.picture_rect_mm
    return values_part(levels, plan, rect_mm, piece_size(rect_mm, ppi or spec.print.resolution_ppi))


def values_part(levels: Levels, plan: Plan, rect_mm: Rect, size: tuple[int, int]) -> Image.Image:
    """A rectangle of the picture in its tones, on a grid of `size` pixels."""
    rows, columns = levels.cells.shape
    scale = (columns / plan.picture.width_mm, rows / plan.picture.height_mm)
    left, top = rect_mm.left * scale[0], rect_mm.top * scale[1]
    right, bottom = rect_mm.right * scale[0], rect_mm.bottom * scale[1]
    part = Image.new("L", size)
    most = max(_STRIP_PIXELS // size[0], 1)
    pitch = (right - left) / size[0], (bottom - top) / size[1]
    greys = np.array(levels.tones, np.uint8)
    for first in range(0, size[1], most):
        last = min(first + most, size[1])
        box = (left, top + first * pitch[1], right, top + last * pitch[1])
        around = _around(box, pitch, (columns, rows))
        tone = _strip(levels, box, (size[0], last - first), pitch, around)
        part.paste(Image.fromarray(greys[tone]), (0, first))
    return part


def _around(box: Box, pitch: tuple[float, float], cells: tuple[int, int]) -> Sides:
    """How many pixels to look at on each side of a box: no further than the picture."""
    room = (
        box[0] / pitch[0],
        box[1] / pitch[1],
        (cells[0] - box[2]) / pitch[0],
        (cells[1] - box[3]) / pitch[1],
    )
    left, top, right, bottom = (min(int(max(each, 0.0)), _AROUND_PX) for each in room)
    return left, top, right, bottom


def _strip(
    levels: Levels, box: Box, size: tuple[int, int], pitch: tuple[float, float], around: Sides
) -> Bytes:
    """The tones of a box, with a look at what lies around it."""
    large = (
        box[0] - around[0] * pitch[0],
        box[1] - around[1] * pitch[1],
        box[2] + around[2] * pitch[0],
        box[3] + around[3] * pitch[1],
    )
    size_px = (size[0] + around[0] + around[2], size[1] + around[1] + around[3])
    tone = without_dust(_tone(_drawn(levels, large, size_px, pitch)), _DUST_PX, _HAIR_PX)
    return tone[around[1] : around[1] + size[1], around[0] : around[0] + size[0]]


def _drawn(
    levels: Levels, box: Box, size: tuple[int, int], pitch: tuple[float, float]
) -> list[Bytes]:
    """The fields of all borders at print resolution."""
    rows, columns = levels.cells.shape
    halo = math.ceil(_HALO * max(*pitch, 1.0))
    left, top = max(math.floor(box[0]) - halo, 0), max(math.floor(box[1]) - halo, 0)
    right, bottom = min(math.ceil(box[2]) + halo, columns), min(math.ceil(box[3]) + halo, rows)
    inside = (
        max(box[0] - left, 0.0),
        max(box[1] - top, 0.0),
        min(box[2] - left, float(right - left)),
        min(box[3] - top, float(bottom - top)),
    )
    drawn = []
    for field in _fields(levels, (slice(top, bottom), slice(left, right))):
        soft = Image.fromarray(field).filter(ImageFilter.GaussianBlur(_SOFTEN_CELLS))
        drawn.append(np.asarray(soft.resize(size, Image.Resampling.BICUBIC, box=inside)))
    return drawn


def _tone(fields: list[Bytes]) -> Bytes:
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


def _fields(levels: Levels, window: tuple[slice, slice]) -> list[Bytes]:
    """For each border between two tones, how far above it each cell lies."""
    grey = levels.fine[window].astype(np.float32) / np.float32(FINE)
    present = _present(levels.cells[window])
    slope = _slope(grey)
    reach = np.float32(_HALF / _FAR_CELLS)
    fields = []
    for border, table in enumerate(_tables(levels)):
        off = np.clip((grey - table[present]) / slope, -_FAR_CELLS, _FAR_CELLS)
        above = levels.cells[window] > border
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


def _tables(levels: Levels) -> list[npt.NDArray[np.float32]]:
    """For each border, the grey it runs at, by which tones are present.

    Minus infinity where only lighter tones are, infinity where only darker ones are.
    """
    count = len(levels.tones)
    thresholds = [share * 255.0 for share in levels.thresholds]
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
