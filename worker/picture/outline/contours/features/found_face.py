"""Features of one face, and what of the picture is theirs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.bounds.bound import Bound
from worker.picture.outline.contours.features.eyes.brows import Brow
from worker.picture.outline.contours.features.eyes.eyes import Eye
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.contours.features.hulls import hull
from worker.picture.outline.contours.features.landmarks import (
    BRIDGE,
    CHIN,
    JAW,
    LEFT,
    LOWER_BROWS,
    NOSE,
    RIGHT,
    TEMPLES,
    TIP,
    TOP,
    UPPER_BROWS,
)
from worker.picture.outline.contours.features.mouths import Mouth
from worker.picture.outline.contours.features.noses.nostrils import Nostril
from worker.picture.outline.points.gaussian import Floats
from worker.reading.landmark_numbers import OVAL

#: What lies so near a feature, in sides, is its own: a brow or a mouth, an eye, the line of a nose,
#: a jaw.
_NEAR, _NEAR_EYE, _NEAR_NOSE, _NEAR_JAW = 0.018, 0.026, 0.014, 0.025
#: A socket reaches so far below its eye, and around all, but not to within so much of the nose.
_BAGS, _SOCKET, _BRIDGE = 0.08, 0.02, 0.05
#: A brow is within so much of its landmarks, in sides.
_BROW = 0.1
#: A neck is looked at so far below the jaw, in sides.
_NECK = 0.25
#: Hair is so high above the brows, and so far to either side of their middle.
_HAIR_HIGH, _HAIR_WIDE = 1.0, 0.7
#: A head is looked at so far below the brows.
_HEAD_LOW = 0.85
#: Ears are so near to the sides of a face, in sides.
_EAR = 0.25
#: So many landmarks of a nose are of either wing.
_WING_MARKS = 4
#: Round is what is near every so manieth place.
_ROUND = 3
#: A jaw, drawn towards its middle so far, bounds what is beside features.
_INNER = 0.9

Flags = npt.NDArray[np.bool_]
Mask = npt.NDArray[np.uint8]


@dataclass(frozen=True, kw_only=True, eq=False)
class FoundFace:
    """Those of one face, in pixels of its part.

    Attributes:
        part: Of the picture.
        eyes: Both, or none.
        brows: Those that are seen.
        mouth: If it is seen.
        nose: What is seen of its line, or none.
        nostrils: Those that are seen, with that line.
        jaw: From ear to ear, in pixels of the grid.
        hairline: From temple to temple, the same.
        crown: Where hair ends, from ear to ear, the same.
    """

    part: FacePart
    eyes: tuple[Eye, ...]
    brows: tuple[Brow, ...]
    mouth: Mouth | None
    nose: Doubles | None
    nostrils: tuple[Nostril, ...]
    jaw: Bound
    hairline: Bound
    crown: Bound

    @cached_property
    def own(self) -> Mask:
        """Where no line is but features' own; 255 there, of the part's pixels."""
        eyes = [_ring(one.upper, one.lower) for one in self.eyes]
        rings = [_ring(one.upper, one.lower) for one in self.brows]
        if self.mouth is not None:
            rings.append(_ring(*self.mouth.outer))
        lines = [] if self.nose is None else [self.nose]
        own = self._painted(eyes, _NEAR_EYE), self._painted(rings, _NEAR)
        nose = self._painted(lines, _NEAR_NOSE, filled=False)
        return np.asarray(np.maximum.reduce((*own, nose)), np.uint8)

    @cached_property
    def sockets(self) -> Mask:
        """Between brows and lids, where eyes are known."""
        rings = []
        for number, eye in enumerate(self.eyes):
            above, lower = self._middle_of_brow(number), eye.lower
            down = lower.mean(axis=0) - above.mean(axis=0)
            bags = lower + _BAGS * self.part.side * down / np.hypot(*down)
            rings.append(hull(np.concatenate((above, lower, bags))))
        bridge = self._painted([self.part.along(BRIDGE)], _BRIDGE, filled=False)
        return np.asarray(np.minimum(self._painted(rings, _SOCKET), 255 - bridge), np.uint8)

    @cached_property
    def ball(self) -> Mask:
        """Where a nose is round, below its shaft: it has gloss there, and no form but its line."""
        if self.nose is None:
            return self._painted([], 0)
        around = self.part.along((*NOSE[1:-1], TIP))
        return self._painted([hull(np.concatenate((self.nose, around)))], _NEAR_NOSE)

    @cached_property
    def shaft(self) -> Mask:
        """A nose from between the brows down, with the sides of its shaft."""
        if self.nose is None:
            return self._painted([], 0)
        around = self.part.along((LOWER_BROWS[0][-1], LOWER_BROWS[1][0], *NOSE[1:-1]))
        return self._painted([hull(around)], 0)

    @cached_property
    def over_lip(self) -> Mask:
        """Between a nose and a mouth."""
        if self.nose is None or self.mouth is None:
            return self._painted([], 0)
        base = self.part.along(NOSE[_WING_MARKS:-_WING_MARKS])
        return self._painted([hull(np.concatenate((base, self.mouth.outer[0])))], 0)

    @cached_property
    def ears(self) -> Mask:
        """Beside the face, as high as ears are."""
        beside = [self.part.along((one, one)) for one in (LEFT, RIGHT)]
        return np.asarray(np.minimum(self._painted(beside, _EAR), 255 - self.oval), np.uint8)

    @cached_property
    def oval(self) -> Mask:
        """Within the border of the face, up to the forehead's upper end."""
        return self._painted([self.part.along(OVAL)], 0)

    @cached_property
    def bound(self) -> Mask:
        """Along the jaw."""
        return self._painted([self.part.on_part(self.jaw.line)], _NEAR_JAW, filled=False)

    @cached_property
    def neck(self) -> Mask:
        """Around the jaw and below the face."""
        top, chin = self.part.along((TOP, CHIN))
        down = _NECK * self.part.side * (chin - top) / np.hypot(*(chin - top))
        around = self.part.on_part(self.jaw.line)
        rings = [_ring(around, around + down)]
        return self._painted(rings, _NEAR_JAW)

    @cached_property
    def inside(self) -> Mask:
        """In a face whose mouth and brows or eyes are drawn, and not of its nose or its outline."""
        above = [one.upper for one in self.brows or self.eyes]
        if self.mouth is None or not above:
            return self._painted([], 0)
        around = hull(np.concatenate((self.part.along((*JAW, *TEMPLES)), *above)))
        around = around.mean(axis=0) + _INNER * (around - around.mean(axis=0))
        nose = self._painted([self.part.along(NOSE)], _NEAR)
        return np.asarray(np.minimum(self._painted([around], 0), 255 - nose), np.uint8)

    def hair(self, x: Floats, y: Floats) -> Flags:
        """Which places of the grid are around a face, but of no ear."""
        up, aside = self._upright(x, y)
        found = (up > -_HEAD_LOW) & (up < _HAIR_HIGH) & (np.abs(aside) < _HAIR_WIDE)
        for mask in (self.ears, self.oval):
            found &= ~self.has(mask, x, y)
        return np.asarray(found)

    def above_brows(self, x: Floats, y: Floats) -> Flags:
        """Which places of the grid are of the forehead or of the hair above it and beside."""
        up, aside = self._upright(x, y)
        return np.asarray((up > 0) & (up < _HAIR_HIGH) & (np.abs(aside) < _HAIR_WIDE))

    def _upright(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """How far places of the grid are above the brows and beside their middle, in sides."""
        brows = self.part.along((*LOWER_BROWS[0], *LOWER_BROWS[1])).mean(axis=0)
        (up_x, up_y), side = np.diff(self.part.along((CHIN, TOP)), axis=0)[0], self.part.side
        long, scale = float(np.hypot(up_x, up_y)), 1 / (side * self.part.coarser)
        middle_x, middle_y = self.part.on_grid(brows)
        across, down = (x - middle_x) * scale, (y - middle_y) * scale
        return (across * up_x + down * up_y) / long, (across * up_y - down * up_x) / long

    def has(self, mask: Mask, x: Floats, y: Floats) -> Flags:
        """Which places of the grid are in a mask."""
        found, rows = np.zeros(len(x), np.bool_), len(mask)
        # A face is small, and most places are far away.
        left, top = self.part.start
        near = np.flatnonzero((y > top - 1) & (y < top + rows * self.part.coarser))
        some = x.take(near)
        near = near[(some > left - 1) & (some < left + mask.shape[1] * self.part.coarser)]
        at = self.part.on_part(np.stack((x.take(near), y.take(near)), axis=1))
        column, row = np.rint(at).astype(np.int64).T
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < mask.shape[1])
        found[near[inside]] = mask[row[inside], column[inside]] > 0
        return found

    def _middle_of_brow(self, eye: int) -> Doubles:
        """Of that above an eye, as it was found or roughly by landmarks."""
        upper, lower = (self.part.along(one[eye]) for one in (UPPER_BROWS, LOWER_BROWS))
        marks = np.asarray((upper + lower) / 2)
        off = [float(np.hypot(*(one.middle - marks.mean(axis=0)).T).min()) for one in self.brows]
        near = bool(off) and min(off) < _BROW * self.part.side
        return self.brows[int(np.argmin(off))].middle if near else marks

    def _painted(self, lines: list[Doubles], near: float, *, filled: bool = True) -> Mask:
        """What is near lines, in sides, and inside of them."""
        image = Image.new("L", self.part.grey.shape[::-1])
        pen, half = ImageDraw.Draw(image), near * self.part.side
        for line in lines:
            places = [(x, y) for x, y in line.tolist()]
            if filled:
                pen.polygon(places, fill=255)
                places.append(places[0])
            pen.line(places, fill=255, width=round(2 * half) + 1)
            for x, y in places[::_ROUND] if half else ():
                pen.ellipse((x - half, y - half, x + half, y + half), fill=255)
        return np.asarray(image)


def _ring(one: Doubles, two: Doubles) -> Doubles:
    """What lies between two lines."""
    return np.concatenate((one, two[::-1]))
