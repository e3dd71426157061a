"""Boxes around faces, heads and eyes: suggestions, and nothing about whose they are."""

from __future__ import annotations

import math
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import numpy as np
from PIL import Image

from worker.reading.detections import VIEW_PX, Detection, detected, merged
from worker.reading.planes import Floats
from worker.spec.reading import Face
from worker.spec.spec import Area

#: Left, top and side of a square in the picture's pixels.
_Look = tuple[float, float, float]

#: A look from further off is this much wider than the picture. It finds faces that fill the
#: picture, which the look at the picture alone misses; smaller ones than this share of the longer
#: side are left to the others.
_WIDE, _FILLING = 1.6, 0.35
#: A face below this share of what is looked at is seen in a dozen pixels; it must be more likely.
_SMALL, _SMALL_LIKELY = 0.08, 0.65
#: A face further from upright than this is looked at again upright, in so many of its sides: the
#: network has learnt eyes of faces that are nearly upright.
_TURNED, _AROUND = math.radians(30), 2.5
#: So many of the largest are, so that a crowd takes no longer.
_AGAIN = 4
#: Tiles of a closer look are this share of the longer side, and no further apart than this share
#: of themselves, so that a face of a quarter of a tile is whole in one.
_TILE = 0.5
_APART = 0.75
#: From the middle of the face's box, in its sides, along the face: the top of hair, the chin.
_HAIR, _CHIN = 1.05, 0.62
#: Across the face: ears and hair at either side.
_SIDE = 0.72
#: From an eye, in the face's sides: to either corner, to the brow, below the lower lid.
_CORNER, _BROW, _LID = 0.18, 0.19, 0.12
#: Boxes are rounded to this many digits: a share of a thousandth.
_DIGITS = 3


def find_faces(picture: Image.Image, *, closer: bool = False, threads: int = 2) -> tuple[Face, ...]:
    """Find the faces in a picture.

    Upright ones and those turned by up to a quarter are found from some 7 percent of the longer
    side on, with a closer look from half of that.

    Args:
        picture: Mode RGB, the whole upright reference, reduced.
        closer: Whether to look at overlapping tiles too; takes some four times as long.
        threads: How many work at once; the result is the same with any.

    Returns:
        From large to small.
    """
    looks = list(_looks(*picture.size, closer=closer))
    with ThreadPoolExecutor(threads) as pool:
        # Whole looks side by side leave less waiting than the layers of each.
        found = [one for seen in pool.map(partial(_seen, picture), looks) for one in seen]
        faces = merged(sorted(found, key=lambda one: -one.likely))
        faces.sort(key=lambda one: -one.area())
        faces[:_AGAIN] = pool.map(partial(_upright, picture), faces[:_AGAIN])
    faces.sort(key=lambda one: -one.area())
    return tuple(_face(one.values, picture.size) for one in faces)


def _seen(picture: Image.Image, look: _Look) -> list[Detection]:
    """The faces in a square that are to be believed, in the picture's pixels."""
    left, top, side = look
    view, scale = _view(picture, left, top, side)
    longer = max(picture.size)
    least = _FILLING * longer if side > longer else 0
    seen = [_placed(one, scale, left, top) for one in detected(view, threads=1)]
    return [one for one in seen if one.side() >= least and _credible(one, side)]


def _credible(one: Detection, side: float) -> bool:
    return one.side() >= _SMALL * side or one.likely >= _SMALL_LIKELY


def _looks(width: int, height: int, *, closer: bool) -> Iterator[_Look]:
    """The squares that are looked at."""
    longer = max(width, height)
    for side in (longer, longer * _WIDE):
        yield (width - side) / 2, (height - side) / 2, side
    if closer:
        side = longer * _TILE
        for top in _starts(height, side):
            for left in _starts(width, side):
                yield left, top, side


def _starts(length: float, side: float) -> list[float]:
    """Where tiles begin, evenly, the first and the last at the ends."""
    if length <= side:
        return [(length - side) / 2]
    steps = math.ceil((length - side) / (side * _APART))
    return [(length - side) * step / steps for step in range(steps + 1)]


