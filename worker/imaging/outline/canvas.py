"""The picture in grey on a grid of its own, whose pitch follows from the scale of lines.

A line has a width on the paper, whatever camera took the photo; so the grid is laid in
millimetres over the picture as printed, and all that follows counts in its pixels.
"""

from __future__ import annotations

import math
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.imaging.enlarge import picture_part
from worker.imaging.master import Master
from worker.layout.plan import Plan, Rect
from worker.layout.spec import Spec

#: Width of the smoothing on the paper: what is finer is texture under a pen of 0.35 mm.
LINE_SIGMA_MM = 0.5
#: Nor finer than this in the reference's own pixels, where only their grain is left.
_SIGMA_REFERENCE_PX = 1.2
#: Nor finer than this part of the picture's diagonal: seen whole, from as far away as it is
#: large, an arc minute is a 3438th of it. It is the rule from about a metre on.
_DIAGONAL_PARTS = 2400.0
#: The same width in pixels of the grid: an edge is then found to a twentieth of a pixel.
SIGMA_PX = 2.0
#: Rows read at once.
_BAND_ROWS = 256

Bytes = npt.NDArray[np.uint8]


@dataclass(frozen=True, kw_only=True)
class Canvas:
    """The picture in grey, and what its pixels measure.

    Attributes:
        grey: (rows, columns) of printed grey, without the printed tones.
        across_mm, down_mm: Size of a pixel; the two differ by less than a pixel's share.
    """

    grey: Bytes
    across_mm: float
    down_mm: float

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.grey.shape[0], self.grey.shape[1]

    @property
    def sigma_mm(self) -> float:
        """The scale at which lines are looked for."""
        return SIGMA_PX * self.pitch_mm

    @property
    def pitch_mm(self) -> float:
        """Size of a pixel, on the mean of both ways."""
        return math.sqrt(self.across_mm * self.down_mm)


def line_sigma_mm(plan: Plan, width_px: int) -> float:
    """The scale at which lines are looked for, on the paper.

    Args:
        plan: The plan, for the picture's size and crop.
        width_px: Width of the upright reference.
    """
    picture = plan.picture
    reference_mm = picture.width_mm / (plan.crop.width * width_px)
    diagonal_mm = math.hypot(picture.width_mm, picture.height_mm)
    return max(LINE_SIGMA_MM, _SIGMA_REFERENCE_PX * reference_mm, diagonal_mm / _DIAGONAL_PARTS)


def read_canvas(master: Master, spec: Spec, plan: Plan, threads: Executor) -> Canvas:
    """Lay the grid over the picture and read it, band by band."""
    pitch_mm = line_sigma_mm(plan, master.width_px) / SIGMA_PX
    picture = plan.picture
    columns = max(round(picture.width_mm / pitch_mm), 1)
    rows = max(round(picture.height_mm / pitch_mm), 1)
    down_mm = picture.height_mm / rows
    grey = np.empty((rows, columns), np.uint8)

    def read(top: int) -> None:
        height = min(_BAND_ROWS, rows - top)
        bottom_mm = min((top + height) * down_mm, picture.height_mm)
        rect = Rect(0.0, top * down_mm, picture.width_mm, bottom_mm - top * down_mm)
        band = picture_part(master, spec, plan, rect, (columns, height), ground="grey", toned=False)
        grey[top : top + height] = np.asarray(band)

    list(threads.map(read, range(0, rows, _BAND_ROWS)))
    return Canvas(grey=grey, across_mm=picture.width_mm / columns, down_mm=down_mm)
