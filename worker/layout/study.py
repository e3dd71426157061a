"""What the layout knows of a reference: its size, its line, its tones.

Imaging makes a `ReferenceStudy` once, at intake; here it is read for one crop at one
size. The detail map is kept at several scales, because what counts as one line depends
on how large the crop will be drawn: the level whose pixels come closest to half a 0.5 mm
pen (ISO 9175-1) on the paper is the one that is read.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.layout.spec import Area

#: The pen that tracing commonly uses, ISO 9175-1.
PEN_MM = 0.5
#: The level that is read has pixels of about this size on the paper.
PIXEL_ON_PAPER_MM = PEN_MM / 2
#: Cells of the picture's detail are about this wide and high.
CELL_MM = 1.0

Floats = npt.NDArray[np.float32]
Bytes = npt.NDArray[np.uint8]


@dataclass(frozen=True, kw_only=True, eq=False)
class DetailLevel:
    """Line per area at one scale.

    Attributes:
        density: (rows, columns), over the whole upright reference; length of line in
            level pixels per square level pixel.
        pixel_size_px: How many reference pixels a level pixel is wide.
    """

    density: Floats
    pixel_size_px: float


@dataclass(frozen=True, kw_only=True, eq=False)
class ReferenceStudy:
    """Size in pixels, detail at several scales, and the grey values in small.

    Attributes:
        levels: From fine to coarse; at least one.
        thumb: (rows, columns) encoded grey values 0 to 255 of the whole upright reference,
            the longer side some 320.
    """

    width_px: int
    height_px: int
    levels: tuple[DetailLevel, ...]
    thumb: Bytes


@dataclass(frozen=True, kw_only=True, eq=False)
class PictureDetail:
    """Line over the picture: (rows, columns) cells of millimetres of line.

    `cell_width_mm` and `cell_height_mm` are near 1 mm and divide the picture evenly.
    """

    line_mm: npt.NDArray[np.float64]
    cell_width_mm: float
    cell_height_mm: float
