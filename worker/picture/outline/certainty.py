"""How near to their lines places are known: by noise, texture and blur, or by the reading's map.

The error of an edge's place is about the width of the smoothing, times noise beside contrast
(Canny 1986). Texture around it counts as noise does: hair, bark and grain move an edge as they
are. An edge that is itself blurred over so many widths bends as many times less over its top, and
slopes less as well, so the error grows with the square of that.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.detected_points import DetectedPoints
from worker.picture.outline.judging import finer
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import CONTOUR

#: Places lie within so many widths of the smoothing where texture is as strong as the edge, those
#: that only the reading knows within so many pixels of its map.
_WIDTHS, _MAP_PX = 2.2, 2.2
#: An edge's own slopes are so much of the texture around it.
_OWN_TEXTURE = 0.08
#: Blur over more widths is not told apart from the form behind it.
_MOST_BLUR = 3.0
#: No place is known better than to this part of the width, nor counts as known worse than to these
#: millimetres or the width: what is larger is seen, and less so in a small face.
_BEST, _WORST_MM = 0.1, 1.6


def known_mm(detected: DetectedPoints, chains: Chains) -> npt.NDArray[np.float64]:
    """How near to its line each place of lines is known to be, in mm.

    Args:
        detected: All points.
        chains: Their lines.
    """
    points, measures, evidence = detected.points, detected.measures, detected.evidence
    sigma_mm, pitch_mm = detected.grid.sigma_mm, detected.grid.pitch_mm
    contrast = np.maximum(points.total, np.float32(1))
    blur = np.clip(measures.form / contrast, 1, _MOST_BLUR)
    texture = np.maximum(measures.texture / contrast - np.float32(_OWN_TEXTURE), 0)
    near = _WIDTHS * sigma_mm * texture * blur**2
    near = np.where(points.kind == CONTOUR, _MAP_PX * pitch_mm * evidence.map_px, near)
    worst = max(_WORST_MM, sigma_mm) * finer(evidence.face_px * np.float32(pitch_mm))
    near = np.where(evidence.plain > 0, 0, np.minimum(near, worst))
    return np.asarray(np.maximum(near, _BEST * sigma_mm)[chains.order], np.float64)
