"""Nostrils, each as one small form with two pointed ends.

A nose that is seen from in front has no contour but its wings, its base and its nostrils, and reads
by these (common practice). A nostril is a spot beside its landmarks that is much darker than the
skin all around it; where it lies, how long and how thick it is follow from the moments of what is
dark; beyond the nose's line is shade. One that turns away, or lies in a shade that goes on, is not
drawn. It is used for lines and kept nowhere.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.contours.features.hulls import hull
from worker.picture.outline.contours.features.landmarks import NOSE, NOSTRILS, TIP
from worker.picture.outline.points.gaussian import Floats
from worker.reading.planes import between_pixels

#: It is looked for so near the hull of its landmarks; and skin so near, in sides.
_NEAR, _SKIN_NEAR = 0.012, 0.036
#: It ends so near the nose's line, in sides; of which what is further from landmarks is not seen.
_BEYOND, _UNSEEN = 0.006, 0.04
#: Skin is lighter than so many percent of what is around; a spot is as deep as so many percent.
_SKIN, _DEEP = 75, 97
#: It is dark from this part of its depth on, and wholly so at the second.
_DARK, _WHOLLY = 0.5, 0.75
#: Levels that a spot is darker than skin, at least, and the deeper one.
_LEAST_DEEP, _DEEPEST = 38.0, 48.0
#: So is its inside, by so many, than what is at this many times its size in this percentile.
_LEAST_AROUND, _INSIDE, _AROUND, _DARKEST = 14.0, 0.4, 2.0, 40
#: How long one is and how thick, in sides; none is rounder than this.
_LONG, _THICK, _ROUNDEST = (0.04, 0.13), (0.012, 0.05), 0.75
#: Places along each edge, and around a spot.
_DRAWN = 24


@dataclass(frozen=True, kw_only=True, eq=False)
class Nostril:
    """One of them, in pixels of the face's part.

    Attributes:
        middle: Across and down.
        axes: From the middle to an end, and to an edge: (2, 2).
        deep: How many levels it is darker than skin.
    """

    middle: Doubles
    axes: Doubles
    deep: float

    @property
    def outline(self) -> Doubles:
        """Closed, with two pointed ends: (places, 2)."""
        along = np.linspace(-1, 1, _DRAWN)
        edge = 1 - along**2
        upper, lower = (np.stack((along, sign * edge), axis=1) for sign in (-1, 1))
        return np.asarray(self.middle + np.concatenate((upper, lower[-2::-1])) @ self.axes)

    @property
    def along(self) -> Doubles:
        """From end to end through its middle: (places, 2)."""
        return np.asarray(self.middle + np.linspace(-1, 1, _DRAWN)[:, None] * self.axes[0])

    def has(self, places: Doubles) -> npt.NDArray[np.bool_]:
        """Which places lie in it."""
        along, aside = np.linalg.solve(self.axes.T, (places - self.middle).T)
        return np.asarray(np.abs(aside) < 1 - along**2)


def nostrils(part: FacePart, line: Doubles) -> tuple[Nostril, ...]:
    """Those of a face that are seen; if one is deep, the other may be less so.

    Args:
        part: Of the face.
        line: What is seen of the nose's line.
    """
    within = _nose(part, line)
    found = [_nostril(part, part.along(marks), within) for marks in NOSTRILS]
    seen = tuple(one for one in found if one is not None)
    return seen if max((one.deep for one in seen), default=0.0) > _DEEPEST else ()


def _nose(part: FacePart, line: Doubles) -> Doubles:
    """What is above a nose's line, as a ring: where it is not seen, landmarks say."""
    marks = part.along((*NOSE, TIP))
    off = marks[:, None] - line
    unseen = np.hypot(off[..., 0], off[..., 1]).min(axis=1) > _UNSEEN * part.side
    return hull(np.concatenate((line, marks[unseen])))


