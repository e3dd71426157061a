"""The reading: what is to be seen in a reference, on a coarse grid over all of it.

Made once, at intake. It tells contours, which a person would draw, from texture and shadows;
outlines, seams and tones draw on it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from worker.spec.spec import Area

Bytes = npt.NDArray[np.uint8]
#: What there is a map of.
MAPS = ("contour", "outer", "mark", "shadow", "sure")
#: A map of a picture in which nothing is seen.
_UNREAD = np.zeros((1, 1), np.uint8)
#: As likely as not: it is not known what the picture is of.
_UNTOLD = np.full((1, 1), 128, np.uint8)
#: All of a reference.
WHOLE = Area(left=0.0, top=0.0, width=1.0, height=1.0)


@dataclass(frozen=True, kw_only=True)
class Face:
    """Where a face is, in shares of the upright reference, and nothing about whose it is.

    Attributes:
        box: From the forehead to the chin.
        head: The whole head with its hair, cut at the reference's edges.
        eyes: One box for each eye, with its lids and brow.
    """

    box: Area
    head: Area
    eyes: tuple[Area, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Maps:
    """What is seen in a part of a reference, each map (rows, columns) of 0 to 255.

    Attributes:
        area: The part, in shares of the upright reference.
        contour: How likely a line passes here that a person would draw, whatever its contrast.
        outer: Of such a line: how likely it bounds a form against what lies behind it.
        mark: Of such a line: how likely it is a fold or mark on a form, which is drawn lightly.
        shadow: How likely the edge of a shadow or of a light spot passes here.
        sure: How sure the reading is of `contour` here.
    """

    area: Area = WHOLE
    contour: Bytes
    outer: Bytes
    mark: Bytes
    shadow: Bytes
    sure: Bytes


@dataclass(frozen=True, kw_only=True, eq=False)
class Reading(Maps):
    """What is seen in the whole reference, and more closely where there are small heads.

    Attributes:
        subject: How likely a place is of what the picture is of, as a figure before a ground; on a
            coarser grid.
        faces: From large to small.
        insets: Heads, read at a finer scale; where one lies, it is right and the whole is not.
    """

    subject: Bytes = field(default_factory=lambda: _UNTOLD)
    faces: tuple[Face, ...] = ()
    insets: tuple[Maps, ...] = ()


#: Of a picture in which nothing is seen, and nothing for sure.
NOTHING_READ = Reading(contour=_UNREAD, outer=_UNREAD, mark=_UNREAD, shadow=_UNREAD, sure=_UNREAD)
