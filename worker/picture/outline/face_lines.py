"""Features of faces as a draughtsman draws them: eyes, brows and mouths, each line once."""

from __future__ import annotations

import numpy as np

from worker.picture.outline.contours.features.face_features import FaceFeatures
from worker.picture.outline.contours.features.irises import Doubles
from worker.picture.outline.eye_lines import EyeLines, as_lines, eye_lines
from worker.picture.outline.points.sampled_picture import Bytes, PixelGrid
from worker.picture.outline.polylines import joined_lines
from worker.spec.strokes import INNER, PLAIN


def face_lines(features: FaceFeatures, grey: Bytes, grid: PixelGrid) -> EyeLines:
    """All lines of features.

    Args:
        features: Those that were found.
        grey: The picture on its grid.
        grid: The grid.
    """
    drawn: list[tuple[Doubles, int]] = [(brow.line(), PLAIN) for brow in features.brows]
    for mouth in features.mouths:
        outer, inner = mouth.lines()
        # The parting line is darker than the lips' edges.
        drawn += [(line, PLAIN) for line in inner] + [(line, INNER) for line in outer]
    eyes = eye_lines(features.irises, features.lids, grey, grid)
    rest = as_lines(drawn, grid)
    return EyeLines(
        lines=joined_lines(eyes.lines, rest.lines),
        weight=np.concatenate((eyes.weight, rest.weight)),
    )
