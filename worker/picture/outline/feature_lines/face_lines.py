"""Features of faces as a draughtsman draws them: eyes, brows and mouths, each line once.

Where both edges of a brow or a lip are nearer than two pencil lines, one is drawn.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.contours.contour_lines import APART_MM
from worker.picture.outline.contours.features.brows import Brow
from worker.picture.outline.contours.features.face_features import FaceFeatures
from worker.picture.outline.contours.features.irises import Doubles
from worker.picture.outline.contours.features.mouths import Mouth
from worker.picture.outline.feature_lines.eye_lines import FeatureLines, as_lines, eye_lines
from worker.picture.outline.points.sampled_picture import Bytes, PixelGrid
from worker.picture.outline.polylines import joined_lines
from worker.spec.strokes import INNER, PLAIN


def face_lines(features: FaceFeatures, grey: Bytes, grid: PixelGrid) -> FeatureLines:
    """All lines of features.

    Args:
        features: Those that were found.
        grey: The picture on its grid.
        grid: The grid.
    """
    apart_px = APART_MM / grid.pitch_mm
    drawn = [(_brow_line(brow, apart_px), PLAIN) for brow in features.brows]
    for mouth in features.mouths:
        outer, inner = mouth.lines()
        # The parting line is darker than the lips' edges.
        drawn += [(line, PLAIN) for line in inner]
        thick = _thick_lips(mouth, apart_px)
        drawn += [(line, INNER) for line, seen in zip(outer, thick, strict=True) if seen]
    eyes = eye_lines(features.irises, features.lids, grey, grid)
    rest = as_lines(drawn, grid)
    return FeatureLines(
        lines=joined_lines(eyes.lines, rest.lines),
        weight=np.concatenate((eyes.weight, rest.weight)),
    )


def _brow_line(brow: Brow, apart_px: float) -> Doubles:
    """Its outline, or its middle line where it is thin."""
    if _apart_px(brow.lower, brow.upper, brow.frame.side) >= apart_px:
        return brow.line()
    return brow.frame.on_grid(brow.across, (brow.upper + brow.lower) / 2)


def _thick_lips(mouth: Mouth, apart_px: float) -> list[bool]:
    """Which outer edges are not of thin lips."""
    side = mouth.frame.side
    return [
        min(_apart_px(edge, one, side) for one in mouth.inner) >= apart_px for edge in mouth.outer
    ]


def _apart_px(one: Doubles, two: Doubles, side: float) -> float:
    """How far two lines are from each other, but near their ends, in pixels of the grid."""
    ends = len(one) // 4
    return float(np.abs(one - two)[ends : len(one) - ends].mean()) * side
