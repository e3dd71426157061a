"""Brows, each as one closed shape.

A brow is linked hair by hair, or runs on into the socket's shadow; a draughtsman draws its outline
(common practice). It is the band above an eye that is darker than the skin above and below it: of
all bands whose upper and lower edge change slowly, the one that is darkest on the whole is found
exactly, with its ends (dynamic programming). It is used for lines and kept nowhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Bending, best_band, centred, fair
from worker.picture.outline.contours.features.face_frames import FaceFrame, Patch
from worker.picture.outline.contours.features.irises import Doubles
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.contours.ridge_places import Flags
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.sampled_picture import SampledPicture

#: Where brows may be, in sides of the face's box: from between the eyes outwards, and down from
#: their level; and how finely it is looked for.
_ACROSS, _DOWN, _STEP = (0.015, 0.42), (-0.21, -0.025), 0.005
#: How thick one may be, in samples; skin is looked at so far beyond its edges.
_THIN, _THICK, _BESIDE = 1, 11, 3
#: Lighter than so many times what is usual above an eye is no skin; nor is what is so many
#: times as light and so much less red.
_SKIN, _LIGHT, _UNRED = 1.25, 1.0, 0.06
#: What surely bounds a face counts as so many levels lighter than it is.
_BOUND = 200.0
#: Levels that a band is darker than the skin on either side, at least; it counts no more than so
#: much darker.
_LEAST_DARKER, _MOST_DARKER = 12.0, 60.0
#: How much counts that an edge goes a sample up or down, or that the band grows or shrinks by one.
_BENDS, _WIDENS = 2.0, 3.0
#: As long is a brow at least, in sides; and so many levels darker than that in all its columns.
_LEAST_LONG, _LEAST_WORTH = 0.13, 280.0
#: An edge is where it rises most so many samples around.
_STEEPEST = 2
#: Edges are fair: waves of so many samples are smoothed.
_FAIR = 40.0
#: Its inner end is round over so much of its thickness; its tail, of so much of its length, runs
#: out to a point, by this power of how far it is from there.
_ROUND, _TAIL, _THINS = 0.6, 0.45, 0.8
#: The socket reaches so far beyond a brow's inner and outer end, and to so far below the eyes.
_INWARDS, _OUTWARDS, _BAGS = 0.04, 0.09, 0.12
#: What lies so near, in sides, is the brow's.
_NEAR = 0.022


@dataclass(frozen=True, kw_only=True)
class Brow:
    """One of them, in sides of the face's box, from the middle between the eyes.

    Attributes:
        frame: The face's.
        across: Places along it, from its inner end.
        upper, lower: How far down its edges are there.
    """

    frame: FaceFrame
    across: Doubles
    upper: Doubles
    lower: Doubles

    def line(self) -> Doubles:
        """Its outline on the grid, closed: (places, 2)."""
        middle = (self.lower + self.upper) / 2
        half = (self.lower - self.upper) / 2 * self._left_over()
        upper, lower = middle - half, middle + half
        across = np.concatenate((self.across, self.across[-2::-1]))
        return self.frame.on_grid(across, np.concatenate((upper, lower[-2::-1])))

    def _left_over(self) -> Doubles:
        """What is left of its thickness: round at the inner end, running out at the outer."""
        off = np.abs(self.across - self.across[0])
        inner = np.minimum(off / (_ROUND * (self.lower - self.upper).max()), 1)
        tail = np.minimum((off[-1] - off) / (_TAIL * off[-1]), 1)
        return np.asarray(np.sqrt(1 - (1 - inner) ** 2) * np.sin(np.pi / 2 * tail) ** _THINS)

    def covers(self, across: Doubles, down: Doubles) -> npt.NDArray[np.bool_]:
        """Which places of the frame are in it or near it."""
        order = np.argsort(self.across)
        at = self.across[order]
        upper, lower = (np.interp(across, at, one[order]) for one in (self.upper, self.lower))
        along = (across > at[0] - _NEAR) & (across < at[-1] + _NEAR)
        return np.asarray(along & (down > upper - _NEAR) & (down < lower + _NEAR))

    def in_socket(self, across: Doubles, down: Doubles) -> npt.NDArray[np.bool_]:
        """Which places of the frame are in the socket below it."""
        out = np.sign(self.across[-1] - self.across[0])
        far, ends = out * across, out * self.across
        along = (far > ends[0] - _INWARDS) & (far < ends[-1] + _OUTWARDS)
        below = (down > np.interp(far, ends, self.upper)) & (down < _BAGS)
        return np.asarray(along & below)


def brows(
    placed: PlacedReading, frames: tuple[FaceFrame, ...], sampled: SampledPicture
) -> tuple[Brow, ...]:
    """Those that are seen clearly.

    Args:
        placed: The reading.
        frames: Of faces.
        sampled: The picture.
    """
    found = [_brow(placed, frame, sampled, hand) for frame in frames for hand in (-1, 1)]
    return tuple(one for one in found if one is not None)


def _brow(
    placed: PlacedReading, frame: FaceFrame, sampled: SampledPicture, hand: int
) -> Brow | None:
    """That of the eye on one hand, if it is seen clearly."""
    ends = (hand * _ACROSS[0], hand * _ACROSS[1])
    patch = Patch.between(frame, (min(ends), max(ends)), _DOWN, _STEP)
    light, behind = _skin_and_behind(placed, patch, sampled, hand)
    light, behind = light[:, ::hand], behind[:, ::hand]
    # From the inner end outwards, and nowhere behind the face.
    darker = np.where(_touching(behind), np.float32(0), _darker(light))
    worth = np.minimum(darker, np.float32(_MOST_DARKER)) - np.float32(_LEAST_DARKER)
    band = best_band(worth, Bending(of_row=_BENDS, of_kind=_WIDENS))
    at, first = band.columns, band.first
    if len(at) * _STEP < _LEAST_LONG or band.worth < _LEAST_WORTH:
        return None
    rises, last = np.diff(light, axis=0), first + band.kind + _THIN - 1
    # At its ends a brow fades, and its edges go on as they were.
    clear = (np.minimum(darker[first, at, band.kind], _MOST_DARKER) / _MOST_DARKER) ** 2
    upper, lower = (
        fair(centred(edge, at, rows, _STEEPEST) + 0.5, _FAIR, clear.astype(np.float64))
        for edge, rows in ((-rises, first - 1), (rises, last))
    )
    return Brow(
        frame=frame,
        across=patch.across[::hand][at],
        upper=_DOWN[0] + _STEP * upper,
        lower=_DOWN[0] + _STEP * lower,
    )


def _skin_and_behind(
    placed: PlacedReading, patch: Patch, sampled: SampledPicture, hand: int
) -> tuple[Floats, Flags]:
    """Grey above an eye, lighter along what bounds the face; and what is not of skin's hue."""
    light = patch.sampled(sampled.grey)
    inner = slice(None, patch.columns // 2) if hand > 0 else slice(patch.columns // 2, None)
    skin = np.float32(np.median(light[:, inner]))
    behind = light > np.float32(_LIGHT) * skin
    if sampled.chroma:
        red = patch.redness(light, sampled.chroma)
        behind &= red < np.median(red[:, inner]) - np.float32(_UNRED)
    else:
        behind &= light > np.float32(_SKIN) * skin
    x, y = patch.places()
    bounds = placed.sampled("contour", x, y) * placed.sampled("outer", x, y)
    return light + np.float32(_BOUND) * bounds.reshape(light.shape), behind


def _touching(behind: Flags) -> Flags:
    """Which bands, as `_darker` has them, have something of what is behind in or beside them."""
    rows, columns = behind.shape
    sums = np.concatenate((np.zeros((1, columns), np.int64), np.cumsum(behind, axis=0)))
    found = np.ones((rows, columns, _THICK - _THIN + 1), np.bool_)
    for number, thick in enumerate(range(_THIN, _THICK + 1)):
        first = np.arange(_BESIDE, rows - thick - _BESIDE + 1)
        found[first, :, number] = sums[first + thick + _BESIDE] > sums[first - _BESIDE]
    return found


def _darker(light: Floats) -> Floats:
    """How much darker a column's band is than what lies above and below it.

    Returns:
        In levels, (first rows, columns, numbers of rows from `_THIN` on); bands that are cut are
        as light as can be.
    """
    rows, columns = light.shape
    sums = np.concatenate((np.zeros((1, columns), np.float32), np.cumsum(light, axis=0)))
    found = np.full((rows, columns, _THICK - _THIN + 1), -255, np.float32)
    for number, thick in enumerate(range(_THIN, _THICK + 1)):
        last = rows - thick - _BESIDE
        first = np.arange(_BESIDE, last + 1)
        inside = (sums[first + thick] - sums[first]) / thick
        above = (sums[first] - sums[first - _BESIDE]) / _BESIDE
        below = (sums[first + thick + _BESIDE] - sums[first + thick]) / _BESIDE
        found[first, :, number] = np.minimum(above, below) - inside
    return found
