"""Noses, each by the line below its tip: from wing to wing, along nostrils and what parts them.

A draughtsman draws a nose by tip, wings and nostrils, as its bridge is no contour (common
practice). Linked are crumbs in the nostrils. But below a tip it is darker than on it and on the
lip, from one wing to the other: of all lines there that bend slowly, the darkest is found exactly
(dynamic programming). It is used for the line and kept nowhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Bending, best_band, centred, fair
from worker.picture.outline.contours.features.face_frames import FaceFrame, Patch
from worker.picture.outline.contours.features.irises import Doubles
from worker.picture.outline.points.gaussian import Floats, box_mean
from worker.picture.outline.points.sampled_picture import Bytes

#: Where the line may be, in sides of the face's box from between the eyes, across and down; and
#: how finely it is looked for.
_ACROSS, _DOWN, _STEP = (-0.16, 0.16), (0.16, 0.36), 0.005
#: It is darker than so many samples above and below, by so many levels in skin of a tone and less
#: in darker skin, down to another tone; it counts from this part on, and no more than that one.
_BESIDE, _DARKER, _TONE, _LEAST_TONE = (3, 4, 5), 20.0, 140.0, 60.0
_LEAST, _MOST = 0.3, 1.2
#: It is where it is darkest so many samples around.
_DARKEST = 2
#: How far it may go up or down from one sample to the next, and what that costs; and waves of so
#: many samples are smoothed.
_BENDS, _BEND_COSTS, _FAIR = 2, 0.12, 12.0
#: A nose is no wider than this, and is not told by less, in sides; its samples are worth so much.
_WIDEST, _NARROWEST, _LEAST_WORTH = 0.23, 0.14, 17.0
#: What lies so near, in sides, is the line's.
_NEAR = 0.018


@dataclass(frozen=True, kw_only=True)
class Nose:
    """The line below one, in sides of the face's box, from the middle between the eyes.

    Attributes:
        frame: The face's.
        across: Places along it.
        down: How far down it is there.
    """

    frame: FaceFrame
    across: Doubles
    down: Doubles

    def line(self) -> Doubles:
        """On the grid: (places, 2)."""
        return self.frame.on_grid(self.across, self.down)

    def covers(self, across: Doubles, down: Doubles) -> npt.NDArray[np.bool_]:
        """Which places of the frame are on it or near it."""
        along = (across > self.across[0] - _NEAR / 2) & (across < self.across[-1] + _NEAR / 2)
        return np.asarray(
            along & (np.abs(down - np.interp(across, self.across, self.down)) < _NEAR)
        )


def noses(frames: tuple[FaceFrame, ...], grey: Bytes) -> tuple[Nose, ...]:
    """Those that are seen clearly.

    Args:
        frames: Of faces.
        grey: The picture on its grid.
    """
    found = [_nose(frame, grey) for frame in frames]
    return tuple(one for one in found if one is not None)


def _nose(frame: FaceFrame, grey: Bytes) -> Nose | None:
    """That of one face, if it is seen clearly."""
    patch = Patch.between(frame, _ACROSS, _DOWN, _STEP)
    darker = _darker(patch.sampled(grey))
    worth = np.clip(darker, -_LEAST, _MOST) - np.float32(_LEAST)
    band = best_band(worth[:, :, None], Bending(rows=_BENDS, kinds=0, of_row=_BEND_COSTS))
    best = _widest_part(worth[band.first, band.columns])
    at, rows = band.columns[best], band.first[best]
    if len(at) * _STEP < _NARROWEST or worth[rows, at].sum() < _LEAST_WORTH:
        return None
    down = _DOWN[0] + _STEP * fair(centred(darker, at, rows, _DARKEST), _FAIR)
    return Nose(frame=frame, across=patch.across[at], down=down)


def _darker(light: Floats) -> Floats:
    """How much darker it is than above and below, in parts of what is plain."""
    scale = max(float(np.median(light)), _LEAST_TONE) / _TONE
    smooth = box_mean(light, 1)
    rows = np.arange(len(light))
    sides = [
        np.minimum(*(smooth[np.clip(rows + sign * far, 0, len(rows) - 1)] for sign in (-1, 1)))
        for far in _BESIDE
    ]
    darker = (np.maximum.reduce(sides) - smooth) / np.float32(_DARKER * scale)
    return np.asarray(darker, np.float32)


def _widest_part(worth: Floats) -> slice:
    """The part of a line that is worth most, as wide as noses are at the most."""
    most = round(_WIDEST / _STEP)
    if len(worth) <= most:
        return slice(None)
    sums = np.concatenate((np.zeros(1), np.cumsum(worth, dtype=np.float64)))
    start = int((sums[most:] - sums[:-most]).argmax())
    return slice(start, start + most)
