"""The proportion of a rectangle (width ÷ height) and its size in pixels, from one view.

The published solution (Zhang and He) computes the focal length from the right angle between the
sides, and has none where a sheet is seen from the front, which is how most are photographed. So
every focal length is weighed by its likelihood: how far from a right angle it leaves the sides,
and how usual such a lens is. The first decides for views from a corner, the second for views
from the front, with no threshold between them.
"""

from __future__ import annotations

import math

import numpy as np

from worker.errors import CornersUnusable
from worker.reference.square_up.corners import Quad, unusable
from worker.reference.square_up.homography import Array

#: Rectangles longer than this are no pictures; such an estimate has gone wrong.
MOST_PROPORTION = 20.0
#: A given proportion so many times off what the corners show is no picture's either; the
#: estimate itself is never so far off, and pixels would be made up by the million.
_MOST_OFF = 4.0
#: Focal length in diagonals of the photo where perspective does not tell it: that of a lens
#: of 26 mm on 36 × 24 mm, as phones have (common practice), and how far others are off, as
#: standard deviation of its logarithm: 19 mm and 36 mm are one away.
_USUAL_FOCAL, _FOCAL_SPREAD = 26.0 / math.hypot(36.0, 24.0), math.log(1.4)
#: How far from a right angle the corners may seem to be because they were placed by hand:
#: the cosine of that angle, as standard deviation.
_ANGLE_SPREAD = 0.003
#: Focal lengths that are tried, in diagonals: from fish eye to long lens, some 0.3 % apart.
_FOCALS = np.geomspace(0.2, 10.0, 1201)


def settled_proportion(quad: Quad, given: float | None) -> float:
    """Width ÷ height as it was given, or estimated from one view.

    Raises:
        CornersUnusable: It cannot be that of a picture.
    """
    if given is None:
        return true_proportion(quad)
    if not 1.0 / MOST_PROPORTION <= given <= MOST_PROPORTION:
        message = f"Give width ÷ height, from {1 / MOST_PROPORTION:g} to {MOST_PROPORTION:g}."
        raise CornersUnusable(message, field="proportion")
    shown = _shown_proportion(quad)
    if not 1.0 / _MOST_OFF <= given / shown <= _MOST_OFF:
        message = (
            f"The corners show a picture whose width ÷ height is about {shown:.2g}, and "
            f"{given:.2g} was given. Is it height ÷ width? Mend it, or leave it out."
        )
        raise CornersUnusable(message, field="proportion")
    return given


def _shown_proportion(quad: Quad) -> float:
    """A rough proportion for any corners: that of the mean sides where the estimate fails."""
    try:
        return true_proportion(quad)
    except CornersUnusable:
        top, right, bottom, left = quad.sides_px
        return float((top + bottom) / (left + right))


def true_proportion(quad: Quad) -> float:
    """Width ÷ height of the rectangle, estimated from this one view.

    After Zhang and He, "Whiteboard scanning and image enhancement" (Digital Signal
    Processing 17, 2007; MSR-TR-2003-39), for a camera with square pixels whose optical axis
    meets the photo's centre. In their terms n2 and n3 are the directions of the sides: they
    are at right angles in space for one focal length only, and that gives the proportion.

    Where one pair of sides stays nearly parallel, as when a sheet on a table is seen from
    the front, every focal length makes them so and none is found. So instead of solving for
    it, the likeliest is taken: how far from a right angle each one leaves the sides, against
    what corners placed by hand let expect, and how usual it is.

    What to expect: views from a corner are good to about 1 %, given exact corners. Straight
    ahead, the focal length does not matter, and the proportion is that of the mean sides.
    Seen from the front at a slant, it rests on a phone's usual lens: a lens with a focal
    length one tenth longer or shorter puts it off by 2.5 % at 30° and by 5 % at 45°. A photo
    that was cropped on one side has lost its centre and is worse. Who knows the proportion
    should say it.

    Raises:
        CornersUnusable: What comes out is no picture's.
    """
    diagonal_px = math.hypot(*quad.photo_px)
    centred = (quad.corners_px - np.array(quad.photo_px) / 2.0) / diagonal_px
    across, down = _directions(np.hstack([centred, np.ones((4, 1))]))
    focal = _likeliest_focal(across, down)
    proportion = _length(across, focal) / _length(down, focal)
    if not 1.0 / MOST_PROPORTION <= proportion <= MOST_PROPORTION:
        message = f"With these corners the picture is {MOST_PROPORTION:g} times as long as wide."
        raise unusable(f"{message} Move them to its own corners, or give its proportion.")
    return float(proportion)


def squared_size_px(quad: Quad, proportion: float, max_pixels: int) -> tuple[int, int]:
    """Width and height in pixels of the rectangle.

    No side gets fewer pixels than the longer of the two that it stands for has in the photo,
    unless the whole would have more than `max_pixels`; the proportion is kept to half a
    pixel.
    """
    top, right, bottom, left = quad.sides_px
    height = max(right, left, max(top, bottom) / proportion)
    height = min(height, math.sqrt(max_pixels / proportion))
    size = (max(round(height * proportion), 1), max(round(height), 1))
    # Rounding up both sides may lead a few pixels beyond the budget.
    return size if size[0] * size[1] <= max_pixels else (int(height * proportion), int(height))


def _directions(corners: Array) -> tuple[Array, Array]:
    """Where the rectangle's width and height point, seen by a camera of focal length 1.

    The report's n2 and n3; there, corners are in the order in which one reads.
    """
    first, second, fourth, third = corners
    to_right = np.dot(np.cross(first, fourth), third) / np.dot(np.cross(second, fourth), third)
    to_bottom = np.dot(np.cross(first, fourth), second) / np.dot(np.cross(third, fourth), second)
    return to_right * second - first, to_bottom * third - first


def _length(direction: Array, focal: float | Array) -> Array:
    """How long a direction is in space, for a focal length in diagonals."""
    return np.asarray(np.hypot(np.hypot(direction[0], direction[1]) / focal, direction[2]))


def _likeliest_focal(across: Array, down: Array) -> float:
    """The focal length, in diagonals, that makes the best of right angles and usual lenses."""
    product = (across[0] * down[0] + across[1] * down[1]) / _FOCALS**2 + across[2] * down[2]
    cosines = product / (_length(across, _FOCALS) * _length(down, _FOCALS))
    unusual = np.log(_FOCALS / _USUAL_FOCAL) / _FOCAL_SPREAD
    return float(_FOCALS[np.argmin((cosines / _ANGLE_SPREAD) ** 2 + unusual**2)])
