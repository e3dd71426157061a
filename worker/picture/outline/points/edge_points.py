"""Points of lines, found to a fraction of a pixel, tile by tile.

Two kinds of line are looked for in the smoothed grey. An *edge* is where the gradient is
largest along its own direction (Canny 1986), placed by a parabola (Devernay 1995). A *ridge*
is the middle of a line that is itself narrower than the smoothing, dark or light: where the
gradient across it passes through zero (Steger 1998). A pen stroke, an eyelash or a mast would
otherwise be traced twice, once along each side; edges that flank a ridge are dropped.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.gaussian import OFFSETS, Floats, gaussian_smoothed

#: A step of 1 has this largest slope after smoothing with sigma 2 and central differences.
SLOPE_OF_STEP = 0.1797
#: A line as wide as sigma, of contrast 1, has this second derivative in its middle.
BEND_OF_LINE = 0.0625
#: How far the pixels around a tile reach that its points and their links depend on.
HALO_PX = 32
#: A line narrower than about two and a half sigma is a ridge: there its bend, in units of
#: sigma, is more than so many times the slope on its flanks.
_BEND_OVER_SLOPE = 1.15
#: Flanks of a ridge, in pixels from its middle, and how parallel an edge there must run.
_FLANK_PX = (-4.0, -3.25, -2.5, -1.75, -1.0, 1.0, 1.75, 2.5, 3.25, 4.0)
_FLANK_COSINE = 0.8
#: A ridge's zero must lie within its pixel, or a little beyond so that none is missed.
_WITHIN_PX = 0.6

EDGE, DARK, LIGHT, CHROMA, CONTOUR = 0, 1, 2, 3, 4

_Keys = npt.NDArray[np.int32]
_Small = npt.NDArray[np.uint8]


@dataclass(frozen=True, kw_only=True)
class Points:
    """Points of lines.

    Attributes:
        key: Pixel, counted row by row over the whole picture; (points,), ascending.
        x, y: Place in pixels of the picture's grid, 0 at the first pixel's middle.
        across_x, across_y: Unit vector across the line: for edges from dark to light.
        contrast: In levels of grey, as of a step or of a line as wide as the smoothing.
        chroma: Contrast of colour at the same place, in levels; see `colour_edges`.
        kind: `EDGE`, `DARK` or `LIGHT` (thin lines), `CHROMA` for an edge in colour alone, or
            `CONTOUR` for a place that only the reading knows.
    """

    key: _Keys
    x: Floats
    y: Floats
    across_x: Floats
    across_y: Floats
    contrast: Floats
    chroma: Floats
    kind: _Small

    @cached_property
    def total(self) -> Floats:
        """Contrast of grey and colour together."""
        return np.hypot(self.contrast, self.chroma)

    @cached_property
    def thin(self) -> npt.NDArray[np.bool_]:
        """Which are of thin lines, not of edges."""
        return np.asarray((self.kind == DARK) | (self.kind == LIGHT))

    def __len__(self) -> int:
        """How many."""
        return len(self.key)

    def taken(self, which: npt.NDArray[np.bool_] | npt.NDArray[np.int64]) -> Points:
        """Some of them."""
        # Flags are counted once for all attributes, not anew for each.
        at = np.flatnonzero(which) if which.dtype == bool else which
        return Points(**{field.name: getattr(self, field.name).take(at) for field in fields(self)})


def rows_and_columns(key: _Keys, width: int) -> tuple[_Keys, _Keys]:
    """Where pixels are; a quotient and a product take a third of `np.divmod`'s time."""
    row = key // np.int32(width)
    return row, key - row * np.int32(width)


def key_order(parts: list[Points]) -> npt.NDArray[np.intp]:
    """The order of keys of the points of several parts; of those alike, that of the parts."""
    return np.argsort(np.concatenate([part.key for part in parts]), kind="stable")


