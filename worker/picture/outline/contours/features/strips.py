"""A face's part of the picture, and strips of it beside a curve.

Landmarks say within a percent or two of a face where a lid or a lip is; exactly where, the
picture says. So it is sampled across the curve all along it, and the course of the line in that
strip is found exactly (`bands`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.picture.outline.contours.features.bands import (
    HELD,
    Bending,
    Doubles,
    Ints,
    best_band,
    centred,
    fair,
)
from worker.picture.outline.contours.features.landmarks import CHIN, LEFT, RIGHT, TOP
from worker.picture.outline.contours.placed_reading import between_pixels
from worker.picture.outline.points.gaussian import Floats, box_mean
from worker.picture.outline.points.sampled_picture import CHROMA_PX, Bytes, SampledPicture

#: A face is looked at with so many pixels a side at least, if it has them.
_SIDE_PX = 300
#: Beyond landmarks it is looked at so far, in sides.
_MARGIN = 0.25
#: In dark places red and green say less: so many levels are added to both.
_DARK_LEVELS = 60.0
#: Levels count in parts of this tone, of darker faces at least of that.
_TONE, _LEAST_TONE = 140.0, 60.0
#: How finely strips are sampled, in sides, along and across.
ALONG, ACROSS = 0.006, 0.003
#: All places are worth something, so that courses go from end to end.
_WORTH = 10.0
#: Ends of dark lines: how far from landmarks, as a rule, in sides; beside how many rows, and as
#: dark as what, in levels.
_ENDS_REACH, _ENDS_USUAL, _ENDS_BESIDE, _ENDS_DARK = 0.021, 0.010, 3, 10.0
#: A line with given ends goes so many rows from its curve for each column from them.
_LEAVES = 0.5


@dataclass(frozen=True, kw_only=True, eq=False)
class FacePart:
    """What is looked at of a picture.

    Attributes:
        marks: (478, 2): landmarks in pixels of the part.
        grey: (rows, columns).
        red: The same of redness; none without colour.
        start: Where the part begins on the grid, across and down.
        coarser: Pixels of the grid in one of the part.
        side: Of the face, in pixels of the part.
        tone: How light the face is, in parts of a usual one.
    """

    marks: Doubles
    grey: Floats
    red: Floats | None
    start: Doubles
    coarser: int
    side: float
    tone: np.float32

    def along(self, numbers: tuple[int, ...]) -> Doubles:
        """Places of some landmarks, (places, 2)."""
        return self.marks[list(numbers)]

    def on_grid(self, places: Doubles) -> Doubles:
        """Places in pixels of the grid."""
        return np.asarray((places + 0.5) * self.coarser - 0.5 + self.start)


def face_part(marks: Doubles, sampled: SampledPicture) -> FacePart:
    """What is around landmarks, which are in pixels of the grid."""
    ends = marks[[TOP, LEFT]] - marks[[CHIN, RIGHT]]
    side = float(np.hypot(*ends.T).max())
    coarser = max(int(side / _SIDE_PX), 1)
    step = coarser * CHROMA_PX
    low = (np.maximum(np.nanmin(marks, axis=0) - _MARGIN * side, 0) // step * step).astype(int)
    high = np.ceil(np.nanmax(marks, axis=0) + _MARGIN * side).astype(int)
    grey = _reduced(sampled.grey[low[1] : high[1], low[0] : high[0]], coarser)
    red = None
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
        start=low.astype(np.float64),
        coarser=coarser,
        side=side / coarser,
        tone=np.float32(max(float(np.median(grey)), _LEAST_TONE) / _TONE),
    )


def _reduced(values: Bytes, coarser: int) -> Floats:
    return np.asarray(Image.fromarray(values.astype(np.float32)).reduce(coarser), np.float32)


def _resized(values: Bytes, size: tuple[float, float], shape: tuple[int, ...]) -> Floats:
    image = Image.fromarray(values.astype(np.float32))
    box = (0.0, 0.0, min(size[0], image.width), min(size[1], image.height))
    resized = image.resize(shape[::-1], Image.Resampling.BILINEAR, box)
    return np.asarray(resized, np.float32) - np.float32(128)


def _redness(light: Floats, blue: Floats, red: Floats) -> Floats:
    """How much more red there is than green, in parts of both: a pseudo hue.

    After Hulbert and Poggio, "Synthesizing a color algorithm from examples", Science 239,
    1988; from memory.
    """
    # ITU-T T.871, with the printed grey for its luma.
    r, g = light + 1.402 * red, light - 0.344136 * blue - 0.714136 * red
    return np.asarray((r - g) / np.maximum(r + g + _DARK_LEVELS, _DARK_LEVELS), np.float32)


@dataclass(frozen=True, kw_only=True, eq=False)
class Strip:
    """What lies beside a curve; rows go from above it to below.

    Attributes:
        part: Of the face.
        curve: (columns, 2) places along it.
        normal: (columns, 2): the way down.
        reach: Rows on either side.
        step: From row to row, in pixels of the part.
    """

    part: FacePart
    curve: Doubles
    normal: Doubles
    reach: int
    step: float

    def of(self, values: Floats) -> Floats:
        """Values of the part, (rows, columns), smoothed a little."""
        x, y = np.moveaxis(self.grid(), -1, 0).astype(np.float32)
        return box_mean(between_pixels(values, x, y), 1)

    def places(self, rows: Doubles, columns: Ints | slice = slice(None)) -> Doubles:
        """Places of the part in some row of each column, or of some columns."""
        off = ((rows - self.reach) * self.step)[:, None] * self.normal[columns]
        return np.asarray(self.curve[columns] + off)

    def grid(self) -> Doubles:
        """Places of the part of all rows and columns, (rows, columns, 2)."""
        rows = np.arange(-self.reach, self.reach + 1) * self.step
        return np.asarray(self.curve + rows[:, None, None] * self.normal)

    def reversed(self) -> Strip:
        """The same from its last column to its first."""
        return replace(self, curve=self.curve[::-1], normal=self.normal[::-1])

    @property
    def far(self) -> Doubles:
        """How far each row is from the curve, in sides."""
        return np.arange(-self.reach, self.reach + 1) * self.step / self.part.side


def strip(part: FacePart, curve: Doubles, reach: float, across: float = ACROSS) -> Strip:
    """That beside a curve, so far to either side in sides."""
    way = np.gradient(curve, axis=0)
    way /= np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    step = across * part.side
    return Strip(
        part=part,
        curve=curve,
        normal=np.stack((-way[:, 1], way[:, 0]), axis=1),
        reach=round(reach / across),
        step=step,
    )


def smooth_curve(places: Doubles, side: float, *, along: float = ALONG, length: float = 1.0) -> Doubles:
    """A fair curve through landmarks, with evenly spaced places.

    Args:
        places: (landmarks, 2).
        side: Of the face in their pixels.
        along: From place to place in sides.
        length: Waves of so many times the way between landmarks are smoothed.
    """
    steps = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(places, axis=0).T))))
    count = max(round(steps[-1] / (along * side)) + 1, 8)
    at = np.linspace(0, steps[-1], count)
    weight = np.ones(count)
    weight[[0, -1]] = HELD
    waves = length * count / (len(places) - 1)
    return np.stack(
        [fair(np.interp(at, steps, one), waves, weight) for one in places.T], axis=1
    )


def course(
    worth: Doubles | Floats, *, of_row: float, length: float, held: bool = False, reach: int = 2
) -> Doubles:
    """The row of each column where a line lies best, to a fraction.

    Args:
        worth: (rows, columns) of a line there, better than -10.
        of_row: What it costs to go one row up or down.
        length: Waves of so many columns are smoothed.
        held: Whether both ends are the curve's, in the middle row.
        reach: It is where worth is highest so many rows around.
    """
    rows, columns = worth.shape
    weight, middle = np.ones(columns), rows // 2
    off = np.abs(np.arange(rows) - middle)
    if held:
        # A line leaves its ends slowly.
        end = np.minimum(np.arange(columns), np.arange(columns)[::-1])
        worth = np.where(off[:, None] > end * _LEAVES, -_WORTH, worth)
    # What is worth less than nothing ends a band, and this goes from end to end.
    values = np.asarray(np.maximum(worth, 0.01 - _WORTH) + _WORTH, np.float32)
    band = best_band(values[:, :, None], Bending(rows=1, kinds=0, of_row=of_row))
    found = centred(values - values.min(axis=0), band.columns, band.first, reach)
    if held:
        found[[0, -1]], weight[[0, -1]] = middle, HELD
    return fair(found, length, weight)


def seen_along(values: Floats, rows: Doubles, mean: int = 7) -> Floats:
    """Values of a strip along a course, on the mean of so many columns."""
    at = np.clip(np.rint(rows).astype(np.int64), 0, len(values) - 1)
    along = np.pad(values[at, np.arange(len(at))], mean // 2, mode="edge")
    return np.convolve(along, np.full(mean, 1 / mean, np.float32), "valid")


def best_run(worth: Doubles | Floats) -> tuple[int, int]:
    """First and last of the run that is worth most (Kadane); what is not seen is worth less than 0."""
    sums = np.concatenate(([0.0], np.cumsum(worth, dtype=np.float64)))
    gains = sums - np.minimum.accumulate(sums)
    last = int(gains.argmax())
    return int(sums[: last + 1].argmin()), last


def moved(values: Floats, rows: int) -> Floats:
    """The value so many rows below each place; the last ones go on."""
    return values[np.clip(np.arange(len(values)) + rows, 0, len(values) - 1)]


def extended(curve: Doubles, start: float, end: float, bend: float = 0.0) -> Doubles:
    """A curve that goes straight on beyond its ends, so far in its pixels."""
    step = float(np.hypot(*(curve[1] - curve[0])))
    parts = []
    third = len(curve) // 3
    for ends, far in ((curve[: third + 1][::-1], start), (curve[-third - 1 :], end)):
        way = (ends[-1] - ends[0]) / np.hypot(*(ends[-1] - ends[0]))
        count = round(far / step)
        parts.append(ends[-1] + way * step * np.arange(1, count + 1)[:, None])
    return np.concatenate((parts[0][::-1], curve, parts[1]))


def valley(values: Floats, far: int) -> Floats:
    """How much darker each place is than both so many rows above and below."""
    return np.minimum(moved(values, -far), moved(values, far)) - values


def dark_ends(part: FacePart, marks: Doubles, most: float, darker: float) -> Doubles:
    """Where a dark line along landmarks ends: (2, 2).

    Args:
        part: Of the face.
        marks: Landmarks along it.
        most: It goes on beyond them so far at most, in sides.
        darker: As long as it is so many levels darker than beside it.
    """
    curve = smooth_curve(marks, part.side)
    beside = strip(part, extended(curve, most * part.side, most * part.side), _ENDS_REACH)
    dark = valley(beside.of(part.grey), _ENDS_BESIDE) / part.tone
    usual = (beside.far / _ENDS_USUAL)[:, None] ** 2
    rows = course(np.clip(dark / _ENDS_DARK, -1, 2.5) - 0.3 * usual, of_row=0.25, length=8.0)
    line, seen = beside.places(rows), seen_along(dark, rows, 3) > darker
    more = (len(line) - len(curve)) // 2
    left = int(np.argmin(np.append(seen[:more][::-1], False)))
    right = int(np.argmin(np.append(seen[len(line) - more :], False)))
    return line[[more - left, len(line) - 1 - more + right]]
