"""Where figures are: heads that were found, with the bodies that belong to them.

A draughtsman puts a sitter before what is behind (common practice). A body is what is reached from
under its head over fewer outer contours than from the picture's borders: a way costs little where
nothing is read and much across what bounds a form. It is found on a coarse grid.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.gaussian import Floats, box_mean
from worker.spec.reading import Face

#: Squares of the grid, and samples of the reading in each, across and down.
_CELL_MM, _SAMPLES = 5.0, 5
#: What a square costs beside its likelihood of an outer contour, to the power.
_STEP, _POWER = 0.03, 1.5
#: A head this much narrower than the widest is of somebody behind, or in a picture in the picture.
_SMALL_HEAD = 0.4
#: What surely is of a figure: so much of the head's box, and a neck of so many widths that
#: reaches so many heights below.
_HEAD_SHARE, _NECK_WIDTHS, _NECK_HEIGHTS = 0.75, 0.5, 0.7
#: What surely is not: so many widths of a head's box beside its middle, up to so many heights below
#: its chin, and below that so many widths; and what is above its box.
_BESIDE_HEAD, _SHOULDER_HEIGHTS, _BESIDE_BODY, _ABOVE = 0.5, -0.25, 3.2, -1.05
#: Rounds of reaching further, each from a square to the eight around it.
_MOST_ROUNDS = 600

_Flags = npt.NDArray[np.bool_]


def large(faces: tuple[Face, ...]) -> list[Face]:
    """Faces that are not much smaller than the largest."""
    widest = max((face.head.width for face in faces), default=0.0)
    return [face for face in faces if face.head.width >= _SMALL_HEAD * widest]


def figure_shares(
    placed: PlacedReading, shape: tuple[int, int], pitch_mm: float, x: Floats, y: Floats
) -> tuple[Floats, Floats]:
    """How far places of the grid are of figures, and how far on their borders; each 0 to 1.

    Everything is of a figure, and nothing is on a border, if no head was found.

    Args:
        placed: The reading.
        shape: Rows and columns of the picture's grid.
        pitch_mm: Its pixel.
        x: Places across, in pixels of the grid.
        y: The same down.
    """
    faces = large(placed.reading.faces)
    if not faces:
        return np.ones(len(x), np.float32), np.zeros(len(x), np.float32)
    side_px = _CELL_MM / pitch_mm
    rows, columns = (int(side / side_px) + 1 for side in shape)
    cost = _costs(placed, rows, columns, side_px)
    inner, outer = _sure(placed, faces, rows, columns, side_px)
    near = _reached(cost, inner) <= _reached(cost, outer)
    row = np.clip((y / side_px).astype(np.int64), 0, rows - 1)
    column = np.clip((x / side_px).astype(np.int64), 0, columns - 1)
    shares, wide = (box_mean(near.astype(np.float32), cells)[row, column] for cells in (1, 2))
    # A contour of the figure lies on its border: both sides of it count.
    return np.minimum(2 * shares, 1), 1 - np.abs(2 * wide - 1)


def _costs(placed: PlacedReading, rows: int, columns: int, side_px: float) -> Floats:
    """What it costs to cross each square."""
    down = (np.arange(rows * _SAMPLES) + 0.5) / _SAMPLES * side_px
    across = (np.arange(columns * _SAMPLES) + 0.5) / _SAMPLES * side_px
    y, x = (each.ravel().astype(np.float32) for each in np.meshgrid(down, across, indexing="ij"))
    likely = placed.sampled("outer", x, y) * placed.sampled("contour", x, y)
    cells = likely.reshape(rows, _SAMPLES, columns, _SAMPLES).max(axis=(1, 3))
    return np.asarray(_STEP + cells**_POWER, np.float32)


def _sure(
    placed: PlacedReading, faces: list[Face], rows: int, columns: int, side_px: float
) -> tuple[_Flags, _Flags]:
    """Squares that surely are of a figure, and squares that surely are not."""
    y, x = np.mgrid[:rows, :columns].astype(np.float32)
    at = ((x.ravel() + 0.5) * side_px, (y.ravel() + 0.5) * side_px)
    across, down = placed.shares(*at)
    inner = np.zeros(rows * columns, np.bool_)
    outer = np.ones(rows * columns, np.bool_)
    for face in faces:
        head = face.head
        off = np.abs(across - head.left - head.width / 2) / head.width
        below = (down - head.top - head.height) / head.height
        inside = (off**2 + (below + 0.5) ** 2) < (_HEAD_SHARE / 2) ** 2
        inner |= inside | ((off < _NECK_WIDTHS / 2) & (np.abs(below) < _NECK_HEIGHTS))
        far = np.where(below < _SHOULDER_HEIGHTS, _BESIDE_HEAD, _BESIDE_BODY)
        outer &= (off > far) | (below < _ABOVE)
    return inner.reshape(rows, columns), (outer & ~inner).reshape(rows, columns)


def _reached(cost: Floats, start: _Flags) -> Floats:
    """The least cost of a way from any start to each square."""
    far = np.where(start, np.float32(0), np.float32(np.inf))
    rows, columns = far.shape
    padded = np.full((rows + 2, columns + 2), np.inf, np.float32)
    inner = padded[1:-1, 1:-1]
    inner[...] = far
    for _ in range(_MOST_ROUNDS):
        straight = np.minimum(
            np.minimum(padded[:-2, 1:-1], padded[2:, 1:-1]),
            np.minimum(padded[1:-1, :-2], padded[1:-1, 2:]),
        )
        aslant = np.minimum(
            np.minimum(padded[:-2, :-2], padded[:-2, 2:]),
            np.minimum(padded[2:, :-2], padded[2:, 2:]),
        )
        closer = np.minimum(straight + cost, aslant + np.float32(1.41) * cost)
        if not (closer < inner).any():
            break
        np.minimum(inner, closer, out=inner)
    return np.asarray(inner.copy(), np.float32)
