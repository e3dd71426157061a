"""Lids of eyes, as two curves that meet in the corners.

What is linked around an eye is lashes, folds and reflections; a draughtsman draws one line for
either lid (common practice). So the two are sought together, as a deformable template does (Yuille,
Hallinan and Cohen, "Feature extraction from faces using deformable templates", International
Journal of Computer Vision 8, 1992; from memory): curves between two corners around an iris that
was found, which lie best where it is darker than above and below, and along the rim of what the
reading has of the eye. Both eyes of a face are alike as a rule, so one
of them is fitted to be near the mirror of the other. They are used for lines and kept nowhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.irises import Doubles, Iris, turned
from worker.picture.outline.contours.placed_reading import PlacedReading, between_pixels
from worker.picture.outline.points.gaussian import Floats, box_mean
from worker.picture.outline.points.sampled_picture import Bytes

#: What is looked at around an iris, in its radii, across and down, and how finely.
_ACROSS, _DOWN, _STEP = 4.0, 2.4, 0.1
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
#: Templates that fit less well than these are none: the one of two eyes, and the better one.
_LEAST_FIT, _BETTER_FIT = 0.8, 1.0
#: What lies so far above and below lids, and beside corners, is theirs.
_ABOVE, _UNDERNEATH, _ASIDE = 0.5, 0.4, 0.3
#: Places of each curve that is drawn.
_DRAWN = 33


#: Of lids: how far down the left and the right corner are, and the arches of both lids.
Shape = tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True)
class Lids:
    """Both lids of one eye, in radii of its iris, from its middle.

    Attributes:
        iris: The iris between them.
        hand: -1 in a mirrored picture, where down is to the other side of level; else 1.
        left, right: Corners: across and down.
        upper, lower: How far each arches, up or down, and its skew.
    """

    iris: Iris
    hand: float
    left: tuple[float, float]
    right: tuple[float, float]
    upper: tuple[float, float]
    lower: tuple[float, float]

    def curves(self, across: Doubles) -> tuple[Doubles, Doubles]:
        """How far down the upper and the lower lid are at places across; level beside corners."""
        (left, left_down), (right, right_down) = self.left, self.right
        share = np.clip(2 * (across - left) / (right - left) - 1, -1, 1)
        chord = (left_down + right_down) / 2 + share * (right_down - left_down) / 2
        return chord - _arched(share, *self.upper), chord + _arched(share, *self.lower)

    def seen_from(self, x: Floats, y: Floats) -> Doubles:
        """Across and down of places of the grid, in radii: (places, 2)."""
        off_x, off_y = x.astype(np.float64) - self.iris.x, y.astype(np.float64) - self.iris.y
        off = turned(off_x, off_y, -self.iris.level)
        return np.asarray(off * (1, self.hand) / self.iris.radius)

    def on_grid(self, across: Doubles, down: Doubles) -> Doubles:
        """Places of the grid, from across and down: (places, 2)."""
        off = turned(across, self.hand * down, self.iris.level) * self.iris.radius
        return np.asarray(off + np.array((self.iris.x, self.iris.y)))

    def lines(self) -> tuple[Doubles, Doubles]:
        """The upper and the lower lid from corner to corner, on the grid: (places, 2) each."""
        across = np.linspace(self.left[0], self.right[0], _DRAWN)
        upper, lower = (self.on_grid(across, down) for down in self.curves(across))
        return upper, lower

    def between(self, across: Doubles, down: Doubles) -> npt.NDArray[np.bool_]:
        """Which places lie between the lids."""
        upper, lower = self.curves(across)
        return np.asarray((down > upper) & (down < lower))


def lids(placed: PlacedReading, grey: Bytes, irises: tuple[Iris, ...]) -> tuple[Lids, ...]:
    """Those that are seen clearly around both irises of a face.

    Args:
        placed: The reading.
        grey: The picture on its grid.
        irises: Those that were found, two of a face.
    """
    hand = float(np.sign(np.linalg.det(placed.to_share[:, :2])))
    found: list[Lids] = []
    for pair in zip(irises[::2], irises[1::2], strict=True):
        fits, both = fitted_alike(placed, grey, pair, hand)
        if min(fits) > _LEAST_FIT and max(fits) > _BETTER_FIT:
            found += both
    return tuple(found)


def fitted_alike(
    placed: PlacedReading, grey: Bytes, pair: Sequence[Iris], hand: float
) -> tuple[list[float], list[Lids]]:
    """How well the best template fits each of two eyes, and both.

    Either is fitted alone, and then as what is in the mirror of the other; the pair counts that
    fits better on the whole.
    """
    sights = [_sights(placed, grey, iris, hand) for iris in pair]
    alone = [_fitted(sight, iris, hand) for sight, iris in zip(sights, pair, strict=True)]
    like = [
        _fitted(replace(sight, like=_mirrored(other)), iris, hand)
        for sight, iris, (_, other) in zip(sights, pair, alone[::-1], strict=True)
    ]
    pairs = (alone[0], like[1]), (like[0], alone[1])
    best = max(pairs, key=lambda one: one[0][0] + one[1][0])
    return [fit for fit, _ in best], [one for _, one in best]


def _mirrored(one: Lids) -> Shape:
    """What the other eye is like as a rule: how far down both corners are, and both arches."""
    return one.right[1], one.left[1], one.upper[0], one.lower[0]


def around(found: tuple[Lids, ...], x: Floats, y: Floats) -> npt.NDArray[np.bool_]:
    """Which places of the grid are of an eye whose lids are known: in it, or close to a lid."""
    within = np.zeros(len(x), np.bool_)
    for one in found:
        at = np.flatnonzero(np.hypot(x - one.iris.x, y - one.iris.y) < _ACROSS * one.iris.radius)
        across, down = one.seen_from(x[at], y[at]).T
        upper, lower = one.curves(across)
        inside = (across > one.left[0] - _ASIDE) & (across < one.right[0] + _ASIDE)
        within[at] |= inside & (down > upper - _ABOVE) & (down < lower + _UNDERNEATH)
    return within


def _arched(share: Doubles, height: Doubles | float, skew: Doubles | float) -> Doubles:
    """How far a lid is from its chord; `share` is -1 and 1 in the corners."""
    return np.asarray(height * (1 - share**2) * (1 + skew * share))


@dataclass(frozen=True, kw_only=True)
class _Around:
    """How well lids would lie at each place around an iris; (rows, columns).

    Attributes:
        upper, lower: For either lid.
        like: What both are expected to be like.
    """

    upper: Floats
    lower: Floats
    like: Shape | None = None


def fitted(placed: PlacedReading, grey: Bytes, iris: Iris, hand: float) -> tuple[float, Lids]:
    """How well the best template fits one eye, and it."""
    return _fitted(_sights(placed, grey, iris, hand), iris, hand)


def _fitted(sights: _Around, iris: Iris, hand: float) -> tuple[float, Lids]:
    """The same: coarsely first, then more finely."""
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


def _sights(placed: PlacedReading, grey: Bytes, iris: Iris, hand: float) -> _Around:
    across, down = (
        np.arange(-far, far + _STEP / 2, _STEP, dtype=np.float64) for far in (_ACROSS, _DOWN)
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
    return _Around(
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
    sights: _Around,
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
        np.array([_arched(share, height, skew) for skew in skews for height in heights])
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
            column = np.rint((across + _ACROSS) / _STEP).astype(np.int64)
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