def joined(parts: list[Points], order: npt.NDArray[np.intp] | None = None) -> Points:
    """Points of several parts, by key; one attribute after the other, which spares memory.

    Args:
        parts: Of points.
        order: That of their keys, if it is known.
    """
    order = key_order(parts) if order is None else order
    return Points(
        **{
            field.name: np.concatenate([getattr(part, field.name) for part in parts]).take(order)
            for field in fields(Points)
        }
    )


@dataclass(frozen=True, kw_only=True)
class Gradients:
    """The smoothed grey of a tile with its gradient, and the tile's place in the picture.

    Attributes:
        gx, gy, steep: Gradient and its length, levels per pixel.
        smooth: The smoothed grey, one pixel larger on each side.
        left, top: Place of the first value in the whole picture, in pixels of its grid.
        size: Rows and columns of the whole picture.
    """

    gx: Floats
    gy: Floats
    steep: Floats
    smooth: Floats
    left: int
    top: int
    size: tuple[int, int]

    def inside(self, flags: npt.NDArray[np.bool_], rim: int) -> npt.NDArray[np.intp]:
        """Where `flags` hold, in the picture and no nearer than `rim` pixels to the tile's edge."""
        rows, columns = flags.shape
        first = max(rim, -self.top), max(rim, -self.left)
        flags[: first[0]] = flags[min(rows - rim, self.size[0] - self.top) :] = False
        flags[:, : first[1]] = flags[:, min(columns - rim, self.size[1] - self.left) :] = False
        return np.flatnonzero(flags)


def gradients_of(
    values: npt.NDArray[np.uint8] | Floats,
    left: int,
    top: int,
    size: tuple[int, int],
    offsets: tuple[int, ...] = OFFSETS,
) -> Gradients:
    """Smooth a tile and differentiate it; it loses half of `offsets` and one more on each side."""
    smooth = gaussian_smoothed(values, offsets)
    gx, gy = smooth[1:-1, 2:] - smooth[1:-1, :-2], smooth[2:, 1:-1] - smooth[:-2, 1:-1]
    gx *= np.float32(0.5)
    gy *= np.float32(0.5)
    steep = gx * gx
    steep += gy * gy
    np.sqrt(steep, out=steep)
    lost = sum(offsets) // 2 + 1
    return Gradients(
        gx=gx, gy=gy, steep=steep, smooth=smooth, left=left + lost, top=top + lost, size=size
    )


def points_of(gradients: Gradients, least: float) -> Points:
    """Edges and ridges of a tile, sorted by key.

    Args:
        gradients: The tile.
        least: Contrast of the faintest.
    """
    ridges = _prominent(gradients, _ridges(gradients, least))
    edges = edges_of(gradients, least)
    edges = edges.taken(flanking(gradients, edges, ridges) < 0)
    return joined([edges, ridges])


def edges_of(gradients: Gradients, least: float) -> Points:
    """Edges of a tile, sorted by key; their direction is that of the slopes."""
    steep = gradients.steep
    columns = steep.shape[1]
    clear = steep > np.float32(least * SLOPE_OF_STEP)
    here = gradients.inside(clear, 1)
    flat = steep.ravel()
    gx, gy = gradients.gx.ravel().take(here), gradients.gy.ravel().take(here)
    wide, high = np.abs(gx), np.abs(gy)
    eighth = (wide >= high) * np.uint8(4) + (gy < 0) * np.uint8(2) + (gx < 0)
    # As wide as an index is once for both.
    eighth = eighth.astype(np.intp)
    straight, slant = (steps.take(eighth) for steps in _steps(columns))
    share = np.minimum(wide, high) / np.maximum(wide, high)
    rest = 1 - share
    ahead = rest * flat.take(here + straight) + share * flat.take(here + slant)
    behind = rest * flat.take(here - straight) + share * flat.take(here - slant)
    middle = flat.take(here)
    top = np.flatnonzero((middle > ahead) & (middle >= behind))
    here, ahead, behind, middle = here[top], ahead[top], behind[top], middle[top]
    across_x, across_y = gx.take(top) / middle, gy.take(top) / middle
    # The neighbours lie this far away along the gradient.
    far = np.sqrt(1 + share.take(top) ** 2)
    offset = 0.5 * (behind - ahead) / (behind + ahead - 2 * middle) * far
    return _points(
        gradients,
        here,
        (across_x, across_y),
        np.asarray(offset, np.float32),
        middle / np.float32(SLOPE_OF_STEP),
        EDGE,
    )