def _view(picture: Image.Image, left: float, top: float, side: float) -> tuple[Floats, float]:
    """What is in a square, as the network takes it, and how large a pixel of it is.

    Beyond the picture it is black, as published.
    """
    scale = side / VIEW_PX
    box = (
        max(left, 0),
        max(top, 0),
        min(left + side, picture.width),
        min(top + side, picture.height),
    )
    place = [round((start - edge) / scale) for start, edge in ((box[0], left), (box[1], top))]
    size = [max(round((box[2] - box[0]) / scale), 1), max(round((box[3] - box[1]) / scale), 1)]
    view = Image.new("RGB", (VIEW_PX, VIEW_PX))
    part = picture.resize((size[0], size[1]), Image.Resampling.BILINEAR, box=box)
    view.paste(part, (place[0], place[1]))
    return _numbers(view), scale


def _placed(found: Detection, scale: float, left: float, top: float) -> Detection:
    """In the picture's pixels."""
    moved = found.values.reshape(-1, 2) * np.float32(scale) + np.array([left, top], np.float32)
    return Detection(likely=found.likely, values=moved.ravel())


def _upright(picture: Image.Image, found: Detection) -> Detection:
    """The same face, if it is turned, as it is found where it stands upright."""
    up = _up(found.values)
    angle = math.atan2(up[0], -up[1])
    if abs(angle) < _TURNED:
        return found
    scale = found.side() * _AROUND / VIEW_PX
    small = picture.resize([max(round(side / scale), 1) for side in picture.size])
    middle = (found.values[:2] + found.values[2:4]) / 2
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    start = middle / scale - turn @ np.full(2, VIEW_PX / 2)
    places = (turn[0, 0], turn[0, 1], start[0], turn[1, 0], turn[1, 1], start[1])
    view = small.transform(
        (VIEW_PX, VIEW_PX), Image.Transform.AFFINE, places, Image.Resampling.BILINEAR
    )
    seen = detected(_numbers(view), threads=1)
    if not seen:
        return found
    again = min(seen, key=lambda one: _off_middle(one.values))
    points = (again.values.reshape(-1, 2) @ turn.T + start) * scale
    # Box corners turn with the face; the box itself stays upright, around the same middle.
    middle, half = points[:2].mean(0), again.side() * scale / 2
    values = np.concatenate([middle - half, middle + half, points[2:].ravel()])
    return Detection(likely=found.likely, values=values.astype(np.float32))


def _off_middle(values: Floats) -> float:
    return float(np.hypot(*((values[:2] + values[2:4]) / 2 - VIEW_PX / 2)))


def _up(values: Floats) -> Floats:
    """From the mouth to between the eyes, of length 1."""
    points = values.reshape(-1, 2).astype(float)
    up = (points[2] + points[3]) / 2 - points[5]
    return np.asarray(up / max(float(np.hypot(*up)), 1e-6), np.float32)


def _numbers(view: Image.Image) -> Floats:
    return np.asarray(view, np.float32) / np.float32(127.5) - 1


def _face(values: Floats, size: tuple[int, int]) -> Face:
    """Boxes from a face's box and points; the points end here."""
    start, stop, *points = values.reshape(-1, 2).astype(float)
    side = float(np.mean(stop - start))
    eyes, up = points[:2], _up(values)
    middle = (start + stop) / 2
    along = (_HAIR + _CHIN) / 2 * side
    head = middle + up * (_HAIR - _CHIN) / 2 * side
    height = (_BROW + _LID) / 2 * side
    return Face(
        box=_area(middle - (stop - start) / 2, middle + (stop - start) / 2, size),
        head=_oval(head, up, (_SIDE * side, along), size),
        eyes=tuple(
            _oval(eye + up * (_BROW - _LID) / 2 * side, up, (_CORNER * side, height), size)
            for eye in eyes
        ),
    )


def _oval(
    middle: np.ndarray, up: np.ndarray, half: tuple[float, float], size: tuple[int, int]
) -> Area:
    """The box around an oval that stands in a face's direction; half its width and height."""
    across = np.array([-up[1], up[0]])
    reach = np.hypot(across * half[0], up * half[1])
    return _area(middle - reach, middle + reach, size)


def _area(start: np.ndarray, stop: np.ndarray, size: tuple[int, int]) -> Area:
    """Cut at the picture's edges, and rounded: what is stored is a place, no measurement.

    What lies beyond an edge is a sliver along it, so that every face has both of its eyes.
    """
    least = 10**-_DIGITS
    low = np.clip(start / size, 0, 1 - least).round(_DIGITS)
    high = np.clip(stop / size, low + least, 1).round(_DIGITS)
    left, top = low.tolist()
    width, height = (high - low).round(_DIGITS).tolist()
    return Area(left=left, top=top, width=width, height=height)
