"""Bounds of a face, of which a draughtsman draws one line each: a jaw, and where hair begins.

Each is sought in its own way; what is missing of either in lines is found in the same one.
"""

from __future__ import annotations

from dataclasses import dataclass

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.points.gaussian import Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Bound:
    """Of one face, in pixels of the grid.

    Attributes:
        line: (places, 2) from ear to ear, or from temple to temple.
        seen: How clear it is at each.
        side: Of the face.
    """

    line: Doubles
    seen: Floats
    side: float
