"""Square up: write the quadrangle between four corners as a rectangular reference.

Each pixel is computed from its place in the rectangle, tile by tile, from the few master tiles
around it; neither picture is ever in memory as a whole. The source is our own master and not a
stranger's file, so this needs no process of its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from worker.reference.decode import Limits
from worker.reference.intake import IntakeResult
from worker.reference.jpeg_encoder import ChromaSampling
from worker.reference.master import Box, Master
from worker.reference.resample_window import RIM_PX, box_over, rimmed, window_over
from worker.reference.square_up.corners import quad_of
from worker.reference.square_up.homography import Array, homography, mapped
from worker.reference.square_up.proportion import settled_proportion, squared_size_px
from worker.reference.write_reference import chroma_sampling_of, write_reference
from worker.spec.spec import ColourMode

#: Above this reduction a side is sampled more finely and averaged: the bicubic kernel alone
#: would skip pixels.
_FINE_ENOUGH = 1.25
#: More than eight times as fine is for places that are nearly at the horizon.
_FINEST = 8
#: Pixels that are read, or sampled, at once on one thread.
_MOST_AT_ONCE = 1 << 21
#: Blocks are not divided further than this.
_LEAST_BLOCK_PX = 32


@dataclass(frozen=True, kw_only=True)
class _Reading:
    """How a block is read: the master reduced by `shrink`, then sampled finer than asked.

    Attributes:
        finer: How many times as fine, across and down.
        pitch_px: Master pixels between samples, where they are farthest apart.
    """

    shrink: int
    finer: tuple[int, int]
    pitch_px: float


@dataclass(frozen=True, kw_only=True, eq=False)
class _Squared:
    """A master seen through a homography, as a source of parts."""

    master: Master
    to_photo: Array
    size_px: tuple[int, int]
    chroma_sampling: ChromaSampling

    @property
    def _colour_mode(self) -> ColourMode:
        return "colour" if self.master.coloured else "grey"

    def part(self, box_px: Box) -> Image.Image:
        size = (box_px[2] - box_px[0], box_px[3] - box_px[1])
        part = Image.new("RGB" if self.master.coloured else "L", size)
        for block, reading in self._blocks(box_px):
            at = (block[0] - box_px[0], block[1] - box_px[1])
            part.paste(self._sampled(block, reading), at)
        return part

    def _blocks(self, box_px: Box) -> Iterator[tuple[Box, _Reading]]:
        """The box in blocks that each need few pixels; in most views it is one."""
        reading = self._reading(box_px)
        width, height = box_px[2] - box_px[0], box_px[3] - box_px[1]
        sampled = width * height * math.prod(reading.finer)
        if (
            max(sampled, self._read_pixels(box_px, reading)) <= _MOST_AT_ONCE
            or max(width, height) <= _LEAST_BLOCK_PX
        ):
            yield box_px, reading
            return
        for half in _halves(box_px):
            yield from self._blocks(half)

    def _read_pixels(self, box_px: Box, reading: _Reading) -> int:
        left, top, right, bottom = self._box_over(box_px, reading)
        return (right - left) * (bottom - top) // reading.shrink**2

    def _box_over(self, box_px: Box, reading: _Reading) -> Box:
        return box_over(self.master, self._corners(box_px), reading.shrink, reading.pitch_px)

    def _corners(self, box_px: Box) -> list[tuple[float, float]]:
        """The corners of a box in the master; straight lines between them stay straight."""
        return [(x, y) for x, y in mapped(self.to_photo, _corners_of(box_px)).tolist()]

    def _reading(self, box_px: Box) -> _Reading:
        """As fine as the finest place of a block needs, so that nothing is lost or skipped."""
        slopes = self._slopes(_corners_of(box_px))
        least_px = float(np.linalg.svd(slopes, compute_uv=False).min())
        shrink = self.master.shrink_for(least_px)
        across_px, down_px = np.linalg.norm(slopes, axis=1).max(axis=0).tolist()
        return _Reading(
            shrink=shrink,
            finer=(_finer(across_px / shrink), _finer(down_px / shrink)),
            pitch_px=max(across_px, down_px, shrink),
        )

    def _slopes(self, places: Array) -> Array:
        """(n, 2, 2): how far one goes in the photo, x and y, for a step across and one down."""
        below = places @ self.to_photo[2, :2] + 1.0
        bent = mapped(self.to_photo, places)[:, :, None] * self.to_photo[2, :2]
        return np.asarray((self.to_photo[:2, :2] - bent) / below[:, None, None])

    def _sampled(self, box_px: Box, reading: _Reading) -> Image.Image:
        corners = self._corners(box_px)
        window = window_over(
            self.master, self._colour_mode, corners, reading.shrink, reading.pitch_px
        )
        (across, down), (left, top) = reading.finer, window.inside((0.0, 0.0))
        into_window = np.array(
            [[1 / window.shrink, 0, left + RIM_PX], [0, 1 / window.shrink, top + RIM_PX], [0, 0, 1]]
        )
        from_block = np.array([[1 / across, 0, box_px[0]], [0, 1 / down, box_px[1]], [0, 0, 1]])
        to_window = into_window @ self.to_photo @ from_block
        size = ((box_px[2] - box_px[0]) * across, (box_px[3] - box_px[1]) * down)
        sampled = rimmed(window.image).transform(
            size,
            Image.Transform.PERSPECTIVE,
            (to_window / to_window[2, 2]).ravel()[:8].tolist(),
            Image.Resampling.BICUBIC,
        )
        return sampled.reduce(reading.finer) if max(reading.finer) > 1 else sampled


def square_up(  # noqa: PLR0913 - what of which picture, how, and where to.
    master: Master,
    corners: Sequence[Sequence[float]],
    folder: Path,
    *,
    format_: str,
    proportion: float | None = None,
    limits: Limits | None = None,
    threads: int = 2,
) -> IntakeResult:
    """Write `master.zip`, `study.npz` and `preview.jpg` of the rectangle into `folder`.

    Args:
        master: The reference.
        corners: Four places (x, y) in shares of it, in any order.
        folder: Exists, is not the master's own, and is the caller's to remove if this fails.
        format_: The file format in which the reference was sent.
        proportion: Width ÷ height; estimated from the corners when None.
        limits: How many pixels the rectangle may have.
        threads: How many work at once.

    Returns:
        The facts of the new reference. It was not sent as a file, so its `sha256` is the
        digest of its tiles.

    Raises:
        CornersUnusable: The corners or the proportion cannot be those of a picture.
    """
    quad = quad_of(corners, (master.width_px, master.height_px))
    settled = settled_proportion(quad, proportion)
    size_px = squared_size_px(quad, settled, (limits or Limits()).max_pixels)
    source = _Squared(
        master=master,
        to_photo=homography(quad.corners_px, size_px),
        size_px=size_px,
        chroma_sampling=chroma_sampling_of(format_),
    )
    written = write_reference(source, folder, threads=threads)
    return IntakeResult(
        width_px=size_px[0],
        height_px=size_px[1],
        format=format_,
        sha256=written.digest,
        study=written.study,
    )


def _corners_of(box_px: Box) -> Array:
    left, top, right, bottom = box_px
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], np.float64)


def _halves(box_px: Box) -> tuple[Box, Box]:
    left, top, right, bottom = box_px
    if right - left > bottom - top:
        middle = (left + right) // 2
        return (left, top, middle, bottom), (middle, top, right, bottom)
    middle = (top + bottom) // 2
    return (left, top, right, middle), (left, middle, right, bottom)


def _finer(pitch: float) -> int:
    """How many samples to average along a side on which they lie so many pixels apart."""
    return min(max(math.ceil(pitch / _FINE_ENOUGH), 1), _FINEST)
