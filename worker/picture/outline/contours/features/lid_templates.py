"""The template of lids that fits one eye best, around an iris that was found."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.irises import Doubles, Iris, turned
from worker.picture.outline.contours.features.lid_shapes import ACROSS, Lids, Shape, arched
from worker.picture.outline.contours.placed_reading import PlacedReading, between_pixels
from worker.picture.outline.points.gaussian import Floats, box_mean
from worker.picture.outline.points.sampled_picture import Bytes

#: What is looked at around an iris, in its radii, down, and how finely.
_DOWN, _STEP = 2.4, 0.1
#: An eye is 30 mm wide and its iris 11.8 (common anatomy). In radii of the iris: where corners may
#: be, beside it and up and down; how high a lid may arch; and how far to one side.
_CORNER, _CORNER_DOWN, _ARCH = (1.7, 3.7), (-0.3, 0.9), (0.1, 1.45)
_SKEWS = (-0.3, -0.15, 0.0, 0.15, 0.3)
#: Samples of these in the first round, in which no lid is skew.
_CORNERS, _CORNERS_DOWN, _ARCHES = 7, 7, 10
#: It is looked more finely around the best, in these parts of the steps.
_FINER = (0.5, 0.25)
#: Places along a lid that are looked at, without its ends.
_PLACES, _BUT_ENDS = 17, 0.9
#: Grey is compared so far above and below; the reading's map so far outwards.
_BESIDE, _BELOW, _RIM = 0.35, 0.3, 0.6
#: How much counts that the reading's map has a rim, and that it has a line at all.
_RIM_COUNTS, _LINE_COUNTS = 0.6, 0.15
#: How much the lower lid counts beside the upper one, which has the lashes.
_LOWER = 0.8
#: Grey counts in parts of its usual range, at least so many levels.
_LEAST_RANGE, _LOW, _HIGH = 20.0, 10, 90
#: How wide an eye is as a rule, and how much it counts that one is wider or less, that its iris is
#: not in its middle, and that its corners are not level.
_WIDE, _WIDE_COUNTS, _MIDDLE_COUNTS, _LEVEL_COUNTS = 5.4, 0.03, 0.08, 0.12
#: Where lids lie above and below an iris' middle as a rule, and how much it counts if they do not.
_UPPER, _UNDER, _OPEN_COUNTS = (-1.25, -0.1), (0.5, 1.15), 0.5
#: How much it counts that a corner or an arch is not as the other eye has it.
_LIKE_COUNTS = 0.3


@dataclass(frozen=True, kw_only=True)
class Sights:
    """How well lids would lie at each place around an iris; (rows, columns).

    Attributes:
        upper, lower: For either lid.
        like: What both are expected to be like.
    """

    upper: Floats
    lower: Floats
    like: Shape | None = None


def fitted_to(sights: Sights, iris: Iris, hand: float) -> tuple[float, Lids]:
    """How well the best template fits, coarsely first, then more finely, and it.

    Args:
        sights: Around the eye.
        iris: Its iris.
        hand: As of `Lids`.
    """
    left = -np.linspace(*_CORNER, _CORNERS)
    down, arches = np.linspace(*_CORNER_DOWN, _CORNERS_DOWN), np.linspace(*_ARCH, _ARCHES)
    fit, best = _best(sights, (left, -left), (down, down), (arches, arches), (0.0,))
    across, below, arch = (float(axis[1] - axis[0]) for axis in (-left, down, arches))
    for part in _FINER:
        steps = np.linspace(-part, part, 3)
        finer = _best(
            sights,
            (best[0] + steps * across, best[1] + steps * across),
            (best[2] + steps * below, best[3] + steps * below),
            (best[4] + steps * arch, best[6] + steps * arch),
            _SKEWS,
        )
        fit, best = max((fit, best), finer)
    return fit, Lids(
        iris=iris,
        hand=hand,
        left=(best[0], best[2]),
        right=(best[1], best[3]),
        upper=(best[4], best[5]),
        lower=(best[6], best[7]),
    )


def sights_of(placed: PlacedReading, grey: Bytes, iris: Iris, hand: float) -> Sights:
    """How well lids would lie around an iris."""
    across, down = (
        np.arange(-far, far + _STEP / 2, _STEP, dtype=np.float64) for far in (ACROSS, _DOWN)
    )
    wide, high = np.meshgrid(across, down)
    ways = turned(wide, hand * high, iris.level) * iris.radius + (iris.x, iris.y)
    x, y = ways[..., 0].astype(np.float32), ways[..., 1].astype(np.float32)
    light = _smooth(between_pixels(grey, x, y))
    read = _smooth(placed.sampled("contour", x.ravel(), y.ravel()).reshape(x.shape))
    low, high_ = np.percentile(light, (_LOW, _HIGH))
    light /= np.float32(max(high_ - low, _LEAST_RANGE))
    above, below = _moved(light, -_BELOW), _moved(light, _BELOW)
    lashes = np.clip(_moved(light, -_BESIDE) - light, -0.3, 0.6)
    rim = 0.8 * np.clip(below - light, -0.2, 0.4) + 0.3 * np.clip(above - light, -0.2, 0.4)
    rim += 0.4 * np.minimum(np.abs(below - above), 0.5)
    return Sights(
        upper=lashes + _of_reading(read, -_RIM),
        lower=np.asarray(rim + _of_reading(read, _RIM), np.float32),
    )


def _of_reading(read: Floats, outwards: float) -> Floats:
    rim = np.clip(read - _moved(read, outwards), -0.3, 0.4)
    return np.asarray(_RIM_COUNTS * rim + _LINE_COUNTS * read, np.float32)


def _smooth(values: Floats) -> Floats:
    return box_mean(box_mean(values, 1), 1)


def _moved(values: Floats, down: float) -> Floats:
    """The value so far down of each place; the last ones go on."""
    rows = len(values)
    at = np.clip(np.arange(rows) + round(down / _STEP), 0, rows - 1)
    return values[at]


_Pair = tuple[Doubles, Doubles]


def _best(
    sights: Sights,
    sides: _Pair,
    downs: _Pair,
    arches: _Pair,
    skews: tuple[float, ...],
) -> tuple[float, tuple[float, ...]]:
    """The best of all templates of these measures, and how well it fits.

    Returns:
        The fit; across of both corners, down of both, and arch and skew of both lids.
    """
    share = np.linspace(-_BUT_ENDS, _BUT_ENDS, _PLACES)
    left_down, right_down = (each.ravel() for each in np.meshgrid(*downs, indexing="ij"))
    chords = (left_down + right_down)[:, None] / 2 + (right_down - left_down)[:, None] / 2 * share
    bent = [
        np.array([arched(share, height, skew) for skew in skews for height in heights])
        for heights in arches
    ]
    upper_down, lower_down = chords[:, None] - bent[0], chords[:, None] + bent[1]
    upper_row, lower_row = _rows(upper_down), _rows(lower_down)
    uneven = _LEVEL_COUNTS * ((right_down - left_down) / 2) ** 2
    unlike = [np.zeros(1), np.zeros(1)]
    if sights.like is not None:
        unlike = [
            _LIKE_COUNTS * (np.tile(heights, len(skews)) - one) ** 2
            for heights, one in zip(arches, sights.like[2:], strict=True)
        ]
        downs_off = left_down - sights.like[0], right_down - sights.like[1]
        uneven = uneven + _LIKE_COUNTS * (downs_off[0] ** 2 + downs_off[1] ** 2)
    found: tuple[float, tuple[float, ...]] = (-np.inf, ())
    for left in sides[0].tolist():
        for right in sides[1].tolist():
            across = (left + right) / 2 + share * (right - left) / 2
            column = np.rint((across + ACROSS) / _STEP).astype(np.int64)
            middle = int(np.abs(across).argmin())
            upper = sights.upper[upper_row, column].mean(axis=2)
            upper = upper - _OPEN_COUNTS * _outside(upper_down[..., middle], _UPPER) - unlike[0]
            lower = sights.lower[lower_row, column].mean(axis=2)
            lower = lower - _OPEN_COUNTS * _outside(lower_down[..., middle], _UNDER) - unlike[1]
            fits = upper.max(axis=1) + _LOWER * lower.max(axis=1) - uneven
            at = int(fits.argmax())
            fit = float(fits[at]) - _WIDE_COUNTS * (right - left - _WIDE) ** 2
            fit -= _MIDDLE_COUNTS * ((left + right) / 2) ** 2
            if fit > found[0]:
                shapes = [
                    (float(heights[which % len(heights)]), skews[which // len(heights)])
                    for heights, which in zip(
                        arches, (int(upper[at].argmax()), int(lower[at].argmax())), strict=True
                    )
                ]
                corners = left, right, float(left_down[at]), float(right_down[at])
                found = fit, (*corners, *shapes[0], *shapes[1])
    return found


def _rows(down: Doubles) -> npt.NDArray[np.int64]:
    most = 2 * round(_DOWN / _STEP)
    return np.clip(np.rint((down + _DOWN) / _STEP).astype(np.int64), 0, most)


def _outside(values: Doubles, ends: tuple[float, float]) -> Doubles:
    return np.maximum(np.maximum(ends[0] - values, values - ends[1]), 0)
