"""The part of a master that pixels are resampled from, including the reach of the kernel."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PIL import Image

from worker.reference.master import Box, Master
from worker.spec.spec import ColourMode

#: How far the bicubic kernel reaches, in pixels of the coarser grid. Lanczos reaches further,
#: takes half as long again, and rings at hard edges, which shows under a pen.
_SUPPORT = 2.0
#: Edge pixels repeated around the reference for crops that touch its edge when turned.
RIM_PX = 2

Point = tuple[float, float]


@dataclass(frozen=True)
class Window:
    """A part of the master, reduced by `shrink`, with all pixels that resampling needs."""

    image: Image.Image
    left_px: int
    top_px: int
    shrink: int

    def inside(self, place: Point) -> Point:
        """A place in master pixels as a place in the window."""
        return (
            (place[0] - self.left_px) / self.shrink,
            (place[1] - self.top_px) / self.shrink,
        )


def box_over(master: Master, corners: Sequence[Point], shrink: int, pitch_px: float) -> Box:
    """The master pixels for a convex area; left and top are multiples of `shrink`.

    Args:
        master: The reference.
        corners: Corners of the area, in master pixels.
        shrink: The reduction that it will be read with.
        pitch_px: Distance in master pixels of the coarser grid, which the kernel rests on.
    """
    reach = math.ceil(_SUPPORT * pitch_px) + shrink
    across, down = [x for x, _ in corners], [y for _, y in corners]
    return (
        _clamped(math.floor(min(across)) - reach, master.width_px - 1) // shrink * shrink,
        _clamped(math.floor(min(down)) - reach, master.height_px - 1) // shrink * shrink,
        _clamped(math.ceil(max(across)) + reach, master.width_px),
        _clamped(math.ceil(max(down)) + reach, master.height_px),
    )


def window_over(
    master: Master, colour_mode: ColourMode, corners: Sequence[Point], shrink: int, pitch_px: float
) -> Window:
    """Read the window that `box_over` returns."""
    box = box_over(master, corners, shrink, pitch_px)
    return Window(master.window(colour_mode, box, shrink=shrink), box[0], box[1], shrink)


def rimmed(image: Image.Image) -> Image.Image:
    """With its edge pixels repeated outwards, for places a hair outside the reference."""
    around = ((RIM_PX, RIM_PX), (RIM_PX, RIM_PX))
    rim = around if image.mode == "L" else (*around, (0, 0))
    return Image.fromarray(np.pad(np.asarray(image), rim, mode="edge"))


def _clamped(value: int, most: int) -> int:
    return min(max(value, 0), most)