def _steps(columns: int) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Steps to the two pixels ahead in each eighth of all directions: the straight, the slant one.

    Eighths count four where they lie, two where they lead up, and one where they lead left.
    """
    across, down = np.tile((1, -1), 4), np.tile((columns, columns, -columns, -columns), 2)
    return np.concatenate((down[:4], across[4:])), across + down


def _points(  # noqa: PLR0913, PLR0917 - the parts of a point.
    gradients: Gradients,
    here: npt.NDArray[np.intp],
    across: tuple[Floats, Floats],
    offset: Floats,
    contrast: Floats,
    kind: int | _Small,
) -> Points:
    row, column = np.divmod(here, gradients.steep.shape[1])
    row, column = row + gradients.top, column + gradients.left
    return Points(
        key=(row * gradients.size[1] + column).astype(np.int32),
        x=(column + offset * across[0]).astype(np.float32),
        y=(row + offset * across[1]).astype(np.float32),
        across_x=across[0].astype(np.float32),
        across_y=across[1].astype(np.float32),
        contrast=contrast.astype(np.float32),
        chroma=np.zeros(len(here), np.float32),
        kind=np.broadcast_to(np.asarray(kind, np.uint8), here.shape).copy(),
    )


def _ridges(gradients: Gradients, least: float) -> Points:
    smooth, steep = gradients.smooth, gradients.steep
    middle = smooth[1:-1, 1:-1]
    twice = middle + middle
    bend_x = smooth[1:-1, 2:] + smooth[1:-1, :-2]
    bend_x -= twice
    bend_y = smooth[2:, 1:-1] + smooth[:-2, 1:-1]
    bend_y -= twice
    bent = np.abs(bend_x + bend_y)
    # The bend across is at least half of the sum, and no more where it does not bend along.
    floor = np.float32(least * BEND_OF_LINE)
    clear = (bent > floor) & (steep < bent)
    here = gradients.inside(clear, 6)
    columns = smooth.shape[1]
    # The same pixel of the larger array: two more for each row above it, and its first ones.
    at = here + (2 * (here.astype(np.int32) // np.int32(steep.shape[1])) + (columns + 1))
    flat = smooth.ravel()
    twist = (
        flat.take(at + columns + 1)
        + flat.take(at - columns - 1)
        - flat.take(at + columns - 1)
        - flat.take(at - columns + 1)
    ) * np.float32(0.25)
    bend, nx, ny = largest_bend(bend_x.ravel().take(here), bend_y.ravel().take(here), twist)
    slope = gradients.gx.ravel().take(here) * nx + gradients.gy.ravel().take(here) * ny
    offset = -slope / bend
    inside = np.maximum(np.abs(offset * nx), np.abs(offset * ny)) <= _WITHIN_PX
    which = np.flatnonzero(inside & (np.abs(bend) > floor))
    # Flanks are looked at of those alone that are ridges but for them.
    flanks = _flank_slope(steep, here.take(which), nx.take(which), ny.take(which))
    which = which[np.abs(bend.take(which)) * 2 > _BEND_OVER_SLOPE * flanks]
    kind = np.where(bend[which] > 0, DARK, LIGHT).astype(np.uint8)
    return _points(
        gradients,
        here[which],
        (nx[which], ny[which]),
        np.asarray(offset[which], np.float32),
        np.asarray(np.abs(bend[which]) / np.float32(BEND_OF_LINE), np.float32),
        kind,
    )


def largest_bend(bend_x: Floats, bend_y: Floats, twist: Floats) -> tuple[Floats, Floats, Floats]:
    """The larger bend (eigenvalue) of second derivatives, and the unit vector that it is along.

    Args:
        bend_x: Second derivatives across.
        bend_y: Those down.
        twist: The mixed ones.
    """
    mean, half = (bend_x + bend_y) / 2, (bend_x - bend_y) / 2
    spread = np.sqrt(half * half + twist * twist)
    bend = np.where(mean < 0, mean - spread, mean + spread)
    # Twice the angle of the eigenvector, of the larger bend.
    angle = 0.5 * np.arctan2(twist, half)
    angle = np.where(mean < 0, angle + np.float32(math.pi / 2), angle)
    return (
        np.asarray(bend, np.float32),
        np.asarray(np.cos(angle), np.float32),
        np.asarray(np.sin(angle), np.float32),
    )


def _flank_slope(steep: Floats, here: npt.NDArray[np.intp], nx: Floats, ny: Floats) -> Floats:
    """The steepest slope on either side of a ridge, on the mean of both."""
    flat, columns = steep.ravel(), steep.shape[1]
    ahead, behind = np.zeros(len(here), np.float32), np.zeros(len(here), np.float32)
    for far in (2, 3, 4):
        down, across = np.rint(ny * far).astype(np.intp), np.rint(nx * far).astype(np.intp)
        step = down * columns + across
        np.maximum(ahead, flat.take(here + step), out=ahead)
        np.maximum(behind, flat.take(here - step), out=behind)
    return np.asarray((ahead + behind) / np.float32(2))


def flanking(
    gradients: Gradients,
    points: Points,
    ridges: Points,
    *,
    aside: tuple[float, ...] = _FLANK_PX,
    along: tuple[float, ...] = (-0.5, 0.5),
) -> npt.NDArray[np.intp]:
    """For each point the ridge that it runs beside, within a line's width, or -1.

    Args:
        gradients: The tile.
        points: Of it.
        ridges: Or other points that have a width.
        aside: Places across a ridge, in pixels from its point, that count as its flanks.
        along: Places along a ridge, in pixels from its point, so that there are no gaps.
    """
    rows, columns = gradients.steep.shape
    owner = np.full(rows * columns, -1, np.int32)
    number = np.arange(len(ridges), dtype=np.int32)
    # All places at once, row by row: where several ridges have a pixel, the last place counts.
    far = np.array(aside, np.float32)[:, None, None]
    on = np.array(along, np.float32)[:, None]
    x = (ridges.x - gradients.left) + ridges.across_x * far - ridges.across_y * on
    y = (ridges.y - gradients.top) + ridges.across_y * far + ridges.across_x * on
    np.clip(np.rint(x, out=x), 0, columns - 1, out=x)
    np.clip(np.rint(y, out=y), 0, rows - 1, out=y)
    # The pixels of a tile are far fewer than 2^24, up to which these numbers are exact. Whole
    # ones for rows and columns took twice as long.
    y *= np.float32(columns)
    y += x
    owner[y.astype(np.intp)] = number
    row, column = rows_and_columns(points.key, gradients.size[1])
    ridge = owner[(row - gradients.top) * columns + column - gradients.left].astype(np.intp)
    if not len(ridges):
        return np.full(len(points), -1, np.intp)
    cosine = points.across_x * ridges.across_x.take(ridge)
    cosine += points.across_y * ridges.across_y.take(ridge)
    return np.asarray(np.where(np.abs(cosine) > _FLANK_COSINE, ridge, -1))


def _prominent(gradients: Gradients, ridges: Points) -> Points:
    """Ridges without the gaps between strokes: light among dark ones, or dark among light."""
    beside = flanking(gradients, ridges, ridges)
    weaker = ridges.contrast < ridges.contrast[beside]
    return ridges.taken(~((beside >= 0) & weaker & (ridges.kind != ridges.kind[beside])))
