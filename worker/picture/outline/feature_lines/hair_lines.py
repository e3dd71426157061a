"""What is missing of hair's bounds, where lines have the rest: its outline, and where it begins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.feature_lines.beside_bounds import beside
from worker.picture.outline.feature_lines.bound_gaps import Joining, missing_parts
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points

#: Lines have a hairline where one runs as near, in sides, by this cosine. If they have so much of
#: it, as far as it is as clear as the last, what they have not within the second distance is drawn.
_NEAR, _BESIDE, _ALONG, _HAD, _SEEN = 0.025, 0.06, 0.7, 0.5, 0.3

#: Hair is soft: its gaps are long, and their ends reach further than a jaw's.
_GAPS = Joining(shortest=0.08, reaches=0.09, seen=0.65)
#: An outline is closed where the reading has some of it.
_CROWN_GAPS = Joining(shortest=0.02, reaches=0.06, seen=0.68)


def missing_crowns(faces: Sequence[FoundFace], points: Points, chains: Chains) -> list[Doubles]:
    """Parts of hair's outlines that no line has, as below."""
    return missing_parts([face.crown for face in faces], points, chains, _CROWN_GAPS)


def missing_hairlines(faces: Sequence[FoundFace], points: Points, chains: Chains) -> list[Doubles]:
    """Parts of hairlines that no line has, in pixels of the grid: (places, 2) each.

    Args:
        faces: Those whose features were found.
        points: All points.
        chains: Lines that are drawn.
    """
    found = []
    for face in faces:
        hair = face.hairline
        near = beside(hair.line, points, chains, _BESIDE * hair.side)
        near = near.taken(near.along > _ALONG)
        had = np.unique(near.place[np.abs(near.out) < _NEAR * hair.side])
        clear = hair.seen > _SEEN
        if clear[had].sum() > _HAD * clear.sum():
            seen = hair.seen.copy()
            seen[near.place] = 0
            found.append(replace(hair, seen=seen))
    return missing_parts(found, points, chains, _GAPS)
