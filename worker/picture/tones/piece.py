"""A piece of the picture in flat tones, at print resolution.

The distance fields of the borders are enlarged in the coordinates of the whole picture and cut
at zero. So borders have no steps of the grid, and continue to the pixel across seams. Specks
that are too small to fill are removed, by their surroundings, also beyond the piece. Tones are
printed at 200 pixels per inch or what was asked for, however small the photo.
"""

from __future__ import annotations

import math

import numpy as np
from PIL import Image, ImageFilter

from worker.picture.enlarge import boxed, piece_size
from worker.picture.tones.distance_fields import border_fields, tone_of
from worker.picture.tones.edge_preserving import Bytes
from worker.picture.tones.parting_lines import draw_lines
from worker.picture.tones.posterisation import Posterised
from worker.picture.tones.regions import remove_specks
from worker.reference.master import Box as PixelBox
from worker.spec.plan import Piece, Plan, Rect
from worker.spec.spec import Spec

Box = tuple[float, float, float, float]
Sides = tuple[int, int, int, int]

#: Pixels that are made at once.
_STRIP_PIXELS = 1 << 20
#: Borders are smoothed by so many cells, against the steps of the grid.
_SOFTEN_CELLS = 0.8
#: In a picture smaller than this, lines as wide as a pixel would be most of it.
_LINES_FROM_PX = 400
#: What smoothing (three boxes), slope and bicubic enlargement reach, in cells.
_HALO = 10
#: Dots narrower than a brush of this radius are removed, and hairs longer than this, by their
#: surroundings up to this distance; all in pixels.
_DUST_PX, _HAIR_PX, _AROUND_PX = 2, 6, 16


def values_piece(  # noqa: PLR0913 - what of which picture, and how fine.
    posterised: Posterised,
    spec: Spec,
    plan: Plan,
    piece: Piece,
    *,
    ppi: float | None = None,
    box: PixelBox | None = None,
) -> Image.Image:
    """One piece, upright as in the picture.

    Args:
        posterised: What `posterise` returned for this spec and plan.
        spec: The spec.
        plan: Its plan.
        piece: One of the plan's.
        ppi: Pixels per inch; by default as many as may be printed, since borders are as
            sharp as they are drawn, however small the photo.
        box: Of the piece's pixels only these.

    Returns:
        Mode L, holding `posterised.tones` only; each side is rounded up to whole pixels, which
        together cover exactly the piece's millimetres.
    """
    rect_mm = piece.picture_rect_mm
    size = piece_size(rect_mm, ppi or spec.print.resolution_ppi)
    return values_part(posterised, plan, *boxed(rect_mm, size, box))


def values_part(
    posterised: Posterised,
    plan: Plan,
    rect_mm: Rect,
    size: tuple[int, int],
    *,
    least_px: float = 1.0,
) -> Image.Image:
    """A rectangle of the picture in its tones, on a grid of `size` pixels.

    No line between patches of one tone is narrower than `least_px`.
    """
    rows, columns = posterised.cells.shape
    scale = (columns / plan.picture.width_mm, rows / plan.picture.height_mm)
    left, top = rect_mm.left * scale[0], rect_mm.top * scale[1]
    right, bottom = rect_mm.right * scale[0], rect_mm.bottom * scale[1]
    part = Image.new("L", size)
    most = max(_STRIP_PIXELS // size[0], 1)
    pitch = (right - left) / size[0], (bottom - top) / size[1]
    greys = np.array(posterised.tones, np.uint8)
    for first in range(0, size[1], most):
        last = min(first + most, size[1])
        box = (left, top + first * pitch[1], right, top + last * pitch[1])
        around = _around(box, pitch, (columns, rows))
        tone = _strip(posterised, box, (size[0], last - first), pitch, around)
        if posterised.lines is not None:
            draw_lines(tone, len(greys), posterised.lines, box, least_px)
        part.paste(Image.fromarray(greys[tone]), (0, first))
    return part


def reduced_values(
    posterised: Posterised, plan: Plan, size: tuple[int, int], *, finer: int = 1
) -> Image.Image:
    """The whole picture for a screen or a map.

    Args:
        posterised: What `posterise` returned for this plan.
        plan: The plan.
        size: Width and height in pixels.
        finer: Drawn so many times larger, and then reduced, so that borders are smooth.
    """
    if posterised.cells.shape[1] > size[0] * finer:
        # Borders between cells are finer than these pixels; drawing them would take memory for
        # the fields of all cells at once.
        cells = np.array(posterised.tones, np.uint8)[posterised.cells]
        small = np.array(Image.fromarray(cells).resize(size, Image.Resampling.BOX))
        return Image.fromarray(_with_lines(small, posterised))
    whole = Rect(0.0, 0.0, plan.picture.width_mm, plan.picture.height_mm)
    large = (size[0] * finer, size[1] * finer)
    return values_part(posterised, plan, whole, large, least_px=float(finer)).reduce(finer)


def _with_lines(greys: Bytes, posterised: Posterised) -> Bytes:
    """The whole picture, in greys that are mixed already, with its lines."""
    if posterised.lines is None or max(greys.shape) < _LINES_FROM_PX:
        return greys
    size = (greys.shape[1], greys.shape[0])
    before = Image.fromarray(posterised.cells).resize(size, Image.Resampling.NEAREST)
    tone = np.array(before)
    rows, columns = posterised.cells.shape
    tones = np.array(posterised.tones, np.uint8)
    box = (0.0, 0.0, float(columns), float(rows))
    draw_lines(tone, len(tones), posterised.lines, box, 1.0)
    return np.where(tone != np.asarray(before), tones[tone], greys)


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
    posterised: Posterised,
    box: Box,
    size: tuple[int, int],
    pitch: tuple[float, float],
    around: Sides,
) -> Bytes:
    """The tones of a box, computed with the pixels around it."""
    large = (
        box[0] - around[0] * pitch[0],
        box[1] - around[1] * pitch[1],
        box[2] + around[2] * pitch[0],
        box[3] + around[3] * pitch[1],
    )
    size_px = (size[0] + around[0] + around[2], size[1] + around[1] + around[3])
    tone = remove_specks(tone_of(_drawn(posterised, large, size_px, pitch)), _DUST_PX, _HAIR_PX)
    return tone[around[1] : around[1] + size[1], around[0] : around[0] + size[0]]


def _drawn(
    posterised: Posterised, box: Box, size: tuple[int, int], pitch: tuple[float, float]
) -> list[Bytes]:
    """The fields of all borders at print resolution."""
    rows, columns = posterised.cells.shape
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
    for field in border_fields(posterised, (slice(top, bottom), slice(left, right))):
        soft = Image.fromarray(field).filter(ImageFilter.GaussianBlur(_SOFTEN_CELLS))
        drawn.append(np.asarray(soft.resize(size, Image.Resampling.BICUBIC, box=inside)))
    return drawn
