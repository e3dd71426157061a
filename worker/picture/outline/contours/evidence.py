"""What the reading says of each point: whether a person would draw a line there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.contours.contour_lines import ContourLines
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.gaussian import Floats


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """One value for each point, from 0 to 1 if nothing else is said.

    Attributes:
        contour: How likely a person would draw a line here.
        outer, mark: Of such a line, how likely it bounds a form, or is a mark on one.
        sure: How far `contour` is to be trusted; where it is not, contrast decides.
        ridge: 1 on a ridge of the reading, 0 beside.
        face_px: Width of the face that the point is in, in pixels of the grid, or 0.
        map_px: Size of a pixel of the reading's map there, in pixels of the grid.
        plain: 1 in plain forms, 0 elsewhere.
    """

    contour: Floats
    outer: Floats
    mark: Floats
    sure: Floats
    ridge: Floats
    face_px: Floats
    map_px: Floats
    plain: Floats


def evidence_of(lines: ContourLines, placed: PlacedReading) -> Evidence:
    """The reading's word on each point; of plain forms it has none.

    Args:
        lines: All points.
        placed: The reading.
    """
    there = placed.at(lines.at_x, lines.at_y)
    plain = lines.plain.within(lines.at_x, lines.at_y)
    return Evidence(
        contour=there("contour"),
        outer=there("outer"),
        mark=there("mark"),
        sure=np.where(plain, np.float32(0), there("sure")),
        ridge=lines.ridge.astype(np.float32),
        face_px=placed.face_px(lines.at_x, lines.at_y),
        map_px=placed.map_px(lines.at_x, lines.at_y).astype(np.float32),
        plain=plain.astype(np.float32),
    )