def _nostril(part: FacePart, marks: Doubles, within: Doubles) -> Nostril | None:
    """That within landmarks and a nose, if a spot is seen there."""
    ring = hull(marks)
    start = np.maximum(np.floor(ring.min(axis=0) - _SKIN_NEAR * part.side), 0)
    end = np.ceil(ring.max(axis=0) + _SKIN_NEAR * part.side)
    size = np.maximum(end - start, 0).astype(int)
    light = part.grey[int(start[1]) :, int(start[0]) :][: size[1], : size[0]] / part.tone
    if not light.size:
        return None
    inside, around = (
        _painted(ring - start, near * part.side, light) for near in (_NEAR, _SKIN_NEAR)
    )
    if not inside.any():
        return None
    darker = np.percentile(light[around], _SKIN) - light
    deep = float(np.percentile(darker[inside], _DEEP))
    if deep < _LEAST_DEEP:
        return None
    weight = np.clip((darker / deep - _DARK) / (_WHOLLY - _DARK), 0, 1) * inside
    middle, axes = _moments(weight.astype(np.float64))
    found = Nostril(middle=middle + start, axes=axes, deep=deep)
    return _ended(found, within, _BEYOND * part.side) if _fits(part, found) else None


def _ended(found: Nostril, within: Doubles, beyond: float) -> Nostril | None:
    """The same, smaller, between ends that lie within a convex ring or so near."""
    ways = np.roll(within, -1, axis=0) - within
    x, y = (ways / np.hypot(*ways.T)[:, None]).T
    along = np.linspace(-1, 1, 2 * _DRAWN + 1)
    off = found.middle + along[:, None, None] * found.axes[0] - within
    inside = np.flatnonzero((off[..., 1] * x - off[..., 0] * y > -beyond).all(axis=1))
    if len(inside) < _DRAWN:
        return None
    first, last = along[inside[[0, -1]]]
    middle = found.middle + (first + last) / 2 * found.axes[0]
    return replace(found, middle=middle, axes=(last - first) / 2 * found.axes)


def _painted(ring: Doubles, near: float, light: Floats) -> npt.NDArray[np.bool_]:
    """What of a picture is in a ring or so near."""
    rows, columns = light.shape
    image = Image.new("1", (columns, rows))
    pen, places = ImageDraw.Draw(image), [(x, y) for x, y in ring.tolist()]
    pen.polygon(places, fill=1)
    pen.line([*places, places[0]], fill=1, width=round(2 * near) + 1)
    return np.asarray(image)


def _moments(weight: Doubles) -> tuple[Doubles, Doubles]:
    """The middle of what weighs, and its half axes, the longer first: those of an ellipse."""
    rows, columns = np.nonzero(weight)
    places, weights = np.stack((columns, rows), axis=1), weight[rows, columns]
    middle = (weights[:, None] * places).sum(axis=0) / weights.sum()
    off = places - middle
    (xx, yy, xy) = (
        float((weights * one).sum() / weights.sum())
        for one in (off[:, 0] ** 2, off[:, 1] ** 2, off[:, 0] * off[:, 1])
    )
    mean, half = (xx + yy) / 2, float(np.hypot((xx - yy) / 2, xy))
    angle = np.arctan2(2 * xy, xx - yy) / 2
    way = np.array([np.cos(angle), np.sin(angle)])
    long, thick = 2 * np.sqrt(mean + half), 2 * np.sqrt(max(mean - half, 0.0))
    return middle, np.stack((long * way, thick * np.array([-way[1], way[0]])))


def _fits(part: FacePart, found: Nostril) -> bool:
    """Whether it is as large as nostrils are, and lighter around."""
    long, thick = np.hypot(*found.axes.T)
    sides = 2 * np.array([long, thick]) / part.side
    if not (_LONG[0] < sides[0] < _LONG[1] and _THICK[0] < sides[1] < _THICK[1]):
        return False
    angles = np.linspace(0, 2 * np.pi, _DRAWN, endpoint=False)
    ways = np.stack((np.cos(angles), np.sin(angles)), axis=1) @ found.axes
    inside, around = (
        between_pixels(part.grey, *(found.middle + far * ways).T.astype(np.float32)) / part.tone
        for far in (_INSIDE, _AROUND)
    )
    lighter = float(np.percentile(around, _DARKEST) - inside.mean())
    return bool(thick < _ROUNDEST * long and lighter > _LEAST_AROUND)
