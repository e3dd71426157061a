"""Four corners placed on a photographed picture: their order, and whether they are usable.

A sheet photographed at a slant is a quadrangle in the photo. Its corners determine how every
place of the flat sheet maps into the photo (`homography`), but not the sheet's proportion:
that is estimated from perspective (`proportion`).

Corners may come in any order. Of the four turns, that one is taken whose corners are nearest,
all together, to the photo's own: going by the top left corner alone would turn wide-angle views
on their side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from worker.errors import CornersUnusable
from worker.reference.square_up.homography import Array, homography

FIELD = "corners"
#: Nobody draws from less, and a finger cannot place corners better.
LEAST_SIDE_PX = 32.0
#: Below this angle at a corner, or above what is left to a straight line, corners are
#: misplaced, or the picture was seen so flat that little is left of it.
LEAST_ANGLE_DEG = 10.0
#: So many times as far away as its nearest corner the farthest may be: beyond that, little is
#: left of the far side, and what is asked for is hardly a picture.
MOST_DEPTH = 8.0
#: Corners this far outside, in shares, are a rounding of the caller's.
_SLACK = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class Quad:
    """The four corners of a picture in a photo.

    Attributes:
        corners_px: (4, 2): top left, top right, bottom right, bottom left, clockwise as one
            looks at the photo, in pixels.
        photo_px: Width and height of the photo.
    """

    corners_px: Array
    photo_px: tuple[int, int]

    @property
    def sides_px(self) -> tuple[float, float, float, float]:
        """Lengths of the top, right, bottom and left side."""
        steps = np.roll(self.corners_px, -1, axis=0) - self.corners_px
        top, right, bottom, left = np.hypot(steps[:, 0], steps[:, 1]).tolist()
        return top, right, bottom, left


def quad_of(corners: Sequence[Sequence[float]], photo_px: tuple[int, int]) -> Quad:
    """The picture that has these corners, in whichever order they come.

    The picture is never mirrored: its corners are taken clockwise. Of the four turns, that one
    is taken whose corners are nearest, all together, to the photo's corners of the same names.
    Where two turns are equally near, as with a square on its tip, the topmost corner is the top
    left one.

    Args:
        corners: Four places (x, y) in shares of the upright photo.
        photo_px: Width and height of the photo.

    Raises:
        CornersUnusable: There are not four, one is outside, three lie on a line, one lies
            between the others, or the picture is too small or seen too flat.
    """
    if [len(corner) for corner in corners] != [2, 2, 2, 2]:
        raise unusable("Give four corners, each with x and y.")
    places = np.array([tuple(corner) for corner in corners], np.float64)
    if not (np.isfinite(places).all() and _inside(places)):
        raise unusable("A corner lies outside the photo. Move all four into it.")
    round_px = _clockwise(np.clip(places, 0.0, 1.0) * photo_px)
    quad = Quad(corners_px=_upright(round_px), photo_px=photo_px)
    _check(quad)
    return quad


def unusable(sentence: str) -> CornersUnusable:
    """The error of corners that will not do; the sentence says what to do."""
    return CornersUnusable(sentence, field=FIELD)


def _inside(places: Array) -> bool:
    return bool((places >= -_SLACK).all() and (places <= 1.0 + _SLACK).all())


def _clockwise(places_px: Array) -> Array:
    """In their order around their centre; y runs down, so that growing angles go clockwise."""
    from_centre = places_px - places_px.mean(axis=0)
    # Their order as given must not decide between angles that are equal.
    angles = np.arctan2(from_centre[:, 1], from_centre[:, 0])
    return places_px[np.lexsort((places_px[:, 0], places_px[:, 1], angles))]


def _upright(round_px: Array) -> Array:
    """The turn whose corners are nearest to the photo's of the same names.

    The sum of squared distances is least where that of these products is largest.
    """
    named = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    topmost = int(np.lexsort((round_px[:, 0], round_px[:, 1]))[0])
    turns = [np.roll(round_px, -(topmost + turn), axis=0) for turn in range(4)]
    return max(turns, key=lambda turn: float((turn * named).sum()))


def _check(quad: Quad) -> None:
    """See that the corners make a picture that something can be drawn from.

    Raises:
        CornersUnusable: They do not.
    """
    if min(quad.sides_px) < LEAST_SIDE_PX:
        message = f"A side of the picture has fewer than {LEAST_SIDE_PX:g} pixels."
        raise unusable(f"{message} Move the corners apart, or photograph it from nearer.")
    to_next = np.roll(quad.corners_px, -1, axis=0) - quad.corners_px
    to_last = np.roll(quad.corners_px, 1, axis=0) - quad.corners_px
    crossed = to_next[:, 0] * to_last[:, 1] - to_next[:, 1] * to_last[:, 0]
    angles_deg = np.degrees(np.arctan2(crossed, (to_next * to_last).sum(axis=1)))
    if angles_deg.min() < LEAST_ANGLE_DEG or angles_deg.max() > 180.0 - LEAST_ANGLE_DEG:
        message = "These four corners make no picture: three lie on a line, or one between others."
        raise unusable(f"{message} Put each on its own corner of the picture.")
    # On a square, the map's last coordinate is how far each corner is for the first.
    across, down = homography(quad.corners_px, (1.0, 1.0))[2, :2].tolist()
    depths = (1.0, 1.0 + across, 1.0 + across + down, 1.0 + down)
    if max(depths) > MOST_DEPTH * min(depths):
        message = "Seen like this, the picture is so flat that little is left of its far side."
        raise unusable(f"{message} Check the corners, or photograph it from more above.")
