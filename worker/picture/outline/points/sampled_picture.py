"""The picture sampled on a grid whose pitch follows from the scale of lines.

A line has a width on the paper, whatever camera took the photo. So the grid is in millimetres
of the picture as printed, and everything after this counts in its pixels. Smoothing has a
sigma of 0.5 mm on the paper, or 1.2 pixels that the photo resolves where those are coarser.
Chroma is sampled with half as many pixels each way: cameras and compression keep no more of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.picture.enlarge import picture_part
from worker.reference.master import Master
from worker.spec.plan import Plan, Rect
from worker.spec.spec import Spec
from worker.units import MM_PER_INCH

#: Width of the smoothing on the paper: what is finer is texture under a pen of 0.35 mm.
LINE_SIGMA_MM = 0.5
#: Nor finer than this in the pixels that the photo resolves, where only their grain is left.
_SIGMA_RESOLVED_PX = 1.2
#: Nor finer than this part of the picture's diagonal: seen whole, from as far away as it is
#: large, an arc minute is a 3438th of it. It is the rule from about a metre on.
_DIAGONAL_PARTS = 2400.0
#: The same width in pixels of the grid: an edge is then found to a twentieth of a pixel.
SIGMA_PX = 2.0
#: A pixel of the grid for colour has the sides of so many of the grid for grey.
CHROMA_PX = 2
#: Rows read at once, an even number.
_BAND_ROWS = 256

Bytes = npt.NDArray[np.uint8]
#: Reads the channels of a band (columns, rows) as Pillow images.
_Read = Callable[[Rect, tuple[int, int]], list[Image.Image]]


@dataclass(frozen=True, kw_only=True)
class PixelGrid:
    """The size of the grid's pixels.

    Attributes:
        across_mm, down_mm: Size of a pixel; the two differ by less than a pixel's share.
    """

    across_mm: float
    down_mm: float

    @property
    def pitch_mm(self) -> float:
        """Size of a pixel: the geometric mean of both ways."""
        return math.sqrt(self.across_mm * self.down_mm)

    @property
    def sigma_mm(self) -> float:
        """The scale at which lines are looked for."""
        return SIGMA_PX * self.pitch_mm


@dataclass(frozen=True, kw_only=True)
class SampledPicture(PixelGrid):
    """The picture on its grid.

    Attributes:
        grey: (rows, columns) of printed grey, without the printed tones.
        chroma: The channels Cb and Cr, with half as many rows and columns each; empty where
            the photo is grey.
    """

    grey: Bytes
    chroma: tuple[Bytes, ...] = ()

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.grey.shape[0], self.grey.shape[1]

    @property
    def grid(self) -> PixelGrid:
        """The grid without the pixels, which take far more memory and are needed no longer."""
        return PixelGrid(across_mm=self.across_mm, down_mm=self.down_mm)


def line_sigma_mm(plan: Plan) -> float:
    """The scale at which lines are looked for, on the paper."""
    picture = plan.picture
    diagonal_mm = math.hypot(picture.width_mm, picture.height_mm)
    photo_mm = _SIGMA_RESOLVED_PX * MM_PER_INCH / plan.resolution.resolved_ppi
    return max(LINE_SIGMA_MM, photo_mm, diagonal_mm / _DIAGONAL_PARTS)


def sample_picture(master: Master, spec: Spec, plan: Plan, threads: Executor) -> SampledPicture:
    """Sample the picture, in bands of rows.

    Args:
        master: The reference.
        spec: The spec.
        plan: Its plan.
        threads: Where bands are read.
    """
    pitch_mm = line_sigma_mm(plan) / SIGMA_PX
    picture, finer = plan.picture, CHROMA_PX if master.coloured else 1
    columns = max(round(picture.width_mm / pitch_mm / finer), 1)
    rows = max(round(picture.height_mm / pitch_mm / finer), 1)

    def grey(rect: Rect, size: tuple[int, int]) -> list[Image.Image]:
        return [picture_part(master, spec, plan, rect, size, colour_mode="grey", toned=False)]

    def chroma(rect: Rect, size: tuple[int, int]) -> list[Image.Image]:
        part = picture_part(master, spec, plan, rect, size, colour_mode="colour", toned=False)
        return chroma_channels(part)

    fine = (rows * finer, columns * finer)
    return SampledPicture(
        grey=_read(grey, plan, fine, 1, threads)[0],
        chroma=_read(chroma, plan, (rows, columns), 2, threads) if master.coloured else (),
        across_mm=picture.width_mm / fine[1],
        down_mm=picture.height_mm / fine[0],
    )


def chroma_channels(part: Image.Image) -> list[Image.Image]:
    """The channels Cb and Cr (ITU-T T.871) of a picture in RGB, mode L each."""
    return list(part.convert("YCbCr").split()[1:])


def _read(
    read: _Read, plan: Plan, shape: tuple[int, int], channels: int, threads: Executor
) -> tuple[Bytes, ...]:
    """The channels of the whole picture, each of `shape` (rows, columns)."""
    (rows, columns), picture = shape, plan.picture
    whole = tuple(np.empty(shape, np.uint8) for _ in range(channels))
    down_mm = picture.height_mm / rows

    def fill(top: int) -> None:
        height = min(_BAND_ROWS, rows - top)
        bottom_mm = min((top + height) * down_mm, picture.height_mm)
        rect = Rect(0.0, top * down_mm, picture.width_mm, bottom_mm - top * down_mm)
        for channel, band in zip(whole, read(rect, (columns, height)), strict=True):
            channel[top : top + height] = np.asarray(band)

    list(threads.map(fill, range(0, rows, _BAND_ROWS)))
    return whole
