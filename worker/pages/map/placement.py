"""The place and the scale of the picture on the map page."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from worker.pages.pack_content import PackContent, without_lap
from worker.pdf.canvas import Point
from worker.spec.plan import Rect
from worker.units import pt_to_mm

#: Pieces drawn at least this wide and high, in mm, take firm seams.
_ROOMY_MM = 14.0
#: Labels of a mural's smallest piece never get smaller than what a good eye reads (common
#: practice).
_SMALLEST_LABEL_PT = 3.2
_LARGEST_LABEL_PT = 20.0
#: How much of a piece its label may take.
_SHARE_OF_PIECE = 0.62
#: Below this type size a piece shows its label alone.
_ALONE_PT = 10.5
#: A little above the middle looks like the middle.
_OPTICAL_CENTRE = 0.44


@dataclass(frozen=True, kw_only=True)
class MapPlacement:
    """Support and picture on the map page.

    Attributes:
        pack: What the page is drawn from.
        support, picture: Their rectangles on the page, in mm.
        scale: Millimetres on the page for one of the picture.
        bare: Whether labels stand alone, as on a cover, where no legend explains more.
    """

    pack: PackContent
    support: Rect
    picture: Rect
    scale: float
    bare: bool = False

    @property
    def border_mm(self) -> float:
        """The border as drawn."""
        return self.pack.spec.support.border_mm * self.scale

    @property
    def roomy(self) -> bool:
        """Whether pieces are drawn large enough for firm seams."""
        sides = [
            min(piece.picture_rect_mm.width, piece.picture_rect_mm.height)
            for piece in self.pack.plan.pieces
        ]
        return min(sides) * self.scale >= _ROOMY_MM

    @cached_property
    def label_pt(self) -> float:
        """Type size at which the longest label fits the smallest piece."""
        pieces = self.pack.plan.pieces
        seen = [self.area(without_lap(piece)) for piece in pieces]
        # The dot between the figures takes what a figure leaves of its share.
        figures = max(len(piece.label) for piece in pieces) - 1
        room_mm = min(min(area.width / (0.75 * figures), area.height * 0.5) for area in seen)
        wanted = room_mm / pt_to_mm(1.0) * _SHARE_OF_PIECE
        return max(_SMALLEST_LABEL_PT, min(_LARGEST_LABEL_PT, wanted))

    @property
    def tells_all(self) -> bool:
        """Whether trim stack and pass are printed under each label; a single sheet has neither."""
        room = self.label_pt >= _ALONE_PT and len(self.pack.plan.pieces) > 1
        return room and not self.bare

    def at(self, point_mm: Point) -> Point:
        """A place of the picture on the page."""
        return (
            self.picture.left + point_mm[0] * self.scale,
            self.picture.top + point_mm[1] * self.scale,
        )

    def area(self, area: Rect) -> Rect:
        """A rectangle of the picture on the page."""
        left, top = self.at((area.left, area.top))
        return Rect(left, top, area.width * self.scale, area.height * self.scale)


def place_map(pack: PackContent, room: Rect) -> MapPlacement:
    """The largest placement that leaves space for dimension lines."""
    air = 9.0 * pack.scale
    border = pack.spec.support.border_mm
    width = pack.plan.picture.width_mm + 2 * border
    height = pack.plan.picture.height_mm + 2 * border
    free = Rect(room.left + air, room.top + air, room.width - 2 * air, room.height - 2 * air)
    # A picture smaller than the page would otherwise be drawn larger than it is.
    scale = min(free.width / width, free.height / height, 1.0)
    left = free.left + (free.width - width * scale) / 2
    top = free.top + (free.height - height * scale) * _OPTICAL_CENTRE
    inset = border * scale
    support = Rect(left, top, width * scale, height * scale)
    picture = Rect(left + inset, top + inset, support.width - 2 * inset, support.height - 2 * inset)
    return MapPlacement(pack=pack, support=support, picture=picture, scale=scale)
