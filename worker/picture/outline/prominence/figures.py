"""Where figures are: heads that were found, with the bodies that belong to them.

A draughtsman puts a sitter before what is behind (common practice). It is known what surely is of a
figure by where its head is, and what surely is not. A place between is of the figure if a walk at
random from there, which hardly crosses contours, comes to the one much sooner than to the other
(Grady 2006, random walks for image segmentation). So a gap in a contour lets little through, and a
flag that contours part from a coat is of what it hangs together with. A coarse grid is enough.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.gaussian import Floats, box_mean
from worker.spec.reading import Face
from worker.spec.spec import Area

#: Squares of the grid, no more of them along a side, and samples of the reading in each.
_CELL_MM, _MOST_CELLS, _SAMPLES = 4.0, 150, 4
#: A walk crosses a contour less often by this power of e, though never less than so often; one
#: that bounds no form counts this part.
_CROSSED, _SELDOM, _NO_FORM = 9.0, 1e-4, 0.25
#: How often it ends where it is known what is there, and on the picture's border, which is sooner
#: of what is behind; and how many walks end in a figure from what is of it.
_ENDS, _ENDS_ON_BORDER, _IN_FIGURE = 1.0, 0.015, 0.6
#: A head this much narrower than the widest is of somebody behind, or in a picture in the picture.
_SMALL_HEAD = 0.4
#: What surely is of a figure: so much of the head's box, a neck of so many widths that reaches so
#: many heights below, and a breast of so many widths from so many heights to so many.
_HEAD_SHARE, _NECK_WIDTHS, _NECK_HEIGHTS = 0.75, 0.5, 0.7
_BREAST_WIDTHS, _BREAST_HEIGHTS = 1.5, (0.3, 2.5)
#: What surely is not: at so many heights below the chin so many widths beside its middle, and what
#: is above the head's box. Shoulders may reach the border within so many widths beside it.
_BELOW, _BESIDE = (-0.3, 0.0, 0.4, 1.5), (0.55, 1.4, 2.2, 2.6)
_ABOVE, _SHOULDER_WIDTHS = -1.05, 0.9
#: Rounds of the conjugate gradients' search for what is as likely, and how near is near enough.
_MOST_ROUNDS, _NEAR_ENOUGH = 400, 1e-5

_Doubles = npt.NDArray[np.float64]


def sitters(placed: PlacedReading, shape: tuple[int, int]) -> list[Face]:
    """Faces whose head is in the picture, and not much smaller than the largest that is.

    Args:
        placed: The reading.
        shape: Rows and columns of the picture's grid.
    """
    faces = [face for face in placed.reading.faces if _is_in(placed, face.head, shape)]
    widest = max((face.head.width for face in faces), default=0.0)
    return [face for face in faces if face.head.width >= _SMALL_HEAD * widest]


def _is_in(placed: PlacedReading, area: Area, shape: tuple[int, int]) -> bool:
    """Whether some of an area, in shares of the reference, may be in the picture."""
    across = np.float32(area.left) + np.float32(area.width) * np.array((0, 1, 0, 1), np.float32)
    down = np.float32(area.top) + np.float32(area.height) * np.array((0, 0, 1, 1), np.float32)
    x, y = placed.from_shares(across, down)
    beside = x.max() < 0 or y.max() < 0 or x.min() > shape[1] or y.min() > shape[0]
    return not beside


@dataclass(frozen=True, kw_only=True, eq=False)
class Figures:
    """Where figures are.

    Attributes:
        near: (rows, columns) of squares: how much around each is of a figure, 0 to 1; none if no
            head is in the picture.
        side_px: The side of each, in pixels of the grid.
    """

    near: Floats | None
    side_px: float

    def shares(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """How far places of the grid are of figures, and how far on their borders; each 0 to 1.

        Everything is of a figure, and nothing is on a border, if no head is in the picture.
        """
        if self.near is None:
            return np.ones(len(x), np.float32), np.zeros(len(x), np.float32)
        rows, columns = self.near.shape
        row = np.clip((y / self.side_px).astype(np.int64), 0, rows - 1)
        column = np.clip((x / self.side_px).astype(np.int64), 0, columns - 1)
        shares = self.near.take(row * columns + column)
        # A contour of the figure lies on its border: both sides of it count.
        return np.minimum(2 * shares, 1), 1 - np.abs(2 * shares - 1)


def figures_of(placed: PlacedReading, shape: tuple[int, int], pitch_mm: float) -> Figures:
    """Where figures are by the reading.

    Args:
        placed: The reading.
        shape: Rows and columns of the picture's grid.
        pitch_mm: Its pixel.
    """
    faces = sitters(placed, shape)
    side_px = max(_CELL_MM / pitch_mm, max(shape) / _MOST_CELLS)
    rows, columns = (int(side / side_px) + 1 for side in shape)
    ends = _sure(placed, faces, rows, columns, side_px)
    if not ends[0].any():
        return Figures(near=None, side_px=side_px)
    near = _comes_to(_passed(placed, rows, columns, side_px), *ends) > _IN_FIGURE
    return Figures(near=box_mean(near.astype(np.float32), 1), side_px=side_px)


def _passed(
    placed: PlacedReading, rows: int, columns: int, side_px: float
) -> tuple[_Doubles, _Doubles]:
    """How easily a walk goes from each square to the next one across, and down."""
    down = (np.arange(rows * _SAMPLES) + 0.5) / _SAMPLES * side_px
    across = (np.arange(columns * _SAMPLES) + 0.5) / _SAMPLES * side_px
    y, x = (each.ravel().astype(np.float32) for each in np.meshgrid(down, across, indexing="ij"))
    there = placed.at(x, y)
    likely = there("contour") * (_NO_FORM + (1 - _NO_FORM) * there("outer"))
    likely = likely.reshape(len(down), len(across))

    def passed(likely: Floats) -> _Doubles:
        # A square has some ways to the middle of the next one, each past the most that is on it.
        between = likely[:, _SAMPLES // 2 : len(likely[0]) - (_SAMPLES + 1) // 2]
        ways = between.reshape(len(likely), -1, _SAMPLES).max(axis=2)
        free = np.exp(-_CROSSED * ways.astype(np.float64))
        return np.asarray(free.reshape(-1, _SAMPLES, free.shape[1]).mean(axis=1) + _SELDOM)

    return passed(likely), passed(likely.T).T


def _sure(
    placed: PlacedReading, faces: list[Face], rows: int, columns: int, side_px: float
) -> tuple[_Doubles, _Doubles]:
    """How often a walk ends in each square, as one of a figure and as one of what is behind."""
    y, x = np.mgrid[:rows, :columns].astype(np.float32)
    at = ((x.ravel() + 0.5) * side_px, (y.ravel() + 0.5) * side_px)
    across, down = placed.shares(*at)
    inner = np.zeros(rows * columns, np.bool_)
    outer = np.ones(rows * columns, np.bool_)
    # A body goes on below the picture.
    sides = np.zeros((rows, columns), np.bool_)
    sides[:2] = sides[:, :2] = sides[:, -2:] = True
    border = sides.ravel()
    for face in faces:
        head = face.head
        off = np.abs(across - head.left - head.width / 2) / head.width
        below = (down - head.top - head.height) / head.height
        inside = (off**2 + (below + 0.5) ** 2) < (_HEAD_SHARE / 2) ** 2
        breast = (off < _BREAST_WIDTHS / 2) & (below > _BREAST_HEIGHTS[0])
        inner |= inside | (breast & (below < _BREAST_HEIGHTS[1]))
        inner |= (off < _NECK_WIDTHS / 2) & (np.abs(below) < _NECK_HEIGHTS)
        border &= (off > _SHOULDER_WIDTHS) | (below < 0)
        outer &= (off > np.interp(below, _BELOW, _BESIDE)) | (below < _ABOVE)
    behind = np.where(outer, _ENDS, np.where(border, _ENDS_ON_BORDER, 0.0))
    return (
        np.where(inner, _ENDS, 0.0).reshape(rows, columns),
        np.where(inner, 0.0, behind).reshape(rows, columns),
    )


def _comes_to(passed: tuple[_Doubles, _Doubles], inner: _Doubles, outer: _Doubles) -> _Doubles:
    """How likely a walk from each square ends in the figure first."""
    across, down = passed
    whole = inner + outer + np.float64(_SELDOM) ** 2
    for part, free in ((whole.T, across.T), (whole, down)):
        part[:-1] += free
        part[1:] += free

    def left_over(value: _Doubles) -> _Doubles:
        rest = whole * value
        for part, of, free in ((rest.T, value.T, across.T), (rest, value, down)):
            part[:-1] -= free * of[1:]
            part[1:] -= free * of[:-1]
        return rest

    return _solved(left_over, whole, inner)


def _solved(
    left_over: Callable[[_Doubles], _Doubles], whole: _Doubles, wanted: _Doubles
) -> _Doubles:
    """What leaves as much as is wanted (conjugate gradients, Hestenes and Stiefel 1952).

    Args:
        left_over: Of any value in each square; linear, symmetric and positive.
        whole: How much of a value in one square is left over in it.
        wanted: In each square.
    """
    found, rest = np.zeros_like(wanted), wanted.copy()
    way = aim = rest / whole
    size = float((rest * aim).sum())
    for _ in range(_MOST_ROUNDS):
        gone = left_over(way)
        step = size / float((way * gone).sum())
        found += step * way
        rest -= step * gone
        if float(np.abs(rest).max()) < _NEAR_ENOUGH * _ENDS:
            break
        aim = rest / whole
        last, size = size, float((rest * aim).sum())
        way = aim + size / last * way
    return found
