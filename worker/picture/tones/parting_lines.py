"""Parting lines: where a contour runs between two patches of one tone.

A cheek before a wall of the same tone would otherwise be one patch with it. So a fine line is
drawn along the contour, in the tone that stands out most from the patch. It follows from signed
distance fields, as borders between tones do: patches of one tone that touch get different
numbers, each bit of these numbers has a smooth field that crosses zero between its two sides, and
the line is where a field is nearly zero. So it has one width, no steps of the grid, and goes on
across seams.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.picture.tones.edge_preserving import Floats, box_mean
from worker.picture.tones.patches import (
    Edges,
    Regions,
    components,
    first_cells,
    in_rows,
    touching,
)
from worker.picture.tones.regions import Bytes, Mask, dilated

#: Float16 is finest about zero, which is where lines are.
Field = npt.NDArray[np.float16]
Box = tuple[float, float, float, float]
#: Lines shorter than this are left out, in mm, and so are those that keep within the second
#: distance of a border between tones, which shows the same contour.
_SHORTEST_MM, _APART_MM = 8.0, 1.5
#: Fields are smoothed by so many cells of the contour map.
_SOFTEN_MAP_PX = 1.3
#: Three boxes are nearly a Gaussian.
_BOXES = 3
#: Of a field that crosses zero once; it is 1 at a straight border.
_LEAST_SLOPE = 0.6
#: Pixels are drawn in squares of this side, most of which have no line.
_BLOCK_PX = 384
#: What resampling looks at around a box, in cells or, where those are finer, in pixels.
_HALO = 3
_LINEAR, _CUBIC = Image.Resampling.BILINEAR, Image.Resampling.BICUBIC
#: How far beside a line its field is looked at, in standard deviations of the smoothing.
_BESIDE = 1.0


@dataclass(frozen=True, kw_only=True)
class PartingLines:
    """Where lines run.

    Attributes:
        fields: Each (rows, columns) of cells, in cells from where it crosses zero, exact near
            there.
        where: (rows, columns): zero crossings here are lines, 255, or are not, 0.
        width_cells: Of a line.
    """

    fields: tuple[Field, ...]
    where: Bytes
    width_cells: float


def parting_lines(
    tones: Bytes, regions: Regions, *, cell_mm: float, map_px_mm: float, width_mm: float
) -> PartingLines | None:
    """Find the lines; None where there is none.

    Args:
        tones: (rows, columns) number of each cell's tone.
        regions: The same shape: which side of the contours each cell is on.
        cell_mm: Size of a cell.
        map_px_mm: Size of a pixel of the map that contours were found in.
        width_mm: Of a line.
    """
    where = _where(tones, regions, cell_mm)
    if not where.any():
        return None
    deviation = max(_SOFTEN_MAP_PX * map_px_mm / cell_mm, 1.0)
    where = dilated(where, round(_BESIDE * deviation))
    number = _numbers(tones, regions)
    bits = range(int(number.max()).bit_length())
    return PartingLines(
        fields=tuple(_field(number, bit, deviation) for bit in bits),
        where=where.view(np.uint8) * np.uint8(255),
        width_cells=width_mm / cell_mm,
    )


def draw_lines(tone: Bytes, count: int, lines: PartingLines, box: Box, least_px: float) -> None:
    """Draw the lines of a box into its tones.

    Args:
        tone: (rows, columns) number of each pixel's tone, which is changed.
        count: How many tones there are.
        lines: As they were found.
        box: What `tone` covers, in cells.
        least_px: No line is narrower than this.
    """
    pitch = (box[2] - box[0]) / tone.shape[1], (box[3] - box[1]) / tone.shape[0]
    half = max(lines.width_cells, least_px * pitch[0]) / 2
    farthest = standing_out(count)
    rows, columns = (range(0, side, _BLOCK_PX) for side in tone.shape)
    for top, left in itertools.product(rows, columns):
        block = tone[top : top + _BLOCK_PX, left : left + _BLOCK_PX]
        part = (
            box[0] + left * pitch[0],
            box[1] + top * pitch[1],
            box[0] + (left + block.shape[1]) * pitch[0],
            box[1] + (top + block.shape[0]) * pitch[1],
        )
        near = _near_lines(lines, part, (block.shape[1], block.shape[0]), half)
        if near is not None:
            block[near] = farthest[block[near]]


def _near_lines(lines: PartingLines, box: Box, size: tuple[int, int], half: float) -> Mask | None:
    """The pixels of a box that are on a line; None where no line is near."""
    rows, columns = lines.where.shape
    halo = math.ceil(_HALO * max((box[2] - box[0]) / size[0], 1.0))
    left, top = max(int(box[0]) - halo, 0), max(int(box[1]) - halo, 0)
    right, bottom = min(int(box[2]) + halo, columns), min(int(box[3]) + halo, rows)
    window = np.s_[top:bottom, left:right]
    if not lines.where[window].any():
        return None
    inside = (
        max(box[0] - left, 0.0),
        max(box[1] - top, 0.0),
        min(box[2] - left, float(right - left)),
        min(box[3] - top, float(bottom - top)),
    )
    where = Image.fromarray(lines.where[window]).resize(size, _LINEAR, box=inside)
    near = np.zeros((size[1], size[0]), np.bool_)
    for field in lines.fields:
        exact = Image.fromarray(field[window].astype(np.float32))
        near |= np.abs(np.asarray(exact.resize(size, _CUBIC, box=inside))) < half
    near &= np.asarray(where) > 127  # noqa: PLR2004 - nearer to a line's cell than to another.
    return near


def standing_out(count: int) -> Bytes:
    """For each of `count` tones the one that is farthest from it."""
    number = np.arange(count)
    return np.where(number * 2 < count, count - 1, 0).astype(np.uint8)


def _where(tones: Bytes, regions: Regions, cell_mm: float) -> Mask:
    """Cells beside a border within a tone, of lines long enough."""
    parted, shifted = _borders(tones, regions)
    clear = parted & ~dilated(shifted, max(round(_APART_MM / cell_mm), 1))
    number, count = components(parted)
    # A line has a cell on either side.
    cells = np.bincount(number[clear], minlength=count)
    del clear
    long = cells >= 2 * _SHORTEST_MM / cell_mm
    parted &= ~dilated(shifted, 1)
    for rows in in_rows(parted.shape):
        parted[rows] &= long[number[rows]]
    return parted


def _borders(tones: Bytes, regions: Regions) -> tuple[Mask, Mask]:
    """Cells at borders between regions of one tone, and cells at borders between tones."""
    parted, shifted = np.zeros(tones.shape, np.bool_), np.zeros(tones.shape, np.bool_)
    for before, after in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:])):
        same = tones[before] == tones[after]
        line = same & (regions[before] != regions[after])
        for side in (before, after):
            parted[side] |= line
            shifted[side] |= ~same
    return parted, shifted


def _numbers(tones: Bytes, regions: Regions) -> Bytes:
    """A small number for each patch, different where patches of one tone touch."""
    labels, count = components(tones, regions)
    tone = tones.reshape(-1)[first_cells(labels, count)]
    beside = _neighbours(touching(labels, count), tone)
    given: dict[int, int] = {}
    for patch in _fewest_numbers(beside):
        taken = {given[other] for other in beside[patch] if other in given}
        given[patch] = next(each for each in itertools.count() if each not in taken)
    number = np.zeros(count, np.uint8)
    number[list(given)] = list(given.values())
    numbered = np.empty(labels.shape, np.uint8)
    for rows in in_rows(labels.shape):
        numbered[rows] = number[labels[rows]]
    return numbered


def _fewest_numbers(beside: dict[int, list[int]]) -> list[int]:
    """An order in which patches need few numbers, and so few fields: those with fewest last.

    Smallest-last ordering (Matula and Beck, "Smallest-last ordering and clustering and graph
    coloring algorithms", Journal of the ACM 30, 1983).
    """
    left = {patch: set(others) for patch, others in beside.items()}
    waiting = [(len(others), patch) for patch, others in left.items()]
    heapq.heapify(waiting)
    order = []
    while waiting:
        degree, patch = heapq.heappop(waiting)
        if patch not in left or degree != len(left[patch]):
            continue
        order.append(patch)
        for other in left.pop(patch):
            left[other].discard(patch)
            heapq.heappush(waiting, (len(left[other]), other))
    return order[::-1]


def _neighbours(edges: Edges, tone: Bytes) -> dict[int, list[int]]:
    """The patches of its own tone that each touches."""
    same = tone[edges.low] == tone[edges.high]
    beside: defaultdict[int, list[int]] = defaultdict(list)
    for low, high in zip(edges.low[same].tolist(), edges.high[same].tolist(), strict=True):
        beside[low].append(high)
        beside[high].append(low)
    return beside


def _field(number: Bytes, bit: int, deviation: float) -> Field:
    """Cells from the border of a bit, from the slope of a step that is smoothed."""
    # A box of 2 r + 1 has the variance ((2 r + 1)² - 1) / 12.
    radius = max(round(((12 * deviation**2 / _BOXES + 1) ** 0.5 - 1) / 2), 1)
    halo = _BOXES * radius + 1
    field = np.empty(number.shape, np.float16)
    for rows in in_rows(number.shape):
        first = max(rows.start - halo, 0)
        strip = _smoothed(number[first : rows.stop + halo] & np.uint8(1 << bit) > 0, radius)
        field[rows] = strip[rows.start - first : rows.stop - first]
    return field


def _smoothed(bit: Mask, radius: int) -> Floats:
    smooth = bit.astype(np.float32) - np.float32(0.5)
    for _ in range(_BOXES):
        smooth = box_mean(smooth, radius)
    deviation = (_BOXES * ((2 * radius + 1) ** 2 - 1) / 12) ** 0.5
    smooth *= np.float32(deviation * (2 * np.pi) ** 0.5)
    # Where two borders run close together the field is about zero between them as well.
    flat = np.hypot(*np.gradient(smooth)) < _LEAST_SLOPE
    smooth[flat] = np.copysign(np.maximum(np.abs(smooth[flat]), np.float32(1.0)), smooth[flat])
    return smooth
