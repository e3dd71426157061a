"""What stands in a built picture runs to one point: columns, wall ends and poles are upright.

Edges that stand straight up in a scene meet in one vanishing point (Caprile and Torre 1990), which
is far away, so that their lean changes evenly over the picture. Where most plain edges agree, that
of a place is known far better than the reading knows the sides of a column, whose map bows towards
what the column carries. A draughtsman rules all of them alike (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.polylines import Floats
from worker.picture.outline.ruling.segments import Segments

#: Edges that stand are so long in a picture of 60 x 40 cm, and lean by no more than this sine.
_EDGE_MM, _LEANS = 8.0, 0.3
#: There are so many mm of them at least, in such a picture, of which such a part agrees within this
#: slope; fitted so often, those that are off count less each time by this slope.
_LEAST_MM, _MOSTLY, _AGREES, _ROUNDS, _DOUBT = 800.0, 0.6, 0.03, 6, 0.02
#: Leans change per so many mm.
_UNIT_MM = 100.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Uprights:
    """How what stands leans.

    Attributes:
        lean: Its slope, across by down, at the picture's corner, and how that changes in
            `_UNIT_MM` across and down; (3,).
    """

    lean: Floats

    def ways(self, places: Floats) -> Floats:
        """Unit vectors downwards at places in mm; (places, 2)."""
        slope = _terms(places) @ self.lean
        return np.stack((slope, np.ones(len(slope))), axis=1) / np.hypot(slope, 1)[:, None]


def uprights_of(segments: Segments, scale: float) -> Uprights | None:
    """How most of what stands leans, if most of it agrees.

    Args:
        segments: Straight edges of the picture.
        scale: How large it is beside one of 60 x 40 cm.
    """
    way, long = segments.ways, segments.lengths_mm
    stands = (np.abs(way[:, 0]) < _LEANS) & (long > _EDGE_MM * scale)
    way, long = way[stands], long[stands]
    if long.sum() < _LEAST_MM * scale:
        return None
    terms = _terms((segments.start[stands] + segments.stop[stands]) / 2)
    slope, weight, lean = way[:, 0] / way[:, 1], long, np.zeros(terms.shape[1])
    for _ in range(_ROUNDS):
        share = np.sqrt(weight)
        lean = np.asarray(np.linalg.lstsq(terms * share[:, None], slope * share, rcond=None)[0])
        off = np.abs(slope - terms @ lean)
        # What is far off counts less (Cauchy's weights).
        weight = long / (1 + (off / _DOUBT) ** 2)
    agrees = long[off < _AGREES].sum() > _MOSTLY * long.sum()
    return Uprights(lean=lean) if agrees else None


def _terms(places: Floats) -> Floats:
    return np.concatenate((np.ones((len(places), 1)), places / _UNIT_MM), axis=1)
