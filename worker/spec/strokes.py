"""Strokes: lines to trace, as `worker.picture.outline` finds them and sheets draw them.

Smooth curves in millimetres of the picture as printed, so that a sheet draws those that
cross it by their absolute place, and they meet those of its neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

#: How heavy a stroke is drawn.
INNER, PLAIN, FORM = 0, 1, 2
#: Drawn in dashes, as thin as `INNER`: the edge of a shadow, which is none of a form.
DASHED = 3
#: A dash and the gap after it, from the start of each stroke: the same on every sheet.
DASH_MM, DASH_GAP_MM = 2.0, 1.5
#: Widths of drawing pens in mm (ISO 9175-1), up to what a felt pen draws.
PEN_WIDTHS_MM = (0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0)
#: So many steps lie between weights, which makes each twice as wide as the one before (ISO 128-2:
#: narrow, wide and extra wide lines are as 1 to 2 to 4; from memory).
_APART = 2


def line_widths_mm(line_mm: float) -> tuple[float, float, float, float]:
    """Widths of `INNER`, `PLAIN`, `FORM` and `DASHED` strokes, as far as steps go.

    Args:
        line_mm: One of the steps, as the spec's.
    """
    step, last = PEN_WIDTHS_MM.index(line_mm), len(PEN_WIDTHS_MM) - 1
    thin, thick = PEN_WIDTHS_MM[max(step - _APART, 0)], PEN_WIDTHS_MM[min(step + _APART, last)]
    return thin, line_mm, thick, thin


@dataclass(frozen=True, kw_only=True)
class Strokes:
    """Strokes, each of one or more cubic Bézier curves that continue one another.

    Attributes:
        curves_mm: (curves, 4, 2) float32: start, two handles, end, as (x, y) in mm from the
            picture's top left, mirrored where the print is. Within a stroke each curve
            starts where the one before it ends.
        first: (strokes + 1,) int32: stroke i has the curves from `first[i]` up to
            `first[i + 1]`.
        weight: (strokes,) uint8: `INNER`, `PLAIN`, `FORM` or `DASHED`.
        length_mm: (strokes,) float32.
    """

    curves_mm: npt.NDArray[np.float32]
    first: npt.NDArray[np.int32]
    weight: npt.NDArray[np.uint8]
    length_mm: npt.NDArray[np.float32]

    def __len__(self) -> int:
        """How many strokes there are."""
        return len(self.weight)
