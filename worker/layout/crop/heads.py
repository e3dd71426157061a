"""Where the default crop lies so that it cuts no head.

The largest crop of given proportions fills the reference across or down, so it can move along
one axis only. On that axis a head is whole between two places, or nowhere. One of their ends,
or the centre, is the best place: the one that keeps most of heads whole, large ones counting
for more, then leaves most of them air, then is nearest to the centre.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from worker.layout.crop.limits import ROUNDING_PX, CropLimits, clamp
from worker.spec.reading import Face
from worker.spec.spec import Area

#: Room above the hair, and on the three other sides, in shares of the head's own height and
#: width: a head that touches the edge looks cut (common practice).
AIR_ABOVE, AIR_ASIDE = 0.12, 0.04
#: A crop that is turned less than this lies straight.
_STRAIGHT = 1e-12

_Point = tuple[float, float]


@dataclass(frozen=True)
class _Stretch:
    """Places of the crop's centre along its axis, in pixels; empty where they cross."""

    low: float
    high: float

    def holds(self, place: float) -> bool:
        return self.low - ROUNDING_PX <= place <= self.high + ROUNDING_PX

    def and_also(self, other: _Stretch) -> _Stretch:
        return _Stretch(max(self.low, other.low), min(self.high, other.high))

    @property
    def empty(self) -> bool:
        return self.low > self.high + ROUNDING_PX


_NOWHERE, _ANYWHERE = _Stretch(math.inf, -math.inf), _Stretch(-math.inf, math.inf)


@dataclass(frozen=True, kw_only=True)
class _Wanted:
    """Where one head is whole, where with air around it, and how much it counts: its area."""

    whole: _Stretch
    airy: _Stretch
    weight: float


@dataclass(frozen=True)
class _Axis:
    """The line along which the largest crop can move, from its middle."""

    limits: CropLimits
    size: _Point

    def at(self, place: float) -> _Point:
        """The crop's centre at a place along the axis."""
        middle = (self.limits.width_px / 2, self.limits.height_px / 2)
        return (place, middle[1]) if self.across else (middle[0], place)

    @property
    def slack(self) -> _Point:
        """How far the crop can move across and down, in pixels."""
        box = self.limits.extent(*self.size)
        return self.limits.width_px - box[0], self.limits.height_px - box[1]

    @property
    def across(self) -> bool:
        """Whether it moves across, not down."""
        return self.slack[0] >= self.slack[1]

    @property
    def middle(self) -> float:
        return (self.limits.width_px if self.across else self.limits.height_px) / 2

    @property
    def reach(self) -> _Stretch:
        """Where the centre may lie."""
        half = max(*self.slack, 0.0) / 2
        return _Stretch(self.middle - half, self.middle + half)

    def along(self, share: _Point) -> float:
        """A point of the reference (shares) along the axis, in pixels."""
        across = self.across
        return share[0] * self.limits.width_px if across else share[1] * self.limits.height_px

    def where_whole(self, area: Area) -> _Stretch:
        """Where the crop holds all of an upright rectangle, given in shares."""
        offset = self.limits.offset(self.at(0.0), area)
        step = self.limits.turned(1.0, 0.0) if self.across else self.limits.turned(0.0, 1.0)
        found = self.reach
        for start, slope, most in zip(offset, step, self.limits.room(self.size, area), strict=True):
            found = found.and_also(_within(start, slope, most))
        return found


def centre_for_heads(limits: CropLimits, size: _Point, faces: Sequence[Face]) -> _Point:
    """Centre of the largest crop, in pixels of the reference, that keeps heads whole.

    A face whose head has no room in the crop draws the crop to its own middle.
    """
    axis = _Axis(limits, size)
    wanted = [_wanted(axis, face) for face in faces]

    def rank(place: float) -> tuple[float, float, float]:
        whole = sum(one.weight for one in wanted if one.whole.holds(place))
        airy = sum(one.weight for one in wanted if one.airy.holds(place))
        return whole, airy, -abs(place - axis.middle)

    stretches = [each for one in wanted for each in (one.whole, one.airy) if not each.empty]
    places = [axis.middle, *(end for each in stretches for end in (each.low, each.high))]
    return axis.at(max(places, key=rank))


def _wanted(axis: _Axis, face: Face) -> _Wanted:
    whole, airy = axis.where_whole(face.head), axis.where_whole(_with_air(face.head))
    if whole.empty:
        middle = (face.box.left + face.box.width / 2, face.box.top + face.box.height / 2)
        place = clamp(axis.along(middle), axis.reach.low, axis.reach.high)
        whole = airy = _Stretch(place, place)
    return _Wanted(whole=whole, airy=airy, weight=face.head.width * face.head.height)


def _with_air(head: Area) -> Area:
    """A head with room around it, as far as the reference goes."""
    left = max(head.left - AIR_ASIDE * head.width, 0.0)
    top = max(head.top - AIR_ABOVE * head.height, 0.0)
    right = min(head.left + (1 + AIR_ASIDE) * head.width, 1.0)
    bottom = min(head.top + (1 + AIR_ASIDE) * head.height, 1.0)
    return Area(left=left, top=top, width=right - left, height=bottom - top)


def _within(start: float, slope: float, most: float) -> _Stretch:
    """Places at which `start`, less `slope` for each pixel, is `most` or less either way."""
    if abs(slope) < _STRAIGHT:
        return _ANYWHERE if abs(start) <= most + ROUNDING_PX else _NOWHERE
    ends = sorted(((start - most) / slope, (start + most) / slope))
    return _Stretch(*ends) if most >= -ROUNDING_PX else _NOWHERE
