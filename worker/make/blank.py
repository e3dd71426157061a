"""Which pieces have nothing to trace: no line, and no tone but one.

It is found from what is printed, when a pack is made: whether a line is drawn is not known
before. Lines are asked for exactly; tones are looked at in the reduced picture of the map,
where noise is averaged and a line of half a millimetre still shows.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from PIL import Image

from worker.make.style import StyledPicture
from worker.spec.plan import Piece, Rect, Size

#: Grey levels of 256 that differ by less are one tone: nobody traces an edge between tones that
#: are two percent apart (common practice), and noise is less once a picture is reduced.
_ONE_TONE = 6
#: What the sums of sides may be off, in pixels.
_HAIR = 1e-6


def blank_labels(
    picture: StyledPicture, reduced: Image.Image | None, pieces: Iterable[Piece]
) -> frozenset[str]:
    """The labels of those pieces that have nothing to trace.

    Args:
        picture: What is printed.
        reduced: The whole picture, reduced, in its printed tones; None where only lines are
            drawn.
        pieces: Pieces of its plan.
    """
    return frozenset(
        piece.label
        for piece in pieces
        if not (picture.lines and picture.lines.reaches(piece.picture_rect_mm))
        and (reduced is None or _one_tone(reduced, piece.picture_rect_mm, picture.plan.picture))
    )


def _one_tone(reduced: Image.Image, part_mm: Rect, picture: Size) -> bool:
    """Whether a part of the picture has one tone, as far as its own pixels tell."""
    across, down = reduced.width / picture.width_mm, reduced.height / picture.height_mm
    left, top = math.ceil(part_mm.left * across - _HAIR), math.ceil(part_mm.top * down - _HAIR)
    right, bottom = int(part_mm.right * across + _HAIR), int(part_mm.bottom * down + _HAIR)
    part = reduced.crop((left, top, max(right, left + 1), max(bottom, top + 1)))
    values = np.asarray(part).reshape(-1, len(part.getbands()))
    return bool((np.ptp(values, axis=0) < _ONE_TONE).all())
