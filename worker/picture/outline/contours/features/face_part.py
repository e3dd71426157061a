"""The part of a picture that a face is in, and the face's landmarks there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PIL import Image

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.landmarks import CHIN, LEFT, RIGHT, TOP
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.sampled_picture import CHROMA_PX, Bytes, SampledPicture

#: A face is looked at with so many pixels a side at least, if it has them.
_SIDE_PX = 300
#: Beyond landmarks it is looked at so far, in sides.
_MARGIN = 0.25
#: In dark places red and green say less: so many levels are added to both.
_DARK_LEVELS = 60.0
#: Levels count in parts of this tone, of darker faces at least of that.
_TONE, _LEAST_TONE = 140.0, 60.0


@dataclass(frozen=True, kw_only=True, eq=False)
class FacePart:
    """What is looked at of a picture.

    Attributes:
        marks: (478, 2): landmarks in pixels of the part.
        grey: (rows, columns).
        red: The same of redness; zero without colour.
        coloured: Whether there is colour.
        start: Where the part begins on the grid, across and down.
        coarser: Pixels of the grid in one of the part.
        pitch_mm: From pixel to pixel of the grid.
        side: Of the face, in pixels of the part.
        tone: How light the face is, in parts of a usual one.
    """

    marks: Doubles
    grey: Floats
    red: Floats
    coloured: bool
    start: Doubles
    coarser: int
    pitch_mm: float
    side: float
    tone: np.float32

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.grey.shape[0], self.grey.shape[1]

    @property
    def side_on_grid(self) -> float:
        """Side of the face, in pixels of the grid."""
        return self.side * self.coarser

    def along(self, numbers: tuple[int, ...]) -> Doubles:
        """Places of some landmarks, (places, 2)."""
        return self.marks[list(numbers)]

    def on_grid(self, places: Doubles) -> Doubles:
        """Places in pixels of the grid."""
        return np.asarray((places + 0.5) * self.coarser - 0.5 + self.start)

    def on_part(self, places: Doubles | Floats) -> Doubles:
        """Places of the grid in pixels of the part."""
        return np.asarray((places - self.start + 0.5) / self.coarser - 0.5)


def face_part(marks: Doubles, sampled: SampledPicture) -> FacePart:
    """What is around landmarks, which are in pixels of the grid."""
    ends = marks[[TOP, LEFT]] - marks[[CHIN, RIGHT]]
    side = float(np.hypot(*ends.T).max())
    coarser = max(int(side / _SIDE_PX), 1)
    step = coarser * CHROMA_PX
    low = (np.maximum(np.nanmin(marks, axis=0) - _MARGIN * side, 0) // step * step).astype(int)
    high = np.ceil(np.nanmax(marks, axis=0) + _MARGIN * side).astype(int)
    grey = _reduced(sampled.grey[low[1] : high[1], low[0] : high[0]], coarser)
    red = np.zeros_like(grey)
    if sampled.chroma:
        (left, top), (right, bottom) = low // CHROMA_PX, -(-high // CHROMA_PX)
        size = grey.shape[1] * coarser / CHROMA_PX, grey.shape[0] * coarser / CHROMA_PX
        blue, more = (
            _resized(one[top:bottom, left:right], size, grey.shape) for one in sampled.chroma
        )
        red = _redness(grey, blue, more)
    return FacePart(
        marks=(marks - low + 0.5) / coarser - 0.5,
        grey=grey,
        red=red,
        coloured=bool(sampled.chroma),
        start=low.astype(np.float64),
        coarser=coarser,
        pitch_mm=sampled.pitch_mm,
        side=side / coarser,
        tone=np.float32(max(float(np.median(grey)), _LEAST_TONE) / _TONE),
    )


def _reduced(values: Bytes, coarser: int) -> Floats:
    return np.asarray(Image.fromarray(values.astype(np.float32)).reduce(coarser), np.float32)


def _resized(values: Bytes, size: tuple[float, float], shape: tuple[int, ...]) -> Floats:
    image = Image.fromarray(values.astype(np.float32))
    box = (0.0, 0.0, min(size[0], image.width), min(size[1], image.height))
    resized = image.resize((shape[1], shape[0]), Image.Resampling.BILINEAR, box)
    return np.asarray(resized, np.float32) - np.float32(128)


def _redness(light: Floats, blue: Floats, red: Floats) -> Floats:
    """How much more red there is than green, in parts of both: a pseudo hue.

    After Hulbert and Poggio, "Synthesizing a color algorithm from examples", Science 239,
    1988; from memory.
    """
    # ITU-T T.871, with the printed grey for its luma.
    r, g = light + 1.402 * red, light - 0.344136 * blue - 0.714136 * red
    return np.asarray((r - g) / np.maximum(r + g + _DARK_LEVELS, _DARK_LEVELS), np.float32)
