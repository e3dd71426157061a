"""Protected areas in millimetres, as printed."""

from __future__ import annotations

from collections.abc import Iterable

from worker.spec.plan import Rect, Size
from worker.spec.spec import Area


def protected_rects(areas: Iterable[Area], picture: Size, *, mirror: bool) -> tuple[Rect, ...]:
    """Areas of the unmirrored picture, in shares, as rectangles of the print."""
    return tuple(_rect(area, picture, mirror=mirror) for area in areas)


def _rect(area: Area, picture: Size, *, mirror: bool) -> Rect:
    left = 1.0 - area.left - area.width if mirror else area.left
    return Rect(
        left * picture.width_mm,
        area.top * picture.height_mm,
        area.width * picture.width_mm,
        area.height * picture.height_mm,
    )
