"""The reading laid under the picture: from pixels of its grid to the maps, and back.

The maps lie over the whole upright reference, finer ones over small heads in it. Crop, turn,
mirror and size of the picture make one affine map of it, so that every point is looked up where
it is, and seams play no part.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.sampled_picture import PixelGrid
from worker.reading.planes import between_pixels, looking
from worker.spec.plan import Plan
from worker.spec.reading import NOTHING_READ, Bytes, Maps, Reading

_Matrix = npt.NDArray[np.float64]
_Ints = npt.NDArray[np.int64]
#: Maps of a part count for less and less over so much of its sides, towards its border.
_BORDER = 0.1
#: In shares of the reference: no further from its edge is at it.
_AT_EDGE = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class PlacedMaps:
    """The maps of one part and where they lie.

    Attributes:
        maps: Of the part.
        to_map: (2, 3): from (x, y, 1) in pixels of the picture's grid to (x, y) in pixels of
            the maps; both count from the first pixel's middle.
    """

    maps: Maps
    to_map: _Matrix

    @property
    def map_px(self) -> float:
        """Size of a pixel of the maps, in pixels of the grid."""
        return float(1 / math.sqrt(abs(np.linalg.det(self.to_map[:, :2]))))

    def at(self, x: Floats, y: Floats) -> Callable[[str], Floats]:
        """Values of a map of a name, 0 to 1, at places of the grid, between pixels (bilinear)."""
        rows, columns = self.maps.contour.shape
        values_at = looking((rows, columns), *_mapped(self.to_map, x, y))

        def values_of(name: str) -> Floats:
            values: Bytes = getattr(self.maps, name)
            return values_at(values) / np.float32(255)

        return values_of

    def from_grid(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Places in pixels of the maps, from places of the grid."""
        return _mapped(self.to_map, x, y)

    def to_grid(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Places of the grid, from places in pixels of the maps."""
        return _mapped(self._to_grid, x, y)

    @cached_property
    def _to_grid(self) -> _Matrix:
        back = np.linalg.inv(self.to_map[:, :2])
        return np.column_stack((back, -back @ self.to_map[:, 2]))

    @cached_property
    def _bounds(self) -> tuple[np.float32, ...]:
        """Left, right, top and bottom of an upright box around the part, on the grid."""
        rows, columns = self.maps.contour.shape
        right, below = columns - 0.5, rows - 0.5
        ends_x, ends_y = self.to_grid(
            np.array((-0.5, right, -0.5, right), np.float32),
            np.array((-0.5, -0.5, below, below), np.float32),
        )
        return ends_x.min(), ends_x.max(), ends_y.min(), ends_y.max()

    def within(self, x: Floats, y: Floats) -> tuple[_Ints, Floats]:
        """Which places of the grid lie near the part, and how much its maps count at each."""
        left, right, top, bottom = self._bounds
        # The part is small, and most places are far away.
        at = np.flatnonzero((x >= left) & (x <= right))
        some = y.take(at)
        at = at[(some >= top) & (some <= bottom)]
        return at, self._weight(x.take(at), y.take(at))

    def _weight(self, x: Floats, y: Floats) -> Floats:
        """0 outside the part, 1 well inside."""
        area, (rows, columns) = self.maps.area, self.maps.contour.shape
        at_x, at_y = _mapped(self.to_map, x, y)
        across, down = (at_x + np.float32(0.5)) / columns, (at_y + np.float32(0.5)) / rows
        # Nothing lies beyond the reference's own edge that a map would have to agree with.
        sides = (
            (across, area.left > _AT_EDGE),
            (1 - across, area.left + area.width < 1 - _AT_EDGE),
            (down, area.top > _AT_EDGE),
            (1 - down, area.top + area.height < 1 - _AT_EDGE),
        )
        far = [
            np.where((share < 0) | inner, share / np.float32(_BORDER), 1) for share, inner in sides
        ]
        return np.asarray(np.clip(np.minimum.reduce(far), 0, 1), np.float32)


@dataclass(frozen=True, kw_only=True, eq=False)
class PlacedReading:
    """A reading and where it lies.

    Attributes:
        reading: Of the whole upright reference.
        to_map: From the picture's grid to pixels of the maps of the whole, as `PlacedMaps.to_map`.
        to_share: The same to shares of the reference.
    """

    reading: Reading
    to_map: _Matrix
    to_share: _Matrix

    @cached_property
    def layers(self) -> tuple[PlacedMaps, ...]:
        """The maps of the whole, and after them those of its parts, from coarse to fine."""
        parts = [self._part(maps) for maps in self.reading.insets]
        parts.sort(key=lambda part: -part.map_px)
        return PlacedMaps(maps=self.reading, to_map=self.to_map), *parts

    def sampled(self, name: str, x: Floats, y: Floats) -> Floats:
        """Values of one map, as `at` has those of all."""
        return self.at(x, y)(name)

    def at(self, x: Floats, y: Floats) -> Callable[[str], Floats]:
        """What is read at places of the grid, by the finest maps that are there.

        Returns:
            Values, 0 to 1, of the map of a name in `worker.spec.reading.MAPS`.
        """
        whole, *parts = self.layers
        of_whole, finer = whole.at(x, y), []
        for part in parts:
            near, weight = part.within(x, y)
            finer.append((near, weight, part.at(x.take(near), y.take(near))))

        def values_of(name: str) -> Floats:
            values = of_whole(name)
            for near, weight, of_part in finer:
                there = values.take(near)
                values[near] = there + weight * (of_part(name) - there)
            return values

        return values_of

    def layer(self, x: Floats, y: Floats) -> _Ints:
        """The number in `layers` of the finest maps that alone count at each place."""
        found = np.zeros(len(x), np.int64)
        for number, part in enumerate(self.layers[1:], start=1):
            at, weight = part.within(x, y)
            found[at[weight == 1]] = number
        return found

    def map_px(self, x: Floats, y: Floats) -> _Matrix:
        """Size of a pixel of the maps at each place, in pixels of the grid."""
        return np.array([layer.map_px for layer in self.layers])[self.layer(x, y)]

    def shares(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Places of the grid in shares of the reference, across and down."""
        return _mapped(self.to_share, x, y)

    def from_shares(self, across: Floats, down: Floats) -> tuple[Floats, Floats]:
        """Places of the grid from those in shares of the reference."""
        back = np.linalg.inv(self.to_share[:, :2])
        return _mapped(np.column_stack((back, -back @ self.to_share[:, 2])), across, down)

    def subject(self, x: Floats, y: Floats) -> Floats:
        """How likely places of the grid are of what the picture is of, 0 to 1."""
        values = self.reading.subject
        (rows, columns), (across, down) = values.shape, self.shares(x, y)
        half = np.float32(0.5)
        found = between_pixels(values, across * columns - half, down * rows - half)
        return found / np.float32(255)

    def face_px(self, x: Floats, y: Floats) -> Floats:
        """The width of the face that a place is in, in pixels of the grid, or 0."""
        at_x, at_y = self.shares(x, y)
        share_px = float(np.hypot(*self.to_share[0, :2]))
        widest = np.zeros(len(x), np.float32)
        for face in self.reading.faces:
            box = face.box
            inside = (at_x >= box.left) & (at_x <= box.left + box.width)
            inside &= (at_y >= box.top) & (at_y <= box.top + box.height)
            # A face is small, and most places are far away.
            at = np.flatnonzero(inside)
            widest[at] = np.maximum(widest.take(at), np.float32(box.width / share_px))
        return widest

    def _part(self, maps: Maps) -> PlacedMaps:
        area, (rows, columns) = maps.area, maps.contour.shape
        to_map = self.to_share.copy()
        to_map[:, 2] -= area.left, area.top
        to_map *= ((columns / area.width,), (rows / area.height,))
        to_map[:, 2] -= 0.5
        return PlacedMaps(maps=maps, to_map=to_map)


def placed_reading(reading: Reading, plan: Plan, grid: PixelGrid, *, mirror: bool) -> PlacedReading:
    """Lay a reading under a picture.

    Args:
        reading: Of the whole upright reference.
        plan: For the picture's size, crop and turn.
        grid: That points of lines are on.
        mirror: Whether the picture is printed mirrored.
    """
    rows, columns = reading.contour.shape
    crop, picture, turn = plan.crop, plan.picture, math.radians(plan.rotate_deg)
    # Shares of the picture from its middle, as it lies on the unmirrored print.
    across = np.array([grid.across_mm / picture.width_mm, 0.0]) * (-1 if mirror else 1)
    down = np.array([0.0, grid.down_mm / picture.height_mm])
    start = np.array([grid.across_mm / 2 / picture.width_mm - 0.5, down[1] / 2 - 0.5])
    start[0] *= -1 if mirror else 1
    shares = np.column_stack((across, down, start))
    # In pixels of the maps, which are square; content turns clockwise, its axes the other way.
    upright = shares * ((crop.width * columns,), (crop.height * rows,))
    cosine, sine = math.cos(turn), math.sin(turn)
    turned = np.array(((cosine, sine), (-sine, cosine))) @ upright
    middle = (crop.left + crop.width / 2, crop.top + crop.height / 2)
    to_share = turned / ((columns,), (rows,))
    to_share[:, 2] += middle
    to_map = to_share * ((columns,), (rows,))
    to_map[:, 2] -= 0.5
    return PlacedReading(reading=reading, to_map=to_map, to_share=to_share)


def unread() -> PlacedReading:
    """A picture in which nothing was read."""
    matrix = np.array(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)))
    return PlacedReading(reading=NOTHING_READ, to_map=matrix, to_share=matrix)


def _mapped(matrix: _Matrix, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    one, two = ((row[0] * x + row[1] * y + row[2]).astype(np.float32) for row in matrix)
    return one, two
