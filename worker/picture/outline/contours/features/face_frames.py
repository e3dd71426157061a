"""Faces as they are looked at for features: upright, and all as large.

Brows and mouths lie in much the same places of every face, seen from between its eyes along them,
in parts of the side of its box. So the picture is sampled in that frame. It follows from boxes
alone, lasts while lines are found, and is kept nowhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.picture.outline.contours.features.irises import Doubles, Iris, eyes_of, turned
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.sampled_picture import CHROMA_PX, Bytes

#: Eyes are nearer to each other, in sides of the face's box, where it is seen from aside: little
#: is then where it is from the front.
_LEAST_APART = 0.28
#: Where a nose is, in sides from between the eyes: so far to either side, down from and to; and
#: the rest of a face: so far to either side, around so far down, so far up and down.
_NOSE, _OVAL = (0.14, -0.02, 0.33), (0.4, 0.2, 0.42)

#: In dark places red and green say less: so many levels are added to both.
_DARK_LEVELS = 60.0


@dataclass(frozen=True, kw_only=True)
class FaceFrame:
    """Where a face lies on the grid.

    Attributes:
        x, y: The middle between its eyes, in pixels of the grid.
        level: The way from eye to eye, in radians.
        hand: -1 in a mirrored picture, where down is to the other side of level; else 1.
        side: Of the face's box, in pixels of the grid.
        apart: From eye to eye, in sides.
    """

    x: float
    y: float
    level: float
    hand: float
    side: float
    apart: float

    def on_grid(self, across: Doubles, down: Doubles) -> Doubles:
        """Places of the grid, from across and down in sides: (places, 2)."""
        off = turned(across, self.hand * down, self.level) * self.side
        return np.asarray(off + np.array((self.x, self.y)))

    def seen_from(self, x: Floats, y: Floats) -> Doubles:
        """Across and down of places of the grid, in sides: (places, 2)."""
        off_x, off_y = x.astype(np.float64) - self.x, y.astype(np.float64) - self.y
        return np.asarray(turned(off_x, off_y, -self.level) * (1, self.hand) / self.side)

    def has(self, x: float, y: float) -> bool:
        """Whether a place of the grid is between its brows and its nose."""
        return math.hypot(x - self.x, y - self.y) < self.side / 2

    def within(self, x: Floats, y: Floats) -> npt.NDArray[np.bool_]:
        """Which places of the grid are in the face, and not of its nose or its outline."""
        found = np.zeros(len(x), np.bool_)
        at = self.near(x, y)
        across, down = self.seen_from(x[at], y[at]).T
        nose = (np.abs(across) < _NOSE[0]) & (down > _NOSE[1]) & (down < _NOSE[2])
        oval = (across / _OVAL[0]) ** 2 + ((down - _OVAL[1]) / _OVAL[2]) ** 2 < 1
        found[at] = oval & ~nose
        return found

    def near(self, x: Floats, y: Floats) -> npt.NDArray[np.int64]:
        """Which places of the grid are of the face or close to it."""
        return np.flatnonzero((np.abs(x - self.x) < self.side) & (np.abs(y - self.y) < self.side))


@dataclass(frozen=True, kw_only=True)
class Patch:
    """Where values are sampled in a frame; lengths in sides.

    Attributes:
        frame: The face's.
        left, top: Across and down of the first sample.
        step: From one to the next.
        rows, columns: How many there are.
    """

    frame: FaceFrame
    left: float
    top: float
    step: float
    rows: int
    columns: int

    @classmethod
    def between(
        cls, frame: FaceFrame, across: tuple[float, float], down: tuple[float, float], step: float
    ) -> Patch:
        """All of a part of a frame."""
        columns, rows = (round((last - first) / step) + 1 for first, last in (across, down))
        return cls(frame=frame, left=across[0], top=down[0], step=step, rows=rows, columns=columns)

    @property
    def across(self) -> Doubles:
        """Of all columns."""
        return np.asarray(self.left + self.step * np.arange(self.columns), np.float64)

    def places(self) -> tuple[Floats, Floats]:
        """Across and down of all samples on the grid, row after row."""
        down, across = np.meshgrid(
            self.top + self.step * np.arange(self.rows), self.across, indexing="ij"
        )
        x, y = self.frame.on_grid(across.ravel(), down.ravel()).T.astype(np.float32)
        return x, y

    def sampled(self, values: Bytes, grid_px: int = 1) -> Floats:
        """Means of what each sample stands for, (rows, columns).

        Args:
            values: On the grid, or on one of larger pixels.
            grid_px: A pixel of `values` has the sides of so many of the grid.
        """
        frame = self.frame
        ends = np.array([(0, 0), (1, 0), (0, 1)]) * (self.columns, self.rows)
        # Corners of the patch, half a sample beyond the outer ones' middles.
        at = (ends - 0.5) * self.step + (self.left, self.top)
        corners = (frame.on_grid(*at.T) + 0.5) / grid_px
        far = corners[1] + corners[2] - corners[0]
        low = np.floor(np.minimum(np.minimum.reduce(corners), far)).astype(int) - 2
        high = np.ceil(np.maximum(np.maximum.reduce(corners), far)).astype(int) + 2
        part, start = _part(values, low, high)
        coarser = max(int(self.step * frame.side / grid_px), 1)
        image = Image.fromarray(part.astype(np.float32)).reduce(coarser)
        origin, right, below = (corners - start) / coarser
        across, down = (right - origin) / self.columns, (below - origin) / self.rows
        affine = (across[0], down[0], origin[0], across[1], down[1], origin[1])
        size = self.columns, self.rows
        whole = image.transform(size, Image.Transform.AFFINE, affine, Image.Resampling.BILINEAR)
        return np.asarray(whole, np.float32)

    def redness(self, light: Floats, chroma: tuple[Bytes, ...]) -> Floats:
        """How much more red there is than green, in parts of both: a pseudo hue.

        After Hulbert and Poggio, "Synthesizing a color algorithm from examples", Science 239,
        1988; from memory.

        Args:
            light: Printed grey of the samples.
            chroma: Cb and Cr of the picture.
        """
        blue, red = (self.sampled(channel, CHROMA_PX) - np.float32(128) for channel in chroma)
        # ITU-T T.871, with the printed grey for its luma.
        r, g = light + 1.402 * red, light - 0.344136 * blue - 0.714136 * red
        return np.asarray((r - g) / np.maximum(r + g + _DARK_LEVELS, _DARK_LEVELS), np.float32)


def face_frames(placed: PlacedReading, irises: tuple[Iris, ...]) -> tuple[FaceFrame, ...]:
    """Frames of faces that are seen from the front, or nearly.

    Args:
        placed: The reading.
        irises: Those that were found, two of a face: they tell better where eyes are.
    """
    hand = float(np.sign(np.linalg.det(placed.to_share[:, :2])))
    share_px = np.hypot(*placed.to_share[:, :2].T)
    frames: list[FaceFrame] = []
    for face in placed.reading.faces:
        places = np.array([(eye.x, eye.y) for eye in eyes_of(placed, face)])
        if not len(places):
            continue
        width = float(np.hypot(*(places[1] - places[0])))
        side = float(max(face.box.width / share_px[0], face.box.height / share_px[1]))
        for pair in zip(irises[::2], irises[1::2], strict=True):
            seen = np.array([(iris.x, iris.y) for iris in pair])
            if np.hypot(*(seen - places).T).max() < width / 2:
                places = seen
        off = places[1] - places[0]
        apart = float(np.hypot(*off)) / side
        if apart < _LEAST_APART:
            continue
        x, y = places.mean(axis=0).tolist()
        level = math.atan2(off[1], off[0])
        frames.append(FaceFrame(x=x, y=y, level=level, hand=hand, side=side, apart=apart))
    return tuple(frames)


def _part(
    values: Bytes, low: npt.NDArray[np.int_], high: npt.NDArray[np.int_]
) -> tuple[Bytes, npt.NDArray[np.int_]]:
    """Some columns and rows of values, of which edges go on, and where they begin."""
    columns, rows = (
        np.clip(np.arange(first, last), 0, most - 1)
        for first, last, most in zip(low, high, values.shape[::-1], strict=True)
    )
    return values[rows[:, None], columns], low
