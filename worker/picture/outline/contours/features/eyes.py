"""Eyes: both lids, the fold above them, and of the iris what lies between.

The upper lid is where skin turns to dark lashes, the lower one where white or iris turns to
skin; both are sought beside their landmarks. The iris is the circle near its landmarks across
which grey steps most (the integro-differential operator of Daugman, "High confidence visual
recognition of persons by a test of statistical independence", PAMI 1993), between lids alone. It
is used for lines and kept nowhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.landmarks import (
    IRISES,
    LOWER_LIDS,
    UPPER_LIDS,
)
from worker.picture.outline.contours.features.strips import (
    ACROSS,
    FacePart,
    Strip,
    best_run,
    course,
    dark_ends,
    moved,
    seen_along,
    smooth_curve,
    strip,
)
from worker.picture.outline.contours.placed_reading import between_pixels
from worker.picture.outline.points.gaussian import Floats

#: Places along lids, in sides; how far these may be from their landmarks, and how far they are as
#: a rule.
_ALONG, _REACH, _USUAL = 0.004, 0.018, 0.008
#: How much it counts that a lid is where its landmarks are, and what it costs to bend; waves of so
#: many places are smoothed.
_USUAL_COUNTS, _BENDS, _FAIR = 0.3, 0.15, 16.0
#: Grey counts in parts of its usual range, at least so many levels.
_RANGE, _LEAST_RANGE = (10, 90), 20.0
#: Skin is so many rows above lashes; an edge is seen over so many on either side.
_LASHES, _RIM = 3, 2
#: Corners are within so much of landmarks, in sides, where it is so many levels darker.
_CORNERS, _CORNER_DARKER = 0.018, 8.0
#: A fold is so far above the lid, in sides; it is dark beside so many rows above and below, by so
#: much, in parts of the range, along so much of the lid; and what it costs to bend.
_FOLD, _FOLD_BESIDE, _FOLD_DARKER, _FOLD_LONG, _FOLD_BENDS = (0.009, 0.036), 4, 0.06, 0.5, 1.0
#: How far an iris may be from its landmarks and how much larger or smaller, in its radius; how
#: much either counts, in levels; and in how many steps each round goes.
_OFF, _SIZES, _OFF_COUNTS, _SIZE_COUNTS, _STEPS = 0.4, (0.8, 1.15), 30.0, 60.0, 7
#: Places around it; grey is compared so far inside and outside; steps count so much at most, and
#: a circle counts by so many places at least.
_AROUND, _BESIDE, _MOST, _LEAST_PLACES = 64, 0.15, 60.0, 12
#: A pupil, in radii of its iris: how large it is, and how many levels darker than the iris.
_PUPIL, _PUPIL_STEP = (0.25, 0.6), 14.0
#: An eye narrower than this, in sides, is seen from aside.
_NARROWEST = 0.09
#: Levels that the fainter and the clearer iris of a face are darker than what is beside them.
_LEAST_STEP, _OTHER_STEP = 12.0, 20.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Eye:
    """One of them, in pixels of the face's part: places (places, 2) each.

    Attributes:
        upper, lower: Lids, from corner to corner.
        fold: Above the upper lid, or none.
        middle: Of the iris.
        radius: Of the iris.
        pupil: The radius of the pupil, or 0 where it is not seen.
        step: How many levels the iris is darker than what is beside it.
    """

    upper: Doubles
    lower: Doubles
    fold: Doubles | None
    middle: Doubles
    radius: float
    pupil: float
    step: float

    def circles(self) -> list[Doubles]:
        """What is seen of the iris and its pupil."""
        ways = _ways(_DRAWN)
        radii = [self.radius, self.pupil] if self.pupil else [self.radius]
        rims = [self.middle + one * np.concatenate((ways, ways[:1])) for one in radii]
        return [arc for rim in rims for arc in _arcs(rim, between(rim, self.upper, self.lower))]


#: Places around a circle that is drawn, and the fewest of an arc.
_DRAWN, _LEAST_ARC = 96, 7


def eyes(part: FacePart) -> tuple[Eye, ...]:
    """Both of a face, or none where they are not seen clearly, as behind dark glasses."""
    both = [_eye(part, number) for number in (0, 1)]
    steps = [one.step for one in both]
    if min(steps) < _LEAST_STEP or max(steps) < _OTHER_STEP:
        return ()
    wide = [float(np.hypot(*(one.upper[-1] - one.upper[0]))) for one in both]
    return tuple(both) if min(wide) > _NARROWEST * part.side else ()


def between(places: Doubles, upper: Doubles, lower: Doubles) -> npt.NDArray[np.bool_]:
    """Which places lie between two curves with the same ends; (..., 2) in, (...) out."""
    way = (upper[-1] - upper[0]) / np.hypot(*(upper[-1] - upper[0]))
    axes = np.stack((way, (-way[1], way[0])), axis=1)
    off, above, below = ((one - upper[0]) @ axes for one in (places, upper, lower))
    across, down = off[..., 0], off[..., 1]
    inside = (across > 0) & (across < above[-1, 0])
    inside &= (down > np.interp(across, *above.T)) & (down < np.interp(across, *below.T))
    return np.asarray(inside)


def _eye(part: FacePart, number: int) -> Eye:
    above, below = (part.along(one[number]) for one in (UPPER_LIDS, LOWER_LIDS))
    corners = dark_ends(part, above, _CORNERS, _CORNER_DARKER)
    above[[0, -1]] = below[[0, -1]] = corners
    upper, lower = _lid(part, above, _lashes), _lid(part, below, _rim)
    middle, radius, step = _iris(part, number, upper, lower)
    return Eye(
        upper=upper,
        lower=lower,
        fold=_fold(part, upper),
        middle=middle,
        radius=radius,
        pupil=_pupil(part, middle, radius, upper, lower),
        step=step,
    )


def _lid(part: FacePart, marks: Doubles, sights: Callable[[Floats], Floats]) -> Doubles:
    """The course of a lid from corner to corner."""
    curve = smooth_curve(marks, part.side, along=_ALONG)
    beside = strip(part, curve, _REACH)
    seen = sights(_in_range(beside))
    worth = seen - _USUAL_COUNTS * (beside.far / _USUAL)[:, None] ** 2
    return beside.places(course(worth, of_row=_BENDS, length=_FAIR, held=True))


def _in_range(beside: Strip) -> Floats:
    """Grey in parts of its usual range."""
    light = beside.of(beside.part.grey)
    low, high = np.percentile(light, _RANGE)
    return np.asarray(light / np.float32(max(high - low, _LEAST_RANGE)))


def _lashes(light: Floats) -> Floats:
    return np.clip(moved(light, -_LASHES) - light, -0.3, 0.8)


def _rim(light: Floats) -> Floats:
    return np.minimum(np.abs(moved(light, -_RIM) - moved(light, _RIM)), 0.6) / 2


def _fold(part: FacePart, upper: Doubles) -> Doubles | None:
    """A dark line above lashes, where one is seen along most of the lid."""
    beside = strip(part, upper, _FOLD[1] + _FOLD_BESIDE * ACROSS)
    light = _in_range(beside)
    dark = (moved(light, -_FOLD_BESIDE) + moved(light, _FOLD_BESIDE)) / 2 - light
    off = (beside.far > -_FOLD[0]) | (beside.far < -_FOLD[1])
    worth = np.clip(dark / _FOLD_DARKER, -1, 3) - 8.0 * off[:, None]
    rows = course(worth, of_row=_FOLD_BENDS, length=_FAIR)
    first, last = best_run(seen_along(dark, rows) - _FOLD_DARKER)
    return beside.places(rows)[first:last] if last - first > _FOLD_LONG * len(upper) else None


def _iris(
    part: FacePart, number: int, upper: Doubles, lower: Doubles
) -> tuple[Doubles, float, float]:
    """Middle and radius of the circle that steps most, and by how much."""
    usual, *rim = part.along(IRISES[number])
    radius = float(np.hypot(*(np.array(rim) - np.mean(rim, axis=0)).T).mean())
    best, spread, sizes = (-np.inf, usual, radius, 0.0), _OFF, np.array(_SIZES)
    for _ in range(2):
        steps = np.linspace(-1, 1, _STEPS) * spread * radius
        middles = best[1] + np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
        far = _OFF_COUNTS * np.hypot(*(middles - usual).T) ** 2 / radius**2
        for size in np.linspace(*sizes, _STEPS) * radius:
            mean = _step(part.grey, middles, float(size), upper, lower)
            worth = mean - far - _SIZE_COUNTS * (size / radius - 1) ** 2
            at = int(worth.argmax())
            if worth[at] > best[0]:
                best = (float(worth[at]), middles[at], float(size), float(mean[at]))
        spread, sizes = 1.5 * spread / _STEPS, best[2] / radius + np.array((-0.04, 0.04))
    return best[1:]


def _pupil(
    part: FacePart, middle: Doubles, radius: float, upper: Doubles, lower: Doubles
) -> float:
    """The radius of the circle around the same middle that steps most, if it is clear."""
    sizes = np.linspace(*_PUPIL, _STEPS) * radius
    steps = [float(_step(part.grey, middle[None], one, upper, lower)[0]) for one in sizes]
    at = int(np.argmax(steps))
    return float(sizes[at]) if steps[at] > _PUPIL_STEP and 0 < at < _STEPS - 1 else 0.0


def _step(
    grey: Floats, middles: Doubles, radius: float, upper: Doubles, lower: Doubles
) -> Doubles:
    """How much lighter it is outside circles than inside, in levels, on the mean of what is seen."""
    ways = _ways(_AROUND) * radius
    seen = between(middles[:, None] + ways, upper, lower)
    inside, outside = (
        between_pixels(grey, *np.moveaxis(middles[:, None] + far * ways, -1, 0).astype(np.float32))
        for far in (1 - _BESIDE, 1 + _BESIDE)
    )
    steps = np.clip(outside - inside, -_MOST, _MOST) * seen
    return np.asarray(steps.sum(axis=1) / np.maximum(seen.sum(axis=1), _LEAST_PLACES), np.float64)


def _ways(count: int) -> Doubles:
    # A circle begins at the top, which a lid covers as a rule.
    angles = np.linspace(0, 2 * np.pi, count, endpoint=False) - np.pi / 2
    return np.stack((np.cos(angles), np.sin(angles)), axis=1)


def _arcs(rim: Doubles, seen: npt.NDArray[np.bool_]) -> list[Doubles]:
    """The seen parts of a ring, each as one line."""
    if seen.all():
        return [rim]
    start = int(np.flatnonzero(~seen)[0])
    rim, seen = np.roll(rim[:-1], -start, axis=0), np.roll(seen[:-1], -start)
    change = np.flatnonzero(np.diff(seen.astype(np.int8), prepend=0, append=0))
    pairs = zip(change[::2], change[1::2], strict=True)
    return [rim[first:last] for first, last in pairs if last - first >= _LEAST_ARC]
