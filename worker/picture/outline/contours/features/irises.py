"""Irises of faces, as circles.

Edges of a bright iris, its pupil and what it reflects lie within a few pixels, and what is linked
of them is a scribble. But an iris is a circle that is darker than the white beside it, so it is
searched for as one: the circle across whose sides grey steps most (the integro-differential
operator of Daugman, "High confidence visual recognition of persons by a test of statistical
independence", PAMI 1993), between the lids alone. It is used for the line and kept nowhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.sampled_picture import Bytes, PixelGrid
from worker.spec.reading import Face

#: Of an eye's box, which has the brow as well: where its middle is, down; in its widths how far
#: an iris' middle may be from there, across and down; and its radius. A face is some 150 mm
#: high, an iris 11.8 mm wide (common anatomy).
_MIDDLE, _ACROSS, _DOWN = 0.6, 0.16, 0.13
_LEAST_RADIUS, _MOST_RADIUS, _RADII = 0.075, 0.15, 11
#: Middles are tried so many times across and down, then again around the best.
_STEPS = 13
#: Half of each side that lids leave free, from the level of the eye; samples of it.
_SIDE_DEG, _SAMPLES = 42.0, 9
#: Grey is compared so far inside and outside of the circle, in radii.
_BESIDE = 0.18
#: Levels that either side steps at least, on the mean; it steps evenly, at this part of
#: so much, at so much of it.
_LEAST_STEP, _EVENLY, _MOSTLY = 25.0, 0.2, 0.66
#: Both eyes look the same way within so many widths of an eye, across and down; and how far a
#: circle's size counts beside its step.
_ALIKE_ACROSS, _ALIKE_DOWN, _LARGER = 0.22, 0.12, 0.35
#: An iris that is printed smaller than this is left to its edges.
LEAST_MM = 1.6

#: A circle is seen where it steps at least this part of what its sides do.
SEEN = 0.35
#: Where a lid may lie over an iris: from this part of its radius up and down, so far around.
_CAP, _CAP_DEG = 0.4, 25.0

#: Of the top and of the bottom.
Covered = tuple[bool, bool]
Doubles = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Iris:
    """One circle.

    Attributes:
        x, y, radius: In pixels of the grid.
        level: The way from eye to eye, in radians.
        step: How much lighter it is beside than inside, in levels.
        covered: Whether a lid lies over its top, and over its bottom.
    """

    x: float
    y: float
    radius: float
    level: float
    step: float
    covered: Covered


def irises(placed: PlacedReading, grey: Bytes, grid: PixelGrid) -> tuple[Iris, ...]:
    """Those that are seen clearly in a picture, two of a face.

    Args:
        placed: The reading, which knows where eyes are.
        grey: The picture on its grid.
        grid: The grid.
    """
    found: list[Iris] = []
    for face in placed.reading.faces:
        eyes = eyes_of(placed, face)
        if _whole(eyes, grey) and eyes[0].width * _MOST_RADIUS * grid.pitch_mm >= LEAST_MM:
            found += _pair(grey, eyes)
    return tuple(iris for iris in found if iris.radius * grid.pitch_mm >= LEAST_MM)


def inside(found: tuple[Iris, ...], x: Floats, y: Floats) -> npt.NDArray[np.bool_]:
    """Which places of the grid are in an iris or on its edge, and not where a lid covers it."""
    within = np.zeros(len(x), np.bool_)
    for iris in found:
        at = np.flatnonzero(np.hypot(x - iris.x, y - iris.y) < (1 + _BESIDE) * iris.radius)
        across, below = (x[at] - iris.x).astype(np.float64), (y[at] - iris.y).astype(np.float64)
        down = turned(across, below, -iris.level)[:, 1] / iris.radius
        top, bottom = iris.covered
        within[at] = ~((top & (down < -_CAP)) | (bottom & (down > _CAP)))
    return within


@dataclass(frozen=True, kw_only=True)
class Eye:
    """Where an iris may be: middle, width and level of an eye, in pixels of the grid."""

    x: float
    y: float
    width: float
    level: float


def eyes_of(placed: PlacedReading, face: Face) -> list[Eye]:
    """Both eyes."""
    ends = []
    for eye in face.eyes:
        across = np.array((0, 0.5, 1), np.float32) * eye.width + np.float32(eye.left)
        down = np.full(3, eye.top + _MIDDLE * eye.height, np.float32)
        ends.append(placed.from_shares(across, down))
    if len(ends) != 2:  # noqa: PLR2004 - what a face without both is like is not known.
        return []
    (one_x, one_y), (two_x, two_y) = ends
    level = math.atan2(two_y[1] - one_y[1], two_x[1] - one_x[1])
    return [
        Eye(x=x[1], y=y[1], width=math.hypot(x[2] - x[0], y[2] - y[0]), level=level)
        for x, y in ends
    ]


def _whole(eyes: list[Eye], grey: Bytes) -> bool:
    """Whether both are there and wholly in the picture."""
    (rows, columns), far = grey.shape, max((eye.width for eye in eyes), default=0.0) / 2
    inside = [far < eye.x < columns - far and far < eye.y < rows - far for eye in eyes]
    return bool(eyes) and all(inside)


def _pair(grey: Bytes, eyes: list[Eye]) -> list[Iris]:
    """The circles of both eyes if they step clearly, are as large, and look the same way."""
    width = float(np.mean([eye.width for eye in eyes]))
    radii = np.linspace(_LEAST_RADIUS, _MOST_RADIUS, _RADII) * width
    best = [[_best(grey, eye, float(radius)) for eye in eyes] for radius in radii]
    # A larger circle is likelier the iris, a smaller one its pupil.
    worth = [
        sum(score for score, _ in pair) * radius**_LARGER
        for pair, radius in zip(best, radii, strict=True)
    ]
    at = int(np.argmax(worth))
    if at == _RADII - 1:
        # What still grows is no circle of its own.
        return []
    offsets = [
        _level_offset(middle - (eye.x, eye.y), eye.level)
        for (_, middle), eye in zip(best[at], eyes, strict=True)
    ]
    apart = np.abs(offsets[0] - offsets[1]) / width
    if apart[0] > _ALIKE_ACROSS or apart[1] > _ALIKE_DOWN:
        return []
    pair = [
        _iris(grey, middle, float(radii[at]), eye.level)
        for (_, middle), eye in zip(best[at], eyes, strict=True)
    ]
    return [iris for iris in pair if iris is not None] if None not in pair else []


def _best(grey: Bytes, eye: Eye, radius: float) -> tuple[float, Doubles]:
    """The middle of the circle of one size whose fainter side steps most, and how much."""
    centre, spread = np.array((eye.x, eye.y)), np.array((_ACROSS, _DOWN)) * eye.width
    best = (-math.inf, centre)
    for _ in range(2):
        steps = np.linspace(-1, 1, _STEPS)
        down, across = np.meshgrid(steps * spread[1], steps * spread[0], indexing="ij")
        middles = centre + turned(across.ravel(), down.ravel(), eye.level)
        score = sides_at(grey, middles, radius, eye.level).mean(axis=2).min(axis=1)
        at = int(score.argmax())
        if score[at] > best[0]:
            best = (float(score[at]), middles[at])
        centre, spread = best[1], spread / (_STEPS - 1) * 1.5
    return best


def _iris(grey: Bytes, middle: Doubles, radius: float, level: float) -> Iris | None:
    """The circle, if both of its sides step clearly."""
    sides = sides_at(grey, middle[None], radius, level)[0]
    mean = sides.mean(axis=1, keepdims=True)
    if (mean < _LEAST_STEP).any() or ((sides > _EVENLY * mean).mean(axis=1) < _MOSTLY).any():
        return None
    x, y = middle.tolist()
    step = float(sides.mean())
    covered = _covered(grey, middle, radius, level, step)
    return Iris(x=x, y=y, radius=radius, level=level, step=step, covered=covered)


def _level_offset(place: Doubles, level: float) -> Doubles:
    return turned(place[0], place[1], -level)


def _covered(grey: Bytes, middle: Doubles, radius: float, level: float, step: float) -> Covered:
    """Whether a lid lies over the top, and over the bottom."""
    half = np.radians(np.linspace(-_CAP_DEG, _CAP_DEG, _SAMPLES))
    angles = np.stack((half - np.pi / 2, half + np.pi / 2))
    top, bottom = steps_at(grey, middle[None, None], radius, angles, level).mean(axis=1)
    return bool(top < SEEN * step), bool(bottom < SEEN * step)


def turned(across: Doubles, down: Doubles, level: float) -> Doubles:
    """Ways along and across what is level, in the grid: (..., 2)."""
    cosine, sine = math.cos(level), math.sin(level)
    return np.stack((cosine * across - sine * down, sine * across + cosine * down), axis=-1)


def sides_at(grey: Bytes, middles: Doubles, radius: float, level: float) -> Doubles:
    """Steps from inside to outside at either side: (middles, 2, samples) in levels."""
    half = np.radians(np.linspace(-_SIDE_DEG, _SIDE_DEG, _SAMPLES))
    angles = np.stack((half + np.pi, half))
    return steps_at(grey, middles[:, None, None], radius, angles, level)


def steps_at(
    grey: Bytes, middles: Doubles, radius: float, angles: Doubles, level: float
) -> Doubles:
    """How much lighter it is outside than inside, at some angles."""
    ways = turned(np.cos(angles), np.sin(angles), level)
    outside = _greys(grey, middles + ways * radius * (1 + _BESIDE))
    return outside - _greys(grey, middles + ways * radius * (1 - _BESIDE))


def _greys(grey: Bytes, places: Doubles) -> Doubles:
    rows, columns = grey.shape
    x = np.clip(np.rint(places[..., 0]).astype(np.int64), 0, columns - 1)
    y = np.clip(np.rint(places[..., 1]).astype(np.int64), 0, rows - 1)
    return grey[y, x].astype(np.float64)
