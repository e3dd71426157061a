"""Four corners of a photographed picture, and the rectangle that they are.

A sheet photographed at a slant shows as a quadrangle. Its four corners settle how every
place of the flat sheet maps into the photo (a homography), but not how wide the sheet is for
its height: that follows from perspective, once it is known how the camera sees.

Places in the photo are continuous: (0, 0) is the outer corner of the first pixel, whose
centre is (0.5, 0.5).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.errors import CornersUnusable

Array = npt.NDArray[np.float64]

FIELD = "corners"
#: Nobody draws from less, and a finger cannot place corners better.
LEAST_SIDE_PX = 32.0
#: Below this angle at a corner, or above what is left to a straight line, corners are
#: misplaced, or the picture was seen so flat that little is left of it.
LEAST_ANGLE_DEG = 10.0
#: Rectangles longer than this are no pictures; such an estimate has gone wrong.
MOST_PROPORTION = 20.0
#: Corners this far outside, in shares, are a rounding of the caller's.
_SLACK = 1e-6

#: Focal length in diagonals of the photo where perspective does not tell it: that of a lens
#: of 26 mm on 36 × 24 mm, as phones have (common practice), and how far others are off, as
#: standard deviation of its logarithm: 19 mm and 36 mm are one away.
_USUAL_FOCAL, _FOCAL_SPREAD = 26.0 / math.hypot(36.0, 24.0), math.log(1.4)
#: How far from a right angle the corners may seem to be because they were placed by hand:
#: the cosine of that angle, as standard deviation.
_ANGLE_SPREAD = 0.003
#: Focal lengths that are tried, in diagonals: from fish eye to long lens, some 0.3 % apart.
_FOCALS = np.geomspace(0.2, 10.0, 1201)


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

    It is never mirrored: the corners are gone round clockwise. It stands as it does in the
    photo: of the four turns, that one is taken whose corners lie nearest, all together, to
    the photo's corners of the same names. Where two do equally well, as with a square on its
    tip, the topmost corner is the top left one.

    Args:
        corners: Four places (x, y) in shares of the upright photo.
        photo_px: Width and height of the photo.

    Raises:
        CornersUnusable: There are not four, one is outside, three lie on a line, one lies
            between the others, or the picture is too small.
    """
    places = np.array([tuple(corner) for corner in corners], np.float64)
    if places.shape != (4, 2):
        raise _unusable("Give four corners, each with x and y.")
    if not (np.isfinite(places).all() and _inside(places)):
        raise _unusable("A corner lies outside the photo. Move all four into it.")
    round_px = _clockwise(np.clip(places, 0.0, 1.0) * photo_px)
    quad = Quad(corners_px=_upright(round_px), photo_px=photo_px)
    _check(quad)
    return quad


def homography(quad: Quad, size: tuple[float, float]) -> Array:
    """The map from a rectangle of `size` (width, height) into the photo.

    Both sets of corners are moved and scaled first, so that the eight equations are well
    conditioned (Hartley, "In defense of the eight-point algorithm", 1997). The last element
    may then be 1 without loss: it belongs to the rectangle's centre, which maps to where the
    diagonals cross, and that is never at infinity.

    Returns:
        (3, 3), with a last element of 1: (x, y, 1) on the rectangle to homogeneous pixels.
    """
    width, height = size
    flat = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    to_flat, to_photo = _normaliser(flat), _normaliser(quad.corners_px)
    equations, values = _equations(mapped(to_flat, flat), mapped(to_photo, quad.corners_px))
    solved = np.append(np.linalg.solve(equations, values), 1.0).reshape(3, 3)
    found = np.linalg.inv(to_photo) @ solved @ to_flat
    return np.asarray(found / found[2, 2])


def mapped(matrix: Array, places: Array) -> Array:
    """Places (n, 2) through a homography."""
    across = np.hstack([places, np.ones((len(places), 1))]) @ matrix.T
    return np.asarray(across[:, :2] / across[:, 2:])


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
        message = "These corners are those of a strip, seen from its end."
        raise _unusable(f"{message} Move them to the picture's corners, or give its proportion.")
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


def _unusable(sentence: str) -> CornersUnusable:
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
    """The turn whose corners lie nearest to the photo's of the same names.

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
        raise _unusable(f"{message} Move the corners apart, or photograph it from nearer.")
    to_next = np.roll(quad.corners_px, -1, axis=0) - quad.corners_px
    to_last = np.roll(quad.corners_px, 1, axis=0) - quad.corners_px
    crossed = to_next[:, 0] * to_last[:, 1] - to_next[:, 1] * to_last[:, 0]
    angles_deg = np.degrees(np.arctan2(crossed, (to_next * to_last).sum(axis=1)))
    if angles_deg.min() < LEAST_ANGLE_DEG or angles_deg.max() > 180.0 - LEAST_ANGLE_DEG:
        message = "These four corners make no picture: three lie on a line, or one between others."
        raise _unusable(f"{message} Put each on its own corner of the picture.")


def _normaliser(places: Array) -> Array:
    """What moves places so that they lie around 0, on the mean the square root of 2 away."""
    centre = places.mean(axis=0)
    scale = math.sqrt(2.0) / float(np.hypot(*(places - centre).T).mean())
    x, y = (-scale * centre).tolist()
    return np.array([[scale, 0.0, x], [0.0, scale, y], [0.0, 0.0, 1.0]])


def _equations(flat: Array, photo: Array) -> tuple[Array, Array]:
    """Two for each corner, in the eight elements of the map before its last."""
    rows = []
    for (x, y), (u, v) in zip(flat.tolist(), photo.tolist(), strict=True):
        rows.append([x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y])
        rows.append([0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y])
    return np.array(rows), photo.ravel()


def _directions(corners: Array) -> tuple[Array, Array]:
    """Where the rectangle's width and height point, seen by a camera of focal length 1.

    Equations 11 and 12 of the report, whose corners are in the order of a book's lines.
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
