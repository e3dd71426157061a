"""Irises and pupils, as circles between lids.

An iris is darker than the white beside it, and lids cut it: it is the circle near its landmarks
across which grey steps most (the integro-differential operator of Daugman, "High confidence visual
recognition of persons by a test of statistical independence", PAMI 1993), between lids alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.points.gaussian import Floats
from worker.reading.planes import between_pixels

#: How far an iris may be from its landmarks and how much larger or smaller, in its radius; how
#: much either counts, in levels; in how many steps each round goes; and the second one's sizes.
_OFF, _SIZES, _OFF_COUNTS, _SIZE_COUNTS, _STEPS, _FINER = 0.4, (0.8, 1.15), 30.0, 60.0, 7, 0.04
#: Places around it; grey is compared so far inside and outside; steps count so much at most, and
#: a circle counts by so many places at least.
_AROUND, _BESIDE, _MOST, _LEAST_PLACES = 40, 0.15, 60.0, 8
#: A pupil: how large it is, in radii of its iris, and how many levels darker than the iris.
_PUPIL, _PUPIL_STEP = (0.25, 0.6), 14.0
#: Places around a circle that is drawn, and the fewest of an arc.
_DRAWN, _LEAST_ARC = 96, 7

Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class Opening:
    """What is between lids, in pixels of the face's part.

    Attributes:
        upper, lower: Lids, (places, 2) each, from one corner to the other.
    """

    upper: Doubles
    lower: Doubles

    def has(self, places: Doubles) -> Flags:
        """Which places lie in it; (..., 2) in, (...) out."""
        way = self.upper[-1] - self.upper[0]
        x, y = way / np.hypot(*way)
        (across, down), above, below = (
            (off[..., 0] * x + off[..., 1] * y, off[..., 1] * x - off[..., 0] * y)
            for off in (one - self.upper[0] for one in (places, self.upper, self.lower))
        )
        inside = (across > 0) & (across < above[0][-1])
        inside &= (down > above[1].min()) & (down < below[1].max())
        # Most circles that are tried reach far beyond lids, whose height there nobody asks.
        at = np.flatnonzero(inside)
        across, down = across.ravel().take(at), down.ravel().take(at)
        between = (down > np.interp(across, *above)) & (down < np.interp(across, *below))
        np.put(inside, at, between)
        return np.asarray(inside)


@dataclass(frozen=True, kw_only=True, eq=False)
class Iris:
    """One circle, in pixels of the face's part.

    Attributes:
        middle: Across and down.
        radius: Of the iris.
        step: How many levels it is darker than what is beside it.
        pupil: The radius of the pupil, or 0 while it is not known.
    """

    middle: Doubles
    radius: float
    step: float
    pupil: float = 0.0

    def arcs(self, opening: Opening) -> list[Doubles]:
        """What is seen of it and of its pupil between lids, (places, 2) each."""
        ways = _ways(_DRAWN)
        radii = [self.radius, self.pupil] if self.pupil else [self.radius]
        rims = [self.middle + one * np.concatenate((ways, ways[:1])) for one in radii]
        return [arc for rim in rims for arc in _seen_parts(rim, opening.has(rim))]


def iris_in(part: FacePart, opening: Opening, marks: Doubles) -> Iris:
    """The circle that steps most.

    Args:
        part: Of the face.
        opening: Between lids.
        marks: Its middle, and places around it.
    """
    usual, rim = marks[0], marks[1:]
    radius = float(np.hypot(*(rim - rim.mean(axis=0)).T).mean())
    best, worth = Iris(middle=usual, radius=radius, step=0.0), -np.inf
    for spread, low, high in ((_OFF, *_SIZES), (1.5 * _OFF / _STEPS, -_FINER, _FINER)):
        steps = np.linspace(-1, 1, _STEPS) * spread * radius
        middles = best.middle + np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
        off = _OFF_COUNTS * np.hypot(*(middles - usual).T) ** 2 / radius**2
        sizes = np.linspace(low, high, _STEPS) * radius + (best.radius if low < 0 else 0)
        mean = _steps(part.grey, middles, sizes, opening)
        worths = mean - off - _SIZE_COUNTS * (sizes[:, None] / radius - 1) ** 2
        size, at = np.unravel_index(int(worths.argmax()), worths.shape)
        if worths[size, at] > worth:
            worth = float(worths[size, at])
            best = Iris(middle=middles[at], radius=float(sizes[size]), step=float(mean[size, at]))
    return best


def pupil_in(part: FacePart, opening: Opening, iris: Iris) -> float:
    """The radius of the circle around the same middle that steps most, or 0 if none is clear."""
    sizes = np.linspace(*_PUPIL, _STEPS) * iris.radius
    steps = _steps(part.grey, iris.middle[None], sizes, opening)[:, 0]
    at = int(steps.argmax())
    return float(sizes[at]) if steps[at] > _PUPIL_STEP and 0 < at < _STEPS - 1 else 0.0


def _steps(grey: Floats, middles: Doubles, radii: Doubles, opening: Opening) -> Doubles:
    """How much lighter it is outside circles than inside, in levels, where both are seen.

    Returns:
        (radii, middles).
    """
    # Coordinates come first: with pairs last, sums of pairs took twice as long.
    ways = radii[:, None, None] * _ways(_AROUND).T[:, None, None]
    seen = opening.has(np.moveaxis(middles.T[:, None, :, None] + ways, 0, -1))
    at = np.flatnonzero(seen)
    circle, around = np.divmod(at, _AROUND)
    size, number = np.divmod(circle, len(middles))
    middle = middles.T.take(number, axis=1)
    way = ways.reshape(2, -1).take(size * _AROUND + around, axis=1)
    inside, outside = (
        between_pixels(grey, *(middle + far * way).astype(np.float32))
        for far in (1 - _BESIDE, 1 + _BESIDE)
    )
    steps = np.zeros(seen.shape)
    np.put(steps, at, np.clip(outside - inside, -_MOST, _MOST))
    return np.asarray(steps.sum(axis=-1) / np.maximum(seen.sum(axis=-1), _LEAST_PLACES))


def _ways(count: int) -> Doubles:
    # A circle begins at the top, which a lid covers as a rule.
    angles = np.linspace(0, 2 * np.pi, count, endpoint=False) - np.pi / 2
    return np.stack((np.cos(angles), np.sin(angles)), axis=1)


def _seen_parts(rim: Doubles, seen: Flags) -> list[Doubles]:
    """The seen parts of a ring, each as one line."""
    if seen.all():
        return [rim]
    start = int(np.flatnonzero(~seen)[0])
    rim, seen = np.roll(rim[:-1], -start, axis=0), np.roll(seen[:-1], -start)
    change = np.flatnonzero(np.diff(seen.astype(np.int8), prepend=0, append=0))
    pairs = zip(change[::2], change[1::2], strict=True)
    return [rim[first:last] for first, last in pairs if last - first >= _LEAST_ARC]
